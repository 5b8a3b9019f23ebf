"""The world of lanes that break: it changes at once or not at all, and stops forgiving at once.

Directions are common practice: once enough oil is gone the line moves inward, and a ball that reads later fits.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.recovery.worlds.breaking_lanes import BreakingLanes
from tests.recovery.worlds.club import make_club
from tests.recovery.worlds.mechanism import POCKET, Shot


@pytest.fixture(scope="module")
def lane() -> BreakingLanes:
    rng = np.random.default_rng(5)
    return BreakingLanes(make_club(rng), rng)


def _shots(lane: BreakingLanes, count: int, ball: int = 1, arrow: float = 12.0) -> Shot:
    zero = np.zeros(count, dtype=int)
    return Shot(zero, zero, zero + lane.club.bags[0][ball], np.zeros(count), np.full(count, arrow))


def _at_loads(lane: BreakingLanes, loads: list[float]) -> np.ndarray:
    state = np.repeat(lane.usual(0), len(loads), axis=0)
    state[:, 3] = loads
    return state


def test_a_lane_changes_within_two_dozen_deliveries_and_hardly_before_or_after(lane: BreakingLanes) -> None:
    holds = float(lane.usual(0)[0, 1])
    state = _at_loads(lane, [0.0, holds - 40, holds - 12, holds + 12, holds + 40])
    # a ball that does not read would come in as the line alone has it: undo what the ball does
    apart = lane._apart(state, _shots(lane, 5))
    entry = lane.arrive(state, _shots(lane, 5))[0] - 2.5 * apart
    early, _, sudden, late = np.diff(entry)
    assert sudden > 2 * max(early, late)
    assert entry[-1] - entry[0] == pytest.approx(0.34 * (5.0 + 0.012 * (holds + 40)), abs=0.05)


def test_broken_oil_wants_a_ball_that_reads_later_and_turns(lane: BreakingLanes) -> None:
    state = _at_loads(lane, [0.0, 400.0])
    centre, angle = np.full(2, POCKET), np.full(2, 5.5)
    read, turn = lane._read.copy(), lane._turn.copy()
    ball = lane.club.bags[0][1]
    wanted = lane._wanted[0] - 0.04 * lane.club.revs[0]
    chances = {}
    try:
        for name, (sooner, sharp) in {"early": (0.0, 0.4), "late": (-0.22, 0.8)}.items():
            lane._read[ball], lane._turn[ball] = wanted + sooner, sharp
            chances[name] = lane.strike_logit(state, _shots(lane, 2), centre, angle)
    finally:
        lane._read[:], lane._turn[:] = read, turn
    assert chances["early"][0] > chances["late"][0]
    assert chances["late"][1] > chances["early"][1]


def test_the_pocket_is_flat_with_an_edge(lane: BreakingLanes) -> None:
    state = _at_loads(lane, [0.0] * 4)
    entry = POCKET + np.array([0.0, 0.5, 1.25, 2.5])
    logit = lane.strike_logit(state, _shots(lane, 4), entry, np.full(4, 5.5))
    assert logit[0] - logit[1] < 0.3
    assert logit[1] - logit[2] > 1.0
    assert logit[0] - logit[3] == pytest.approx(3.3, abs=0.15)


def test_nobody_knows_when_a_lane_will_break(lane: BreakingLanes) -> None:
    state = lane.nights(np.random.default_rng(2), 0, 4000, 2)
    assert state[..., 1].std() == pytest.approx(30.0, rel=0.05)
    # the two sides of a pair break apart; a pair keeps its own surface
    assert abs(np.corrcoef(state[:, 0, 0, 1], state[:, 0, 1, 1])[0, 1]) < 0.05
    by_pair = state[..., 0].mean(axis=(0, 2))
    assert by_pair == pytest.approx(lane._surface, abs=0.1)


def test_strong_balls_break_a_lane_sooner_and_its_neighbour_later(lane: BreakingLanes) -> None:
    states = _at_loads(lane, [0.0, 0.0])
    order = np.argsort(lane._read[lane.club.bags[0]])
    for ball in (int(order[0]), int(order[-1])):
        before = states[:, 3].copy()
        lane.wear_lane(np.random.default_rng(1), states, np.array([0]), replace(_shots(lane, 1, ball)))
        taken = states[:, 3] - before
        assert taken[1] == pytest.approx(taken[0] / 3)
        assert taken[0] == pytest.approx(0.7 + 0.6 * lane._read[lane.club.bags[0][ball]])
