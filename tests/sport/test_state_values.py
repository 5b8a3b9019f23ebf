"""State values against the exact score distribution and against games bowled at random."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.sport.score_distribution import balls_of, mean_score, score_distribution
from pipeline.sport.state_values import OWED, Chances, averaged, possible_states, state_shares, state_values

OPEN = np.array([1, 1, 1, 1, 2, 3, 6, 12, 25, 60.0])
OPEN /= OPEN.sum()
MISS = np.zeros((10, 11))
for _k in range(10):
    MISS[_k, : 10 - _k] = 1 / (10 - _k)


def chances(p: float, s: float) -> tuple[Chances, np.ndarray, np.ndarray]:
    """The four numbers of a bowler, and the laws of both balls they are taken from."""
    first, second = balls_of(OPEN, MISS, p, s)
    mean_second = float(OPEN @ (second[:10] @ np.arange(11)))
    return Chances(*map(np.asarray, (p, s, float(OPEN @ np.arange(10)), mean_second))), first, second


@settings(deadline=None, max_examples=50)
@given(st.floats(0, 1), st.floats(0, 1))
def test_the_value_before_the_first_ball_is_the_mean_score(p: float, s: float) -> None:
    expected, first, second = chances(p, s)
    value = state_values(expected).before[0, 0]
    assert value == pytest.approx(float(mean_score(first, second)), abs=1e-9)
    assert value == pytest.approx(float(score_distribution(first, second) @ np.arange(301)), abs=1e-9)


def test_known_games() -> None:
    # A strike with every ball is 300, and nine pins and a spare with every frame 190: common practice.
    perfect = Chances(*map(np.asarray, (1.0, 0.0, 0.0, 0.0)))
    assert state_values(perfect).before[0, 0] == 300
    nine_spare = Chances(*map(np.asarray, (0.0, 1.0, 9.0, 1.0)))
    assert state_values(nine_spare).before[0, 0] == 190


def test_only_states_that_can_occur_have_a_value() -> None:
    values = state_values(chances(0.4, 0.6)[0])
    for table in (values.before, values.after_strike, values.after_spare, values.after_open, values.first_times):
        assert np.array_equal(np.isfinite(table), possible_states())


def test_shares_of_states_are_those_of_bowled_games() -> None:
    p, s, games = 0.55, 0.7, 40_000
    rng = np.random.default_rng(1)
    strike, spare = rng.random((games, 9)) < p, rng.random((games, 9)) < s
    shares = state_shares(p, s)
    assert np.allclose(shares.sum(-1), 1)
    for frame in range(1, 10):
        last, before = strike[:, frame - 1], strike[:, frame - 2] if frame > 1 else np.zeros(games, dtype=bool)
        owed = np.where(last, np.where(before, 3, 2), np.where(spare[:, frame - 1], 1, 0))
        seen = np.bincount(owed, minlength=len(OWED)) / games
        assert np.abs(seen - shares[frame]).max() < 5 * 0.5 / np.sqrt(games)


def test_a_mean_over_states_leaves_out_those_that_cannot_occur() -> None:
    values, shares = state_values(chances(0.4, 0.6)[0]), state_shares(0.4, 0.6)
    mean = averaged(values.before, shares)
    assert mean[0] == values.before[0, 0] and np.isfinite(mean).all()
    assert mean[11] == values.before[11, 0]


def test_batches_are_valued_as_one_by_one() -> None:
    many = Chances(*(np.array([a, b]) for a, b in ((0.3, 0.6), (0.5, 0.7), (7.0, 8.0), (1.5, 1.2))))
    one = Chances(*map(np.asarray, (0.6, 0.7, 8.0, 1.2)))
    assert np.array_equal(state_values(many).before[1], state_values(one).before, equal_nan=True)
