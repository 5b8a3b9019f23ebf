"""Are strikes streaky within a game? A runs test, and its effect on the spread of scores.

Frames are priced as independent. Whether they are is tested given each game's number of strikes, so better and
worse games, bowlers and lanes do not look like streaks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import comb, logit, ndtr

from pipeline.arrays import Floats
from pipeline.sport.score_distribution import MAX_SCORE, streaky_distribution

_MOST_LOG_WEIGHT = 3.0  # odds ratios up to 400


@dataclass(frozen=True)
class RunsTest:
    """Runs of strikes and of no strikes within games, summed over games.

    Attributes:
        games: games with at least one strike and one first delivery without.
        runs: runs seen.
        expected: runs expected if every order of a game's results were equally likely.
        z: standardised difference; below 0 there are fewer runs than chance makes, which is streaky.
        p: two-sided probability of a difference this large by chance.
        correlation: estimated correlation of one frame's strike with the next's, 0 without streaks.
        correlation_se: its standard error under no streaks.
    """

    games: int
    runs: int
    expected: float
    z: float
    p: float
    correlation: float
    correlation_se: float


def run_moments(first_balls: Floats, strikes: Floats) -> tuple[Floats, Floats]:
    """Exact mean and variance of the runs in n results with k strikes, all orders equally likely.

    With m = 2 k (n - k): mean 1 + m / n, variance m (m - n) / (n^2 (n - 1)) (Wald & Wolfowitz, Ann. Math. Stat. 11,
    1940, 147-162; formulas from memory, checked in the tests against all orders).
    """
    n = np.asarray(first_balls, dtype=float)
    twice = 2 * np.asarray(strikes, dtype=float) * (n - strikes)
    return 1 + twice / n, twice * (twice - n) / (n**2 * np.maximum(n - 1, 1))


def runs_test(table: pd.DataFrame) -> RunsTest | None:
    """Test games for streaks.

    The correlation is the maximum of the likelihood of the runs given each game's strikes under a two-state chain.
    In it every further switch weighs the order by w, with w^-2 the odds ratio of a strike after a strike against after
    none; the odds ratio becomes a correlation at the strike rate of all games.

    Args:
        table: columns first_balls, strikes, runs, games (how many games have these).

    Returns:
        None if no game is informative.
    """
    used = table[(table["strikes"] > 0) & (table["strikes"] < table["first_balls"]) & (table["first_balls"] > 2)]
    if used.empty:
        return None
    games = used["games"].to_numpy(dtype=float)
    mean, variance = run_moments(used["first_balls"].to_numpy(dtype=float), used["strikes"].to_numpy(dtype=float))
    seen = float((used["runs"] * used["games"]).sum())
    expected, spread = float(mean @ games), float(np.sqrt(variance @ games))
    if spread == 0:
        return None
    z = (seen - expected) / spread
    rate = float((used["strikes"] * games).sum() / (used["first_balls"] * games).sum())
    return RunsTest(
        games=int(games.sum()),
        runs=int(seen),
        expected=expected,
        z=z,
        p=float(2 * ndtr(-abs(z))),
        correlation=_correlation(_most_likely_weight(used, seen), rate),
        correlation_se=2 * rate * (1 - rate) / spread,
    )


def _orders(n: int, k: int) -> tuple[Floats, Floats]:
    """Numbers of runs that n results with k strikes can have, and in how many orders each."""
    misses = n - k
    runs = np.arange(2, n + 1)
    half = runs // 2
    even = 2 * comb(k - 1, half - 1) * comb(misses - 1, half - 1)
    odd = comb(k - 1, half) * comb(misses - 1, half - 1) + comb(k - 1, half - 1) * comb(misses - 1, half)
    count = np.where(runs % 2 == 0, even, odd)
    return runs[count > 0].astype(float), count[count > 0]


def _most_likely_weight(used: pd.DataFrame, seen: float) -> float:
    """Log weight of a switch at which as many runs are expected as were seen."""
    groups = used.groupby(["first_balls", "strikes"], as_index=False)["games"].sum()
    tables = [(*_orders(n, k), games) for n, k, games in groups.to_numpy(dtype=int).tolist()]

    def excess(log_weight: float) -> float:
        total = -seen
        for runs, count, games in tables:
            likely = count * np.exp(log_weight * (runs - runs[0]))
            total += games * float(runs @ likely / likely.sum())
        return total

    if excess(-_MOST_LOG_WEIGHT) >= 0:
        return -_MOST_LOG_WEIGHT
    if excess(_MOST_LOG_WEIGHT) <= 0:
        return _MOST_LOG_WEIGHT
    from scipy.optimize import brentq  # slow to import

    return float(brentq(excess, -_MOST_LOG_WEIGHT, _MOST_LOG_WEIGHT, xtol=1e-10))


def _correlation(log_weight: float, rate: float) -> float:
    """Correlation of a chain with this strike rate whose odds ratio is exp(-2 log_weight)."""

    def gap(r: float) -> float:
        after, other = rate + r * (1 - rate), rate * (1 - r)
        return float(logit(after) - logit(other) + 2 * log_weight)

    lowest = -min(rate / (1 - rate), (1 - rate) / rate)
    from scipy.optimize import brentq  # slow to import

    return float(brentq(gap, lowest * (1 - 1e-9), 1 - 1e-9, xtol=1e-12))


def score_spread(first: Floats, second: Floats, correlation: float) -> Floats:
    """Standard deviation of one game's score if neighbouring frames' strikes have this correlation (exact).

    ``first`` (..., 11) and ``second`` (..., 11, 11) as in ``pipeline.sport.score_distribution``; (...) out.
    """
    distribution = streaky_distribution(first, second, correlation)
    scores = np.arange(MAX_SCORE + 1)
    mean = distribution @ scores
    return np.asarray(np.sqrt((distribution * (scores - mean[..., None]) ** 2).sum(axis=-1)), dtype=float)
