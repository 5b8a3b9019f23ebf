"""The world of hidden demand: a resurfacing and a grit have the effects stated, and lines drift as stated.

Directions are common practice: a duller surface grips more, games polish it, and a resurfacing brings the grip back.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.recovery.worlds.club import make_club
from tests.recovery.worlds.hidden_demand import HiddenDemand, as_bought, hidden_demand
from tests.recovery.worlds.mechanism import POCKET, Shot


@pytest.fixture(scope="module")
def lane() -> HiddenDemand:
    rng = np.random.default_rng(5)
    return HiddenDemand(make_club(rng), rng)


def _shot(lane: HiddenDemand, wear: float, grit: float) -> Shot:
    ball = lane.club.bags[0][:1]
    one = np.zeros(1, dtype=int)
    return Shot(one, one, ball, np.array([wear]), np.array([12.0]), np.array([grit]))


def test_games_polish_a_surface_and_a_resurfacing_brings_its_grip_back(lane: HiddenDemand) -> None:
    ball = lane.club.bags[0][:1]
    fresh, worn = (lane.grip(ball, np.array([1000.0]), np.array([games]))[0] for games in (0.0, 40.0))
    assert worn < fresh
    # after many games a dull surface and a polished one are the same surface
    dull, polished = (lane.grip(ball, np.array([grit]), np.array([400.0]))[0] for grit in (1000.0, 4500.0))
    assert dull == pytest.approx(polished, abs=1e-5)
    assert fresh - dull == pytest.approx(0.06 * np.log2(4.5), abs=1e-5)


def test_more_grip_than_the_lane_wants_comes_in_high_and_costs_more_than_as_much_less(lane: HiddenDemand) -> None:
    usual = lane.usual(0)
    shot = _shot(lane, 0.0, 1000.0)
    grip = float(lane.grip(shot.ball, np.array([1000.0]), np.zeros(1))[0])
    fits, less, more = (usual.copy() for _ in range(3))
    for state, wanted in ((fits, grip), (less, grip + 0.2), (more, grip - 0.2)):
        state[:, 3] = wanted
    entries = [float(lane.arrive(state, shot)[0][0]) for state in (less, fits, more)]
    assert entries == sorted(entries) and len(set(entries)) == 3
    centre = np.array([POCKET])
    chance = [float(lane.strike_logit(state, shot, centre, centre)[0]) for state in (less, fits, more)]
    assert chance[1] > chance[0] > chance[2]


def test_nights_differ_by_two_boards_and_lines_drift_by_six(lane: HiddenDemand) -> None:
    state = lane.nights(np.random.default_rng(2), 0, 4000, 2)[:, :, 0]
    assert state[..., 0].std() == pytest.approx(2.0, rel=0.05)
    flat = state.reshape(-1, 6)
    shot = _shot(lane, 0.0, 1000.0)
    shot = Shot(*(np.repeat(getattr(shot, name), len(flat)) for name in ("pattern", "bowler", "ball", "wear", "arrow")))
    worn = flat.copy()
    worn[:, 2] = 100.0  # first balls
    moved = lane._ideal(worn, shot) - lane._ideal(flat, shot)
    assert moved.mean() == pytest.approx(6.0, rel=0.03) and moved.std() > 1


def test_surfaces_are_set_to_other_grits_and_their_truth_follows() -> None:
    season = hidden_demand(3)
    care = season.frames["maintenance"].merge(season.frames["balls"], on="ball")
    assert (care["grit"] != care["surface_grit"]).any() and (care["grit"] == care["surface_grit"]).any()
    truth = season.truth
    other = replace(truth, mean_grit=np.full_like(truth.mean_grit, 500.0), _tables={})
    assert not np.allclose(truth.table(0, 1).strike, other.table(0, 1).strike)
    plain = as_bought(truth.lane)  # type: ignore[arg-type]
    assert (plain.own == 0).all() and not (truth.lane.own == 0).all()  # type: ignore[attr-defined]
