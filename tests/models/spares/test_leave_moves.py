"""Leaves of an earlier stretch of nights weigh by how far mixes move: the moves against drawn ones, weights by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.special import softmax

from pipeline.models.spares.leave import fit_leave_cells
from pipeline.models.spares.leave_moves import squared_move, weighed

TYPES = ("corner pin", "single pin", "split", "two pins")


def _cells(rng: np.random.Generator, move: float, bowlers: int, leaves: int) -> pd.DataFrame:
    """Two stretches; each bowler's log odds of the types in one are ``move`` about his own."""
    rows = []
    base = rng.normal(0, 0.3, (bowlers, len(TYPES)))
    for stretch in (1, 2):
        mix = softmax(base + move * rng.standard_normal(base.shape), axis=1)
        for b in range(bowlers):
            counts = rng.multinomial(leaves, mix[b])
            rows += [(f"b{b}", stretch, kind, n) for kind, n in zip(TYPES, counts, strict=True)]
    made = pd.DataFrame(rows, columns=["bowler", "stretch", "leave_type", "shots"])
    return made.assign(leave=made["leave_type"], pattern_class="medium", ball_class="symmetric solid", phase="fresh")


@pytest.mark.parametrize("move", [0.0, 0.15, 0.3])
def test_the_moves_are_learned(move: float) -> None:
    cells = _cells(np.random.default_rng(4), move, bowlers=300, leaves=1000)
    counts = cells.groupby(["bowler", "stretch", "leave_type"])["shots"].sum().unstack(fill_value=0)
    # The log odds of one type against the rest: two normals a stretch, its own and that of the rest, about as 1 to 1/3.
    expected = 2 * move**2 * (1 + 1 / 3)
    assert squared_move(counts) == pytest.approx(expected, rel=0.12, abs=0.002)


def test_an_earlier_stretch_counts_for_what_a_normal_prior_of_that_width_leaves_of_it() -> None:
    cells = _cells(np.random.default_rng(5), 0.3, bowlers=300, leaves=1000)
    counts = cells.groupby(["bowler", "stretch", "leave_type"])["shots"].sum().unstack(fill_value=0)
    after = weighed(cells)
    assert "stretch" not in after
    last = (cells["stretch"] == 2).to_numpy()
    assert (after["shots"].to_numpy()[last] == cells["shots"].to_numpy()[last]).all()
    first = counts.loc[("b7", 1)].to_numpy(dtype=float)
    share = first / 1000
    by_hand = 1 / (1 + squared_move(counts) * (share * 1000 * share * (1 - share)).sum())
    mine = (cells["bowler"] == "b7").to_numpy() & ~last
    assert after["shots"].to_numpy()[mine].sum() / 1000 == pytest.approx(by_hand)
    assert by_hand < 0.1  # 1,000 leaves tell more than moves of 0.3 leave


def test_a_bowler_last_seen_before_keeps_his_leaves() -> None:
    cells = _cells(np.random.default_rng(6), 0.3, bowlers=20, leaves=500)
    gone = cells[(cells["bowler"] != "b3") | (cells["stretch"] == 1)]
    after = weighed(gone)
    assert after.loc[after["bowler"] == "b3", "shots"].sum() == 500


def test_a_log_of_one_stretch_is_left_as_it_is() -> None:
    cells = _cells(np.random.default_rng(6), 0.3, bowlers=3, leaves=100)
    one = cells[cells["stretch"] == 2]
    pd.testing.assert_frame_equal(weighed(one), one.drop(columns="stretch"))
    pd.testing.assert_frame_equal(weighed(one.drop(columns="stretch")), one.drop(columns="stretch"))


def test_the_last_season_is_estimated_better_than_by_both_as_one() -> None:
    errors = {"moves learned": [], "as one": []}
    rows = pd.DataFrame({"bowler": [f"b{b}" for b in range(6)], "pattern_class": "medium"})
    rows = rows.assign(ball_class="symmetric solid", phase="fresh")
    for seed in range(8):
        cells = _cells(np.random.default_rng(seed), 0.4, bowlers=6, leaves=450)
        now = cells[cells["stretch"] == 2].pivot(index="bowler", columns="leave_type", values="shots") / 450
        for way, used in (("moves learned", cells), ("as one", cells.drop(columns="stretch"))):
            fit = fit_leave_cells(used)
            shares = fit.type_draws(rows, 200, np.random.default_rng(1)).mean(axis=0)
            errors[way].append(np.square(shares - now[list(fit.types)].to_numpy()).mean())
    assert np.mean(errors["moves learned"]) < 0.6 * np.mean(errors["as one"])
