from __future__ import annotations

import numpy as np
import pytest

from pipeline.sport.score_distribution import ScoreSurface, mean_score, score_distribution
from tests.scoring import Delivery, score_game

SCORES = np.arange(301)


def _random_balls(rng: np.random.Generator, batch: int) -> tuple[np.ndarray, np.ndarray]:
    first = rng.dirichlet(np.linspace(0.2, 3, 11), size=batch)
    second = np.zeros((batch, 11, 11))
    for k in range(10):
        second[:, k, : 11 - k] = rng.dirichlet(np.linspace(0.5, 2, 11 - k), size=batch)
    return first, second


def _surface(rng: np.random.Generator) -> ScoreSurface:
    miss = np.zeros((10, 11))
    for k in range(10):
        miss[k, : 10 - k] = rng.dirichlet(np.ones(10 - k))
    return ScoreSurface(rng.dirichlet(np.linspace(0.2, 3, 10)), miss)


def test_surface_equals_the_direct_distribution() -> None:
    rng = np.random.default_rng(11)
    surface = _surface(rng)
    p, s = rng.random(300), rng.random(300)
    direct = score_distribution(*surface.balls(p, s))
    mean = direct @ SCORES
    sd = np.sqrt(((SCORES - mean[:, None]) ** 2 * direct).sum(1))
    np.testing.assert_allclose(surface.mean_distribution(p, s), direct.mean(axis=0), atol=1e-10)
    np.testing.assert_allclose(surface.mean_distribution(p[0], s[0]), direct[0], atol=1e-10)
    np.testing.assert_allclose(surface.mean(p, s), mean, atol=1e-10)
    np.testing.assert_allclose(surface.at_least(200, p, s), direct[:, 200:].sum(1), atol=1e-10)
    np.testing.assert_allclose(surface.sd(p, s), sd, atol=1e-7)


def test_surface_at_the_corners() -> None:
    surface = _surface(np.random.default_rng(3))
    assert float(surface.mean(1.0, 0.0)) == pytest.approx(300)
    assert float(surface.sd(1.0, 0.0)) == pytest.approx(0, abs=1e-4)


def test_surface_keeps_the_broadcast_shape() -> None:
    surface = _surface(np.random.default_rng(3))
    assert surface.mean(np.full((4, 1), 0.4), np.full(3, 0.7)).shape == (4, 3)


def test_mean_in_closed_form() -> None:
    first, second = _random_balls(np.random.default_rng(5), 40)
    np.testing.assert_allclose(mean_score(first, second), score_distribution(first, second) @ SCORES, atol=1e-10)


def test_batches_broadcast() -> None:
    first, second = _random_balls(np.random.default_rng(6), 6)
    whole = score_distribution(first.reshape(2, 3, 11), second[0])
    assert whole.shape == (2, 3, 301)
    np.testing.assert_allclose(whole[1, 2], score_distribution(first[5], second[0]))
    np.testing.assert_allclose(whole.sum(-1), 1)


def _simulate(first: np.ndarray, second: np.ndarray, games: int, rng: np.random.Generator) -> np.ndarray:
    """Scores of simulated games, bonus balls counted from the list of balls as in the rules; vectorised over games."""
    pins = np.zeros((games, 24), dtype=int)
    starts = np.zeros((games, 10), dtype=int)
    marks = np.zeros((games, 10), dtype=bool)
    rows = np.arange(games)
    at = np.zeros(games, dtype=int)
    tables = np.cumsum(second, axis=1)
    for frame in range(12):  # two more frames hold the fill balls
        one = np.searchsorted(np.cumsum(first), rng.random(games) * (1 - 1e-12))
        two = (tables[np.minimum(one, 9)] < rng.random(games)[:, None] * (1 - 1e-12)).sum(1)
        strike = one == 10
        pins[rows, at] = one
        pins[rows[~strike], at[~strike] + 1] = two[~strike]
        if frame < 10:
            starts[:, frame] = at
            marks[:, frame] = strike | (one + two == 10)
        at = at + np.where(strike, 1, 2)
    scores = np.zeros(games, dtype=int)
    for frame in range(10):
        three = pins[rows[:, None], starts[:, [frame]] + np.arange(3)]
        scores += three[:, :2].sum(1) + np.where(marks[:, frame], three[:, 2], 0)
    return scores


def test_simulation_scores_as_the_rules_do() -> None:
    # guards the simulator itself: an ordinary game scored ball by ball
    first, second = np.zeros(11), np.zeros((11, 11))
    first[7], second[:10, 0], second[7] = 1, 1, np.eye(11)[3]
    simulated = _simulate(first, second, 5, np.random.default_rng(0))
    assert set(simulated) == {score_game([Delivery(7), Delivery(3)] * 10 + [Delivery(7)]).total}


def test_distribution_against_100_000_simulated_games() -> None:
    rng = np.random.default_rng(20)
    first, second = (array[0] for array in _random_balls(rng, 1))
    first = 0.5 * first + 0.5 * np.eye(11)[10]
    games = 100_000
    simulated = _simulate(first, second, games, rng)
    exact = score_distribution(first, second)
    mean, sd = exact @ SCORES, np.sqrt(exact @ SCORES**2 - (exact @ SCORES) ** 2)
    assert abs(simulated.mean() - mean) < 4 * sd / games**0.5
    assert simulated.std() == pytest.approx(sd, rel=0.01)
    # largest distance of the two distribution functions; 1.95 / sqrt(n) is passed by chance once in a thousand
    empirical = np.bincount(simulated, minlength=301).cumsum() / games
    assert np.abs(empirical - exact.cumsum()).max() < 1.95 / games**0.5


def _fair() -> tuple[np.ndarray, np.ndarray]:
    return tuple(array[0] for array in _random_balls(np.random.default_rng(1), 1))  # type: ignore[return-value]


def test_more_pins_than_stood_are_refused() -> None:
    first, second = _fair()
    second[9] = np.eye(11)[2]
    with pytest.raises(ValueError, match="more pins"):
        score_distribution(first, second)


def test_probabilities_must_sum_to_one() -> None:
    first, second = _fair()
    with pytest.raises(ValueError, match="sum to one"):
        score_distribution(first * 0.9, second)


def test_shapes_are_checked() -> None:
    first, second = _fair()
    with pytest.raises(ValueError, match="shapes"):
        score_distribution(first[:10], second)
    with pytest.raises(ValueError, match="shapes"):
        ScoreSurface(first, second)


def test_a_missed_spare_fells_not_all() -> None:
    miss = np.zeros((10, 11))
    miss[np.arange(10), 10 - np.arange(10)] = 1
    with pytest.raises(ValueError, match="cannot fell every pin"):
        ScoreSurface(np.eye(10)[9], miss)


def test_probabilities_outside_the_unit_square_are_refused() -> None:
    with pytest.raises(ValueError, match=r"0\.\.1"):
        _surface(np.random.default_rng(3)).mean(1.2, 0.5)
