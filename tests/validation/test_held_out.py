"""Cross-validated losses and calibration on simulated counts whose true probabilities are known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from sklearn.metrics import brier_score_loss, log_loss
from statsmodels.discrete.discrete_model import Logit

from pipeline.models.strikes.strike_worth import fit_worth
from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.validation.held_out import Refits, boosted, calibration_bins, compare, rate_only, refitted, score
from tests.decisions.made_season import MadeBall, MadeSeason, make


def _cells(rng: np.random.Generator, blocks: int = 40, jump: float = 0.0) -> pd.DataFrame:
    """Counts whose strike odds depend on the ball and, by ``jump``, on whether bowler and line fit each other."""
    rows = pd.DataFrame(
        [
            (f"b{block:02}", bowler, f"{bowler}-{ball}", line, game)
            for block in range(blocks)
            for bowler in ("ann", "ben")
            for ball in (1, 2)
            for line in ("second arrow", "third arrow")
            for game in (1, 2, 3)
        ],
        columns=["block", "bowler", "ball", "line", "game"],
    )
    fits = (rows["bowler"] == "ann") == (rows["line"] == "third arrow")
    logit = -0.2 + 0.6 * rows["ball"].str.endswith("1") - 0.2 * (rows["game"] - 2) + jump * (fits - 0.5)
    rows["p"] = 1 / (1 + np.exp(-logit))
    rows["shots"] = rng.integers(1, 6, len(rows))
    rows["strikes"] = rng.binomial(rows["shots"], rows["p"])
    return rows.assign(
        ball_class="symmetric solid", pattern_class="medium", length_ft=40.0, volume_ml=24.0, ratio=np.nan, pair_load=20
    )


def _true(_train: pd.DataFrame, test: pd.DataFrame) -> np.ndarray:
    return test["p"].to_numpy()


def test_losses_agree_with_scikit_learn() -> None:
    cells = _cells(np.random.default_rng(1))
    p = np.random.default_rng(2).uniform(0.1, 0.9, len(cells))
    scored = score(cells, p)
    outcome = np.repeat([1, 0], [len(cells)] * 2)
    weight = np.concatenate([cells["strikes"], cells["shots"] - cells["strikes"]])
    both = np.concatenate([p, p])
    assert scored.log_loss == pytest.approx(log_loss(outcome, both, sample_weight=weight))
    assert scored.brier == pytest.approx(brier_score_loss(outcome, both, sample_weight=weight))


def test_true_probabilities_are_calibrated_and_stretched_ones_are_not() -> None:
    cells = _cells(np.random.default_rng(3), blocks=200, jump=1.0)
    right = score(cells, cells["p"].to_numpy())
    assert abs(right.slope - 1) < 3 * right.slope_se
    assert right.slope_se < 0.1
    logit = np.log(cells["p"] / (1 - cells["p"]))
    stretched = score(cells, (1 / (1 + np.exp(-2 * logit))).to_numpy())
    assert stretched.slope == pytest.approx(right.slope / 2, rel=1e-6)
    assert stretched.log_loss > right.log_loss


def test_bins_hold_every_shot_once() -> None:
    cells = _cells(np.random.default_rng(4))
    p, strikes, shots = (cells[name].to_numpy(dtype=float) for name in ("p", "strikes", "shots"))
    bins = calibration_bins(p, strikes, shots, 8)
    assert bins["shots"].sum() == shots.sum()
    assert (bins["observed"] * bins["shots"]).sum() == pytest.approx(strikes.sum())
    assert bins["predicted"].is_monotonic_increasing
    assert bins["shots"].max() < 1.5 * bins["shots"].min()


def test_one_rate_for_everyone_has_no_slope() -> None:
    cells = _cells(np.random.default_rng(4))
    scored = score(cells, np.full(len(cells), 0.45))
    assert np.isnan(scored.slope)
    rate = cells["strikes"].sum() / cells["shots"].sum()
    assert scored.intercept == pytest.approx(np.log(rate / (1 - rate)) - np.log(0.45 / 0.55))


def test_challenger_finds_what_the_model_misses() -> None:
    cells = _cells(np.random.default_rng(5), jump=2.0)
    comparison = compare(cells, model=rate_only)
    assert comparison is not None
    assert comparison.gain < -3 * comparison.gain_se
    assert comparison.scores["challenger"].log_loss < comparison.scores["rate"].log_loss


def test_nothing_beats_the_truth() -> None:
    cells = _cells(np.random.default_rng(6), jump=1.0)
    comparison = compare(cells, model=_true)
    assert comparison is not None
    assert comparison.gain > 0
    assert comparison.blocks == 40 and comparison.shots == cells["shots"].sum()


def test_blocks_are_never_split_between_training_and_test() -> None:
    seen: list[set[str]] = []

    def spy(train: pd.DataFrame, test: pd.DataFrame) -> np.ndarray:
        assert not set(train["block"]) & set(test["block"])
        seen.append(set(test["block"]))
        return rate_only(train, test)

    compare(_cells(np.random.default_rng(7), blocks=6), model=spy, challenger=rate_only)
    assert len(seen) == 4
    assert sorted(block for part in seen for block in part) == [f"b{block:02}" for block in range(6)]


def test_nothing_to_hold_out() -> None:
    cells = _cells(np.random.default_rng(7), blocks=1)
    assert compare(cells, model=rate_only) is None
    assert compare(_cells(np.random.default_rng(7), blocks=3).assign(strikes=0), model=rate_only) is None


def test_training_on_one_outcome_only() -> None:
    cells = _cells(np.random.default_rng(7), blocks=2)
    train = cells[cells["block"] == "b00"].assign(strikes=0)
    assert (boosted(train, cells) == 0).all()


def test_the_worth_model_refitted_predicts_new_blocks() -> None:
    made = MadeSeason([MadeBall("a-1", effect=1.0), MadeBall("a-2", cover="urethane", effect=-1.0)], blocks=20)
    season = make(made)
    refits = Refits(fit_worth(season))
    comparison = compare(worth_cells(season), refitted(refits))
    assert comparison is not None
    # two balls two logits apart: far better than one rate, and calibrated on blocks not seen
    assert comparison.scores["model"].log_loss < comparison.scores["rate"].log_loss - 0.05
    assert abs(comparison.scores["model"].slope - 1) < 3 * comparison.scores["model"].slope_se
    cells = worth_cells(season)
    some = cells[cells["block"] != cells["block"].iloc[0]]
    alike, other = refits.to(some.assign(phase="fresh")), refits.to(some[some["ball"] == "a-1"])
    assert refits.to(some.copy()) is alike  # whatever columns are beside those that the model learns from
    assert refits.to(some) is not other and refits.to(some.assign(strikes=0)) is not alike


@pytest.mark.parametrize("order", [1, -1])
def test_predictions_that_separate_strikes_have_no_calibration_slope(order: int) -> None:
    """A logistic likelihood then has no maximum (Albert & Anderson, Biometrika 71, 1984, from memory)."""
    cells = pd.DataFrame({"block": list("aabbccdd"), "shots": 5, "strikes": [5, 0] * 4})
    p = np.where(cells["strikes"] > 0, 0.5 + 0.1 * order, 0.5 - 0.1 * order)
    scored = score(cells, p)
    assert np.isnan(scored.slope) and np.isnan(scored.slope_se)
    assert np.isfinite(scored.log_loss)


def test_the_calibration_line_is_that_of_single_shots_with_errors_by_block() -> None:
    """Against statsmodels' Logit on one row per shot, clustered by block, with its correction G / (G - 1)."""
    rng = np.random.default_rng(3)
    blocks = np.repeat(np.arange(12), 6)
    logit = rng.normal(0.2, 0.8, 72)
    shots = rng.integers(2, 9, 72)
    luck = rng.normal(0, 0.7, 12)[blocks]
    strikes = rng.binomial(shots, 1 / (1 + np.exp(-(0.8 * logit + luck))))
    cells = pd.DataFrame({"block": blocks.astype(str), "shots": shots, "strikes": strikes})
    scored = score(cells, 1 / (1 + np.exp(-logit)))
    rows = np.repeat(np.arange(72), shots)
    hit = np.concatenate([np.arange(n) < k for n, k in zip(shots, strikes, strict=True)]).astype(float)
    single = Logit(hit, np.column_stack([np.ones(len(rows)), logit[rows]])).fit(
        disp=False, cov_type="cluster", cov_kwds={"groups": blocks[rows], "use_correction": False}
    )
    assert (scored.intercept, scored.slope) == pytest.approx(tuple(single.params))
    assert scored.slope_se == pytest.approx(single.bse[1] * np.sqrt(12 / 11))
    independent = Logit(hit, np.column_stack([np.ones(len(rows)), logit[rows]])).fit(disp=False).bse[1]
    assert abs(scored.slope_se - independent) > 0.01
