"""The doubly robust contrast on simulated seasons whose answer is known."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.checks.contrasts import ROLES
from pipeline.inference.doubly_robust import Contrast, aipw, clustered, contrast, covariates


def _expit(x: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-x))


def _season(rng: np.random.Generator, effect: float, blocks: int = 40) -> tuple[pd.DataFrame, np.ndarray]:
    """One bowler who goes to ball B as the lanes get worse: one shot a row.

    Carry falls with the game for either ball; ball A is ``effect`` logits better than B on any given shot.
    """
    rows = pd.DataFrame(
        [(f"b{b:02}", game, shot) for b in range(blocks) for game in range(1, 7) for shot in range(10)],
        columns=["block", "game", "shot"],
    )
    worse = 0.35 * (rows["game"] - 1)
    night = rng.normal(0, 0.2, blocks)[rows["block"].str[1:].astype(int)]
    on_a = rng.random(len(rows)) < _expit(1.5 - 2 * worse.to_numpy())
    p = _expit(0.4 - worse.to_numpy() + night + effect * on_a)
    rows["strikes"] = (rng.random(len(rows)) < p).astype(int)
    rows["shots"] = 1
    rows["pair_load"] = (rows["game"] - 1) * 20
    return rows.drop(columns="shot"), on_a


def _counts(rows: pd.DataFrame, on_a: np.ndarray) -> tuple[pd.DataFrame, np.ndarray]:
    """The same season as counts."""
    keys = ["block", "game", "pair_load", "on_a"]
    cells = rows.assign(on_a=on_a).groupby(keys)[["shots", "strikes"]].sum().reset_index()
    return cells, cells["on_a"].to_numpy()


def _true_difference(effect: float) -> float:
    """Mean difference in strike probability over all shots, by averaging over many nights."""
    night = np.random.default_rng(0).normal(0, 0.2, 4000)[:, None]
    logit = 0.4 - 0.35 * np.arange(6)[None, :] + night
    return float((_expit(logit + effect) - _expit(logit)).mean())


@cache
def _results(effect: float, seasons: int) -> list[Contrast]:
    rng = np.random.default_rng(7)
    answers = [contrast(*_counts(*_season(rng, effect)), ROLES) for _ in range(seasons)]
    return [result for result in answers if result is not None]


@pytest.mark.parametrize(("effect", "seasons"), [(0.0, 20), (0.4, 50)])
def test_raw_comparison_is_biased_and_the_doubly_robust_one_is_not(effect: float, seasons: int) -> None:
    truth = _true_difference(effect)
    results = _results(effect, seasons)
    assert len(results) == seasons
    raw = np.array([result.raw for result in results])
    adjusted = np.array([result.difference for result in results])
    # the mean over seasons, within four of its standard errors
    assert abs(adjusted.mean() - truth) < 4 * adjusted.std() / seasons**0.5
    assert raw.mean() - truth > 10 * raw.std() / seasons**0.5
    assert raw.mean() - truth > 0.05


def test_standard_error_and_intervals() -> None:
    truth = _true_difference(0.4)
    results = _results(0.4, 50)
    spread = np.std([result.difference for result in results])
    # the spread over 50 seasons is itself known to 10 %, so 30 % is three of its standard errors
    assert np.mean([result.se for result in results]) == pytest.approx(spread, rel=0.3)
    inside = np.mean([abs(result.difference - truth) < 2.02 * result.se for result in results])
    # 95 % intervals over 50 seasons: three Monte Carlo standard errors are 9 points
    assert inside >= 0.86


@pytest.mark.parametrize("wrong", ["outcome", "choice"])
def test_one_wrong_model_does_no_harm(wrong: str) -> None:
    rng = np.random.default_rng(5)
    x = rng.normal(size=200_000)
    e, m1, m0 = _expit(1.2 * x), _expit(0.3 + x), _expit(x - 0.3)
    treated = rng.random(x.size) < e
    y = (rng.random(x.size) < np.where(treated, m1, m0)).astype(float)
    truth = (m1 - m0).mean()
    flat = np.full(x.size, 0.5)
    value = (
        aipw(y, np.ones(x.size), treated, e, flat, flat)
        if wrong == "outcome"
        else (aipw(y, np.ones(x.size), treated, flat, m1, m0))
    )
    mean, se, _ = clustered(value, np.ones(x.size), np.arange(x.size))
    assert abs(mean - truth) < 4 * se
    naive = y[treated].mean() - y[~treated].mean()
    assert abs(naive - truth) > 0.1  # so the test would notice an estimate that did not adjust


def test_both_wrong_models_do_harm() -> None:
    # the two tests above would pass for an estimate that needs no model at all; this one shows that it does
    rng = np.random.default_rng(5)
    x = rng.normal(size=100_000)
    treated = rng.random(x.size) < _expit(1.2 * x)
    y = (rng.random(x.size) < _expit(x)).astype(float)
    flat = np.full(x.size, 0.5)
    mean, se, _ = clustered(aipw(y, np.ones(x.size), treated, flat, flat, flat), np.ones(x.size), np.arange(x.size))
    assert mean > 10 * se


def test_counts_give_what_single_shots_give() -> None:
    rows, on_a = _season(np.random.default_rng(3), 0.4)
    one = contrast(rows, on_a, ROLES)
    many = contrast(*_counts(rows, on_a), ROLES)
    # the ridge works on columns standardised over the rows given, so a small difference remains
    assert one is not None and many is not None
    assert many.difference == pytest.approx(one.difference, abs=2e-3)
    assert many.se == pytest.approx(one.se, rel=0.03)
    assert many.raw == pytest.approx(one.raw)


def test_shots_without_a_counterpart_are_left_out_and_counted() -> None:
    rows, on_a = _season(np.random.default_rng(3), 0.4)
    lonely = rows.assign(bowler="lonely", block="x" + rows["block"])
    both = pd.concat([rows.assign(bowler="both"), lonely], ignore_index=True)
    result = contrast(both, np.concatenate([on_a, np.ones(len(rows), dtype=bool)]), ROLES)
    assert result is not None
    assert result.left_out >= 0.5
    assert not result.used[len(rows) :].any()


def test_nothing_to_compare() -> None:
    rows, on_a = _season(np.random.default_rng(3), 0.0, blocks=3)
    assert contrast(rows, np.ones(len(rows), dtype=bool), ROLES) is None
    assert contrast(rows.assign(strikes=0), on_a, ROLES) is None
    assert contrast(rows[rows["block"] != "b00"], on_a[rows["block"] != "b00"], ROLES) is None


def test_missing_numbers_and_names_are_kept() -> None:
    cells = pd.DataFrame({"game": [1, 2, 3], "ratio": [np.nan, 3.0, 4.0], "line": [None, "second arrow", None]})
    X = covariates(cells, ROLES)
    assert X.shape == (3, 4)  # game, ratio, game squared, one mark for the line
    assert np.isfinite(X).all()


def test_draws_are_students_t() -> None:
    result = contrast(*_season(np.random.default_rng(3), 0.4), ROLES)
    assert result is not None
    draws = result.draws(20_000, np.random.default_rng(1))
    # quantile of Student's t with 39 degrees of freedom, 2.0227: tables, from memory
    assert np.quantile(draws, 0.975) == pytest.approx(result.difference + 2.0227 * result.se, rel=0.05)
