"""What a ball on a line is worth: draws of strike, leave and spare turned into pins per game and P(200)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.models.fits import Fits
from pipeline.pricing.rate_draws import RateDraws, average_score, followed_rate_draws, rate_draws
from pipeline.pricing.score_chances import reaches


@dataclass(frozen=True)
class Priced:
    """Posterior draws for the rows of a grid, in the grid's order; axis 0 is the draw.

    Attributes:
        pins: (n, rows) worth in pins per game against the bowler's own average at the season's mix.
        score: (n, rows) expected score of a game bowled at these rates throughout.
        strike: (n, rows) probability of a strike on a first delivery.
        spare: (n, rows) probability of a spare given no strike.
        p200: (n, rows) probability that such a game reaches 200.
        average_score: bowler -> (n,) expected game score at the bowler's own logged mix of the season.
    """

    pins: np.ndarray
    score: np.ndarray
    strike: np.ndarray
    spare: np.ndarray
    p200: np.ndarray
    average_score: dict[str, np.ndarray]


def price(fits: Fits, grid: pd.DataFrame, n: int | None = None) -> Priced:
    """Price every row of ``grid``.

    Args:
        fits: the season's models.
        grid: columns bowler, pattern_class, game, ball, line; optional ball_class, phase, length_ft, volume_ml,
            ratio, pair_load. Any index; rows may repeat. Phase and ball class are filled in if missing.
        n: draws, at most ``fits.n_draws`` (the default); fewer are the first ones of the whole.

    Raises:
        ValueError: a bowler without a logged first delivery, who has no own average.
    """
    grid = grid.reset_index(drop=True)
    return _priced(fits, grid, rate_draws(fits, grid), n)


def _priced(fits: Fits, grid: pd.DataFrame, rates: RateDraws, n: int | None = None) -> Priced:
    bowlers = grid["bowler"].astype(str)
    averages = {bowler: average_score(fits, bowler) for bowler in bowlers.unique()}
    score = rates.score()
    pins_worth, p200 = np.empty_like(score), np.empty_like(score)
    for bowler, average in averages.items():
        rows = np.flatnonzero(bowlers == bowler)
        mine = score[:, rows]
        p200[:, rows] = reaches(fits, bowler, rates.strike[:, rows], mine, 200)
        pins_worth[:, rows] = mine - average[:, None]
    keep = slice(0, fits.n_draws if n is None else min(n, fits.n_draws))
    return Priced(
        pins=pins_worth[keep],
        score=score[keep],
        strike=rates.strike[keep],
        spare=rates.spare[keep],
        p200=p200[keep],
        average_score={bowler: draws[keep] for bowler, draws in averages.items()},
    )


def price_both(fits: Fits, grid: pd.DataFrame, cell: np.ndarray, weight: np.ndarray) -> tuple[Priced, Priced]:
    """Price every row with its line kept, as ``price`` does, and the ball of each row with its line following the lane;
    arguments as in ``followed_rate_draws``."""
    grid = grid.reset_index(drop=True)
    kept = rate_draws(fits, grid)
    return _priced(fits, grid, kept), _priced(fits, grid, followed_rate_draws(fits, grid, cell, weight, kept))
