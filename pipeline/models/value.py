"""What a ball on a line is worth: posterior draws of strike, leave and spare turned into pins per game."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from pipeline.models.fits import Fits


@dataclass(frozen=True)
class Priced:
    """Posterior draws for the rows of a grid, in the grid's order; axis 0 is the draw.

    Attributes:
        pins: (n, rows) worth in pins per game against the bowler's own average at the season's mix.
        score: (n, rows) expected score of a game bowled at this level throughout.
        strike: (n, rows) probability of a strike on a first delivery.
        spare: (n, rows) probability of a spare given no strike.
        p200: (n, rows) probability that such a game reaches 200.
        own_average: bowler -> (n,) expected game score at the bowler's own logged mix of the season.
    """

    pins: np.ndarray
    score: np.ndarray
    strike: np.ndarray
    spare: np.ndarray
    p200: np.ndarray
    own_average: dict[str, np.ndarray]


def price(fits: Fits, grid: pd.DataFrame, n: int | None = None) -> Priced:
    """Price every row of ``grid``.

    Args:
        fits: the season's models.
        grid: columns bowler, pattern_class, game, ball, line; optional ball_class, phase, length_ft, volume_ml,
            ratio, pair_load. Any index; rows may repeat.
        n: draws, at most ``fits.n_draws`` (the default).
    """
    raise NotImplementedError
