"""The world of paths behaves as oil and friction do, and its integrated truth is what throwing balls over it gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.recovery.worlds.club import Club, make_club
from tests.recovery.worlds.mechanism import LOOSE_SHARE, LOOSE_WIDTH, Misses, Shot
from tests.recovery.worlds.oil_paths import CELLS, OilPaths, laid_out
from tests.recovery.worlds.season import integrated

_LONG, _SHORT = 4, 0  # patterns of the club


def _club() -> tuple[Club, OilPaths]:
    rng = np.random.default_rng(1)
    club = make_club(rng)
    return club, OilPaths(club, rng)


def _shots(club: Club, count: int, arrow: float, pattern: int = 2) -> Shot:
    ball = np.full(count, club.bags[0][2])
    return Shot(np.full(count, pattern), np.zeros(count, dtype=int), ball, np.full(count, 10.0), np.full(count, arrow))


def test_a_pattern_holds_its_volume_and_ends_where_it_says() -> None:
    oil = laid_out(40.0, 25.0, 4.0)
    assert abs(oil.sum() - 25) < 1e-9
    assert (oil[:, 14:] == 0).all() and oil[19, 5] > 2 * oil[0, 5]


def test_longer_oil_hooks_less() -> None:
    club, lane = _club()
    entry = [lane.arrive(lane.usual(p), _shots(club, 1, 14.0, p))[0][0] for p in (_SHORT, _LONG)]
    assert entry[0] > entry[1] + 1


def test_a_ball_on_a_dry_lane_rolls_out_and_goes_straight() -> None:
    """Once it rolls no friction is left: its speed aside stays, so equal times move it by equal boards."""
    club, lane = _club()
    dry = np.zeros_like(lane.usual(0))
    boards = lane.path(dry, _shots(club, 1, 12.0))[0][0]
    steps = np.diff(boards)
    assert np.ptp(steps[-3:]) < 1e-6 and steps[-1] > steps[0]


def test_balls_thrown_make_the_next_hook_earlier_for_either_side() -> None:
    club, lane = _club()
    states = np.repeat(lane.usual(2), 2, axis=0)
    fresh = lane.path(states[:1], _shots(club, 1, 12.0))[0][0]
    before = states[..., :CELLS].sum()
    for _ in range(150):
        lane.wear_lane(np.random.default_rng(0), states, np.zeros(1, dtype=int), _shots(club, 1, 12.0))
    worn = lane.path(states[:1], _shots(club, 1, 12.0))[0][0]
    assert worn[-1] > fresh[-1] + 1 and worn[14] > fresh[14]
    assert states[..., :CELLS].sum() < before
    assert states[0, :, 14].sum() > 0  # carried down beyond 39 feet
    np.testing.assert_allclose(
        states[0, :, :CELLS], states[1, ::-1, :CELLS], rtol=1e-4
    )  # one lane, seen from each side


def test_the_integral_is_what_many_throws_give() -> None:
    """Brute force: 40,000 throws with errors of aim and release drawn; four standard errors."""
    club, lane = _club()
    count, rng = 40_000, np.random.default_rng(2)
    shot = _shots(club, 1, 12.0)
    truth, _ = integrated(club, lane, Misses(club.spare_chance), lane.usual(2), shot)
    thrown = _shots(club, count, 12.0)
    thrown = replace(thrown, arrow=np.clip(thrown.arrow + club.aim_sd[0] * rng.normal(size=count), 1, 35))
    state = np.broadcast_to(lane.usual(2), (count, *lane.usual(2).shape[1:]))
    entry, angle = lane.arrive(state, thrown)
    width = np.where(rng.random(count) < LOOSE_SHARE, LOOSE_WIDTH, 1.0) * club.entry_sd[0]
    entry = np.clip(entry + width * rng.normal(size=count), 2, 37)
    chance = 1 / (1 + np.exp(-lane.strike_logit(state, thrown, entry, angle)))
    assert abs(chance.mean() - truth[0]) < 4 * chance.std() / np.sqrt(count) + 0.003
