"""Choosing on some blocks and valuing on others: against the true gain of simulated seasons of choices."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit

from pipeline.validation.held_out_choice import value_of_choosing

PRICE = {"ann": 100.0, "ben": 200.0}


def _season(seed: int, apart: float, blocks: int = 60) -> pd.DataFrame:
    """Two bowlers of two balls; the better one, by ``apart`` logits, is thrown less, and least on hard nights."""
    rng = np.random.default_rng(seed)
    rows = []
    for block in range(blocks):
        hard = rng.normal(0, 0.5)
        for bowler in ("ann", "ben"):
            good = rng.random() < expit(-0.6 - hard)
            for game in (1, 2, 3):
                chance = expit(apart * good - hard)
                ball = f"{bowler}-{'good' if good else 'usual'}"
                row = (f"b{block:02}", bowler, "medium", "fresh", ball, "third arrow", game, hard, 12)
                rows.append((*row, rng.binomial(12, chance)))
    names = ["block", "bowler", "pattern_class", "phase", "ball", "line", "game", "pair_load", "shots", "strikes"]
    return pd.DataFrame(rows, columns=names)


def _true(apart: float) -> Callable[[pd.DataFrame], Callable[[pd.DataFrame], np.ndarray]]:
    return lambda _train: (
        lambda grid: expit(
            apart * grid["ball"].str.endswith("good").to_numpy() - grid["pair_load"].to_numpy(dtype=float)
        )
    )


def _rates(train: pd.DataFrame) -> Callable[[pd.DataFrame], np.ndarray]:
    """The wrong model: raw rates by ball, which take the nights for the balls."""
    sums = train.groupby("ball")[["strikes", "shots"]].sum()
    rate = (sums["strikes"] / sums["shots"]).to_dict()
    return lambda grid: grid["ball"].map(rate).to_numpy(dtype=float)


def _true_gain(cells: pd.DataFrame, apart: float) -> float:
    """Pins per game of always throwing the better ball over what was thrown, per shot."""
    so = cells["ball"].str.endswith("good").to_numpy()
    nights = cells["pair_load"].to_numpy()
    gain = expit(apart - nights) - np.where(so, expit(apart - nights), expit(-nights))
    return float(np.average(gain * cells["bowler"].map(PRICE), weights=cells["shots"]))


def test_the_value_is_the_true_gain_and_its_interval_holds_it_as_often_as_it_should() -> None:
    away = []
    for seed in range(24):
        cells = _season(seed, 0.8)
        gained = value_of_choosing(cells, _true(0.8), PRICE, 10)
        assert gained is not None
        gain, se, blocks = gained.gain() or (0.0, 1.0, 0)
        assert blocks == 60 and se > 0
        away.append((gain - _true_gain(cells, 0.8)) / se)
    # Unbiased within three standard errors of 24 seasons, and the errors are of about the stated size.
    assert abs(np.mean(away)) < 3 / np.sqrt(24)
    assert 0.7 < np.std(away) < 1.4


def test_a_choice_that_makes_no_difference_gains_nothing() -> None:
    gains, raw = [], []
    for seed in range(16):
        cells = _season(seed, 0.0)
        gained = value_of_choosing(cells, _rates, PRICE, 10)
        assert gained is not None
        gains.append((gained.gain() or (0.0, 1.0, 0))[0])
        ann = cells[cells["bowler"] == "ann"]
        rates = ann.groupby("ball")["strikes"].sum() / ann.groupby("ball")["shots"].sum()
        raw.append(PRICE["ann"] * (rates.max() - ann["strikes"].sum() / ann["shots"].sum()))
    # Raw rates take the nights for the balls: chosen and valued on the same blocks they promise what is not there.
    error = np.std(gains) / np.sqrt(len(gains))
    assert abs(np.mean(gains)) < 3 * error
    assert np.mean(raw) > 3 * np.std(raw) / np.sqrt(len(raw))


def test_only_bowlers_with_a_price_and_cells_with_a_choice_count() -> None:
    cells = _season(1, 0.8)
    gained = value_of_choosing(cells, _true(0.8), {"ann": 100.0}, 10)
    assert gained is not None and set(gained.rows["bowler"]) == {"ann"}
    assert gained.rows["shots"].sum() == cells.loc[cells["bowler"] == "ann", "shots"].sum()
    changed = cells[(cells["bowler"] == "ann") & cells["ball"].str.endswith("usual")]["shots"].sum()
    assert gained.rows["changed"].sum() == pytest.approx(changed)
    assert value_of_choosing(cells, _true(0.8), PRICE, 10, left_out={"ann-good", "ben-good"}) is None
    assert value_of_choosing(cells, _true(0.8), PRICE, 10_000) is None
    three_blocks = cells[cells["block"].isin(["b00", "b01", "b02"])]
    assert value_of_choosing(three_blocks, _true(0.8), PRICE, 1) is None


def test_what_was_predicted_is_the_true_gain_if_the_model_is_right() -> None:
    """Both balls' chances are known here, so what was predicted has no noise but that of which shots were thrown."""
    cells = _season(3, 0.8)
    valued = value_of_choosing(cells, _true(0.8), PRICE, 10)
    assert valued is not None
    assert valued.predicted() == pytest.approx(_true_gain(cells, 0.8), rel=1e-6)
    by_bowler = [(valued.predicted(name), (valued.rows["bowler"] == name).sum()) for name in PRICE]
    assert by_bowler[0][0] < valued.predicted() < by_bowler[1][0]  # pins are dearer to the second
    nothing = value_of_choosing(cells, _true(0.0), PRICE, 10)
    assert nothing is not None and nothing.predicted() == pytest.approx(0, abs=1e-9)
