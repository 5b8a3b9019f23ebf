"""The state of the lane: against the conditional normal distribution worked out whole, and against simulated lanes."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.models.lines.lane_state import Seen, State, Variances, follow, with_choice_variance

_ONE_SHOT = 0.03


def _frame(loads: list[float], bowlers: list[str]) -> pd.DataFrame:
    rows = [(load, bowler) for load in loads for bowler in bowlers]
    return pd.DataFrame(rows, columns=["pair_load", "bowler"]).assign(block="k", pair="1-2", hand="right")


def test_it_is_the_conditional_mean_and_variance() -> None:
    """Joint normal of a walk and its readings, conditioned by numpy's solver: earlier shots and the line played now.

    Two cells of one bowler share that bowler's own line, so each of them says half as much.
    """
    frame = _frame([0.0, 30.0, 80.0], ["ann"]).assign(pair_load=[0.0, 30.0, 80.0])
    played, asked = np.array([0.3, 0.5, -0.2]), np.array([0.4, 0.1, 0.2])
    noise, shots = np.array([0.5, 0.7, 0.6]), np.array([4.0, 4.0, 4.0])
    v = Variances(night=0.2, walk=0.002, bowler_line=0.05)
    state: State = follow(frame, Seen(played, asked, noise, shots), v)
    load = frame["pair_load"].to_numpy()
    walk = v.night + v.walk * np.minimum(load[:, None], load[None, :])
    for k in range(3):
        readings = [(i, played[i], v.bowler_line * 3 + _ONE_SHOT / 4) for i in range(k)]
        readings += [(i, asked[i], noise[i]) for i in range(k)] + [(k, played[k], v.bowler_line + _ONE_SHOT / 4)]
        at = np.array([i for i, _, _ in readings])
        values, errors = np.array([y for _, y, _ in readings]), np.array([e for _, _, e in readings])
        gain = np.linalg.solve(walk[np.ix_(at, at)] + np.diag(errors), walk[at, k])
        assert state.mean[k] == pytest.approx(gain @ values)
        assert state.variance[k] == pytest.approx(walk[k, k] - gain @ walk[at, k])


def test_no_later_shot_tells_of_an_earlier_state() -> None:
    frame, n = _frame([0.0, 30.0, 80.0], ["ann", "bo"]), 6
    seen = Seen(np.zeros(n), np.zeros(n), np.full(n, 0.5), np.full(n, 4.0))
    v = Variances(0.2, 0.002, 0.05)
    later = Seen(np.array([0, 0, 0, 0, 2.0, 2.0]), np.array([0, 0, 9.0, 9.0, 9.0, 9.0]), seen.noise, seen.shots)
    before, after = follow(frame, seen, v), follow(frame, later, v)
    assert after.mean[:4] == pytest.approx(before.mean[:4])
    assert (after.mean[4:] > before.mean[4:] + 0.5).all()


def test_nights_that_differ_are_distinguished_from_bowlers_who_differ() -> None:
    """Simulated: what bowlers on one pair have in common is the night; 0.3 or none, own lines alike."""
    nights = []
    for true in (0.3, 0.0):
        rng = np.random.default_rng(11)
        blocks, bowlers = 120, 5
        frame = pd.concat([_frame([0.0, 30.0, 60.0], list("abcde")).assign(block=f"k{k}") for k in range(blocks)])
        state = np.sqrt(true) * np.repeat(rng.normal(size=blocks), 15)
        own = np.repeat(0.4 * rng.normal(size=(blocks, 1, bowlers)), 3, axis=1).ravel()
        played = state + own + 0.08 * rng.normal(size=len(frame))
        asked = state + 0.7 * rng.normal(size=len(frame))
        seen = Seen(played, asked, np.full(len(frame), 0.49), np.full(len(frame), 4.0))
        estimated = follow(frame.reset_index(drop=True), seen)
        nights.append(estimated.variances.night)
        assert estimated.variances.bowler_line == pytest.approx(0.16, rel=0.3)
        assert np.mean((estimated.mean - state) ** 2) < true * 0.5 + 0.02
    assert nights[0] == pytest.approx(0.3, rel=0.25) and nights[1] < 0.03


def test_what_a_night_asks_of_one_ball_is_separated_from_what_it_asks_of_all() -> None:
    """Simulated: each night every ball is asked for something of its own, of variance 0.2 or none; 0.1 is common."""
    rows = []
    for true in (0.2, 0.0):
        rng = np.random.default_rng(5)
        blocks, bowlers = 80, 5
        frame = pd.concat([_frame([0.0, 30.0, 60.0], list("abcde")).assign(block=f"k{k}") for k in range(blocks)])
        frame = frame.assign(pattern_class="short", ball=frame["bowler"] + "-0").reset_index(drop=True)
        state = np.sqrt(0.1) * np.repeat(rng.normal(size=blocks), 15)
        own = np.sqrt(true) * np.repeat(rng.normal(size=(blocks, 1, bowlers)), 3, axis=1).ravel()
        usual = np.tile(rng.normal(size=bowlers), 3 * blocks)  # where each is usually played: no matter of nights
        asked = usual + state + own + 0.7 * rng.normal(size=len(frame))
        played = state + 0.3 * rng.normal(size=len(frame))
        seen = Seen(played, asked, np.full(len(frame), 0.49), np.full(len(frame), 4.0))
        rows.append(with_choice_variance(follow(frame, seen).variances, frame, seen))
    assert rows[0].choice == pytest.approx(0.2, rel=0.3) and rows[1].choice < 0.03
    at = np.array([0.0, 50.0])
    assert rows[0].at(at) == pytest.approx(rows[0].night + rows[0].choice + rows[0].walk * at)
