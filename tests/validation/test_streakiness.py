"""Runs within games: exact moments, size and power of the test, and the spread that streaks bring."""

from __future__ import annotations

from itertools import combinations, groupby

import numpy as np
import pandas as pd
import pytest

from pipeline.sport.score_distribution import score_distribution, streaky_distribution
from pipeline.validation.streakiness import _orders, run_moments, runs_test, score_spread

FRAMES = 10


@pytest.mark.parametrize(("n", "k"), [(10, 1), (10, 4), (10, 9), (7, 3), (3, 1)])
def test_moments_by_listing_every_order(n: int, k: int) -> None:
    runs = []
    for places in combinations(range(n), k):
        row = [place in places for place in range(n)]
        runs.append(len(list(groupby(row))))
    mean, variance = run_moments(np.array([n]), np.array([k]))
    assert mean[0] == pytest.approx(np.mean(runs))
    assert variance[0] == pytest.approx(np.var(runs))


def test_moments_in_a_textbook_example() -> None:
    # 10 of one kind and 5 of the other: mean 7.667 runs (2 * 10 * 5 / 15 + 1), variance 2.698; from memory
    mean, variance = run_moments(np.array([15]), np.array([10]))
    assert mean[0] == pytest.approx(7.667, abs=5e-4)
    assert variance[0] == pytest.approx(2.698, abs=5e-4)


def _games(rng: np.random.Generator, games: int, correlation: float) -> pd.DataFrame:
    """Games of ten frames whose strikes follow a chain; every game has a rate of its own."""
    rate = rng.beta(6, 6, games)
    strikes = np.zeros((games, FRAMES), dtype=bool)
    strikes[:, 0] = rng.random(games) < rate
    for frame in range(1, FRAMES):
        after = np.where(strikes[:, frame - 1], rate + correlation * (1 - rate), rate * (1 - correlation))
        strikes[:, frame] = rng.random(games) < after
    table = pd.DataFrame(
        {
            "first_balls": FRAMES,
            "strikes": strikes.sum(axis=1),
            "runs": 1 + (strikes[:, 1:] != strikes[:, :-1]).sum(axis=1),
        }
    )
    return table.groupby(list(table.columns)).size().rename("games").reset_index()


def test_rates_that_differ_between_games_are_no_streaks() -> None:
    rng = np.random.default_rng(1)
    answers = [result for result in (runs_test(_games(rng, 300, 0.0)) for _ in range(200)) if result is not None]
    z = np.array([result.z for result in answers])
    # 5 % of 200 tests: three standard errors are 4.6 points
    assert abs((np.abs(z) > 1.96).mean() - 0.05) < 0.046
    assert abs(z.mean()) < 3 / 200**0.5
    spread = np.std([result.correlation for result in answers])
    # a standard deviation of 200 values is known to 5 %
    assert np.mean([result.correlation_se for result in answers]) == pytest.approx(spread, rel=0.15)


@pytest.mark.parametrize("correlation", [0.15, -0.1])
def test_streaks_are_found_and_measured(correlation: float) -> None:
    result = runs_test(_games(np.random.default_rng(2), 20_000, correlation))
    assert result is not None
    assert result.p < 1e-6
    assert np.sign(result.z) == -np.sign(correlation)
    # four standard errors over 20,000 games
    assert result.correlation == pytest.approx(correlation, abs=0.012)


def test_numbers_of_orders_by_listing_them() -> None:
    for n, k in [(10, 4), (7, 1), (6, 5), (3, 2)]:
        listed = [len(list(groupby([place in places for place in range(n)]))) for places in combinations(range(n), k)]
        runs, count = _orders(n, k)
        assert dict(zip(runs, count, strict=True)) == pd.Series(listed).value_counts().to_dict()


def test_games_that_tell_nothing() -> None:
    table = pd.DataFrame({"first_balls": [10, 10, 2], "strikes": [0, 10, 1], "runs": [1, 1, 2], "games": [3, 3, 3]})
    assert runs_test(table) is None
    assert runs_test(table.iloc[:0]) is None


def _balls() -> tuple[np.ndarray, np.ndarray]:
    first = np.array([0, 0, 0, 0, 0, 0, 0.05, 0.1, 0.15, 0.2, 0.5])
    second = np.zeros((11, 11))
    second[:10, 0] = 0.3
    second[np.arange(10), 10 - np.arange(10)] += 0.7
    return first, second


def test_no_correlation_is_the_independent_game() -> None:
    first, second = _balls()
    np.testing.assert_allclose(streaky_distribution(first, second, 0.0), score_distribution(first, second), atol=1e-14)


def test_streaks_spread_scores() -> None:
    first, second = _balls()
    spread = [float(score_spread(first, second, correlation)) for correlation in (-0.2, 0.0, 0.2)]
    assert spread[0] < spread[1] < spread[2]


def test_streaky_distribution_against_simulated_games() -> None:
    rng = np.random.default_rng(4)
    first, second = _balls()
    correlation, games = 0.3, 100_000
    p = first[10]
    struck = rng.random(games) < p
    open_pins = rng.choice(10, size=(games, 12), p=first[:10] / (1 - p))
    pins = np.zeros((games, 26), dtype=int)
    starts, marks = np.zeros((games, 10), dtype=int), np.zeros((games, 10), dtype=bool)
    at, rows = np.zeros(games, dtype=int), np.arange(games)
    for frame in range(12):
        if frame:
            struck = rng.random(games) < np.where(struck, p + correlation * (1 - p), p * (1 - correlation))
        one = np.where(struck, 10, open_pins[:, frame])
        spare = ~struck & (rng.random(games) < 0.7)
        pins[rows, at] = one
        pins[rows[~struck], at[~struck] + 1] = np.where(spare, 10 - one, 0)[~struck]
        if frame < 10:
            starts[:, frame], marks[:, frame] = at, struck | spare
        at = at + np.where(struck, 1, 2)
    scores = np.zeros(games, dtype=int)
    for frame in range(10):
        three = pins[rows[:, None], starts[:, [frame]] + np.arange(3)]
        scores += three[:, :2].sum(axis=1) + np.where(marks[:, frame], three[:, 2], 0)
    exact = streaky_distribution(first, second, correlation)
    gap = np.abs(np.bincount(scores, minlength=301).cumsum() / games - exact.cumsum()).max()
    assert gap < 1.95 / games**0.5  # passed by chance once in a thousand
    assert scores.std() == pytest.approx(float(score_spread(first, second, correlation)), rel=0.01)


def test_certain_strikes_have_no_streaks() -> None:
    with pytest.raises(ValueError, match="below 1"):
        streaky_distribution(np.eye(11)[10], _balls()[1], 0.1)
