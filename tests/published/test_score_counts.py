"""How many games have each score: the numbers of the literature against the dynamic programme."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pipeline.sport.score_distribution import MAX_SCORE, ScoreSurface, mean_score, score_distribution, ten_frames
from tests.scoring import Delivery, score_game

# score_counts.txt holds one count a line, score 0 first.
# Terms 0-21: OEIS A060853 (after Cooper & Kennedy, Math. Mag. 63(4), 1990, 239-243), VERIFIED. Terms 0-100 and 249-300:
# the list in archmageirvine/joeis, A060853.java, VERIFIED. Terms 101-248: COMPUTED by a programme of ours, held by the
# published total and mode only.
COUNTS = [int(line) for line in Path(__file__).with_name("score_counts.txt").read_text().splitlines()]


@cache
def score_counts() -> list[int]:
    """Number of different games with each score 0..300, in exact integers (a game is its sequence of pins felled)."""
    ways = np.ones((11, 11), dtype=object)
    return [int(count) for count in ten_frames(ways[0], ways, np.zeros(MAX_SCORE + 1, dtype=object))]


def test_all_301_counts() -> None:
    assert score_counts() == COUNTS


def test_total_number_of_games() -> None:
    # 66^9 * 241 = 5726805883325784576: OEIS A060853 comment, VERIFIED.
    assert sum(score_counts()) == 5726805883325784576 == 66**9 * 241


def test_most_frequent_score() -> None:
    # Mode 77 with 172542309343731946 games: OEIS A060853 as corrected in October 2009, VERIFIED.
    counts = score_counts()
    assert max(counts) == 172542309343731946
    assert counts.index(max(counts)) == 77


def test_last_counts() -> None:
    # a(290) = 11 and a(291..300) = 1: OEIS A060853, VERIFIED.
    assert score_counts()[290:] == [11] + [1] * 10


def test_mean_and_spread_over_all_games() -> None:
    # Mean 79.7: quoted from memory. The exact fraction, sd and median: COMPUTED from the verified counts.
    counts = score_counts()
    total = sum(counts)
    mean = Fraction(sum(score * count for score, count in enumerate(counts)), total)
    assert mean == Fraction(125572265, 1574694)
    assert round(float(mean), 1) == 79.7
    square = Fraction(sum(score**2 * count for score, count in enumerate(counts)), total)
    assert float(square - mean**2) ** 0.5 == pytest.approx(13.674748, abs=5e-7)
    below = np.cumsum([float(Fraction(count, total)) for count in counts])
    assert int(np.searchsorted(below, 0.5)) == 79


# Least and greatest score with k strikes, k = 0..12: OEIS A127993 and A127994, VERIFIED.
LEAST = [0, 10, 20, 30, 40, 50, 60, 70, 90, 120, 180, 240, 300]
GREATEST = [190, 192, 202, 213, 224, 235, 246, 257, 268, 279, 289, 299, 300]


def _extremes_by_strikes() -> dict[int, tuple[int, int]]:
    """Least and greatest score by number of strikes, by a search over all games that matter, scored ball by ball.

    With a number of strikes given, the score rises with every other pin felled, so frames are a strike, a miss
    (0 then 0) or the best without a strike (9 or 0, then a spare); the tenth frame is tried ball by ball.
    """
    by_name: dict[int, list[int]] = {}
    tenths = [[10, 10, b] for b in (0, 9, 10)] + [[10, 0, b] for b in (0, 10)] + [[10, 9, 1]]
    tenths += [[0, 0], [9, 1, 10], [9, 1, 9], [9, 1, 0], [0, 10, 10], [0, 10, 0]]
    for miss in ([0, 0], [9, 1]):
        for pattern in range(2**9):
            balls: list[int] = []
            for frame in range(9):
                balls += [10] if pattern >> frame & 1 else miss
            for tenth in tenths:
                # a first ball of ten, or a fill ball of ten at a full rack, is a strike; ten after a gutter is a spare
                strikes = bin(pattern).count("1") + _tenth_strikes(tenth)
                total = score_game([Delivery(pins) for pins in balls + tenth]).total
                assert total is not None
                by_name.setdefault(strikes, []).append(total)
    return {strikes: (min(scores), max(scores)) for strikes, scores in by_name.items()}


def _tenth_strikes(tenth: list[int]) -> int:
    if tenth[0] != 10:
        return int(len(tenth) == 3 and tenth[2] == 10)
    return 1 + int(tenth[1] == 10) + int(tenth[1] == 10 and tenth[2] == 10)


def test_least_and_greatest_score_by_strikes() -> None:
    extremes = _extremes_by_strikes()
    assert [extremes[strikes][0] for strikes in range(13)] == LEAST
    assert [extremes[strikes][1] for strikes in range(13)] == GREATEST


def _nine_then(spare: float) -> np.ndarray:
    second = np.zeros((11, 11))
    second[:10, 0] = 1
    second[9, 1], second[9, 0] = spare, 1 - spare
    return second


@pytest.mark.parametrize(
    ("strike", "spare", "score"),
    # All 9-miss 90, all 9-spare 190, all strikes 300: common knowledge of the rules, exact by arithmetic.
    [(0.0, 0.0, 90), (0.0, 1.0, 190), (1.0, 0.5, 300)],
)
def test_limits_are_certain(strike: float, spare: float, score: int) -> None:
    first = np.zeros(11)
    first[9], first[10] = 1 - strike, strike
    assert score_distribution(first, _nine_then(spare))[score] == pytest.approx(1)


@pytest.mark.parametrize(
    ("strike", "spare", "mean", "sd"),
    # COMPUTED reference values by a programme of ours (not published): a strike with p, else nine and a spare with s.
    [(0.3, 0.6, 173.7900, 21.4252), (0.5, 0.8, 210.2500, 23.1570), (0.6, 0.9, 228.4800, 22.8567)],
)
def test_computed_reference(strike: float, spare: float, mean: float, sd: float) -> None:
    open_first = np.eye(10)[9]
    miss_second = np.zeros((10, 11))
    miss_second[:, 0] = 1
    surface = ScoreSurface(open_first, miss_second)
    assert float(surface.mean(strike, spare)) == pytest.approx(mean, abs=5e-5)
    assert float(surface.sd(strike, spare)) == pytest.approx(sd, abs=5e-5)
    assert float(mean_score(*surface.balls(strike, spare))) == pytest.approx(mean, abs=5e-5)


def test_one_televised_show() -> None:
    # One show: 66 first balls, 40 strikes, one open frame, mean score 224.5 (a printed column, about 2008, VERIFIED): a
    # few games only, so the mean need agree within two of its standard errors (about six games).
    surface = ScoreSurface(np.eye(10)[9], np.tile(np.eye(11)[0], (10, 1)))
    mean, sd = float(surface.mean(40 / 66, 25 / 26)), float(surface.sd(40 / 66, 25 / 26))
    assert abs(mean - 224.5) < 2 * sd / 6**0.5
