"""Posterior draws of the rates of a ball on a line - strike, leave and spare together - and of its mean score.

A game's frames are taken as alike and independent, so its mean has a closed form: the fill balls of the tenth frame
are the bonus balls of any other, and the mean game is ten times the mean frame.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.inference.batches import batches_of_draws
from pipeline.models.fits import Fits
from pipeline.models.fitted import once
from pipeline.models.strikes.strike_worth import Playing
from pipeline.pricing.grid import complete_grid, leave_rows
from pipeline.pricing.leaves_and_spares import second_ball


@dataclass(frozen=True)
class RateDraws:
    """Draws of the rates behind a score; all arrays of one shape, axis 0 the draw.

    Attributes:
        strike: probability of a strike on a first delivery.
        spare: probability of a spare given no strike.
        first_pins: mean pinfall of a first delivery given no strike.
        open_pins: mean pinfall of a frame given no strike, counting open frames only (a spare adds 0).
    """

    strike: np.ndarray
    spare: np.ndarray
    first_pins: np.ndarray
    open_pins: np.ndarray

    def score(self) -> np.ndarray:
        """Expected score of a game bowled at these rates throughout."""
        rates = self.strike, self.spare, self.first_pins, self.open_pins
        if self.strike.ndim < 2:
            return expected_score(*rates)
        out = np.empty_like(self.strike)
        for draws in batches_of_draws(*self.strike.shape):
            out[draws] = expected_score(*(rate[draws] for rate in rates))
        return out


def expected_score(
    strike: np.ndarray | float,
    spare: np.ndarray | float,
    first_pins: np.ndarray | float,
    open_pins: np.ndarray | float,
) -> np.ndarray:
    """Mean score of a game, ten times the mean frame with its bonus; arguments as in ``RateDraws``, any shapes."""
    p, s = np.asarray(strike), np.asarray(spare)
    none = 1 - p
    one_ball = 10 * p + none * first_pins
    no_strike = 10 * s + open_pins
    two_balls = p * (10 + one_ball) + none * no_strike
    mean: np.ndarray = 10 * (p * (10 + two_balls) + none * (no_strike + s * one_ball))
    return mean


def followed_rate_draws(
    fits: Fits, grid: pd.DataFrame, cell: np.ndarray, weight: np.ndarray, kept: RateDraws | None = None
) -> RateDraws:
    """Draws (n_draws, rows) of the rates of each row's ball, its line following the lane as the bowler does.

    Args:
        fits: the season's models.
        grid: as in ``price``; the rows of one ``cell`` differ in their line alone.
        cell: (rows,) number of the ball's cell, 0 and up.
        weight: (rows,) how often the bowler ends up on each of its lines; positive.
        kept: the rates of the same rows with their lines kept, if known; all but strikes are the same.
    """
    if kept is None:
        rates = rate_draws(fits, grid, "followed")
    else:
        rates = replace(kept, strike=strike_draws(fits, grid, "followed"))
    return replace(rates, strike=mean_in_cells(rates.strike, cell, weight))


def mean_in_cells(draws: np.ndarray, cell: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """The weighted mean of each row's cell, draw by draw.

    Shapes: (n, rows), (rows,) counted from 0 and (rows,), positive in sum over each cell -> (n, rows).
    """
    share = weight / np.bincount(cell, weight)[cell]
    by_cell: np.ndarray = draws @ sparse.csr_array((share, (np.arange(len(cell)), cell)))
    return by_cell[:, cell]


def rate_draws(fits: Fits, grid: pd.DataFrame, line: Playing = "kept", strike: np.ndarray | None = None) -> RateDraws:
    """Draws (n_draws, rows) of the rates of each row of a grid (as in ``price``); ``line`` as in the worth model.

    ``strike``: the result of ``strike_draws`` for these rows, if known.
    """
    grid = complete_grid(fits, grid.reset_index(drop=True))
    if strike is None:
        strike = _strikes(fits, grid, line)
    distinct, codes = leave_rows(grid)
    types = fits.leave.type_draws(distinct, fits.n_draws, fits.generator("leave"))
    parts = np.empty((3, fits.n_draws, len(distinct)))
    for bowler in distinct["bowler"].unique():
        rows = np.flatnonzero(distinct["bowler"] == bowler)
        parts[:, :, rows] = np.einsum(
            "nrt,qnt->qnr", types[:, rows], second_ball(fits, str(bowler)).by_type, optimize=True
        )
    spare, first_pins, open_pins = np.take(parts, codes, axis=2)
    return RateDraws(strike, spare, first_pins, open_pins)


def strike_draws(fits: Fits, grid: pd.DataFrame, line: Playing = "kept") -> np.ndarray:
    """Draws (n_draws, rows) of the probability of a strike on a first delivery; arguments as in ``rate_draws``."""
    return _strikes(fits, complete_grid(fits, grid.reset_index(drop=True)), line)


def _strikes(fits: Fits, grid: pd.DataFrame, line: Playing) -> np.ndarray:
    """The same of a complete grid."""
    return fits.worth.strike_draws(grid, fits.n_draws, fits.generator("worth"), line)


def average_rates(fits: Fits, bowler: str) -> RateDraws:
    """Draws (n_draws,) of a bowler's rates at the season's mix: averages of each rate over the first deliveries.

    Raises:
        ValueError: the bowler has no logged first delivery.
    """
    return _season_average(fits, bowler)[0]


def usual_rates(fits: Fits, bowler: str) -> RateDraws:
    """The same on pairs with the load that is usual in each game; arguments and errors as in ``average_rates``."""
    return _average(fits, _mix(fits, bowler).drop(columns="pair_load"))[0]


def average_score(fits: Fits, bowler: str) -> np.ndarray:
    """Draws (n_draws,) of the bowler's expected game score, averaged over the mix logged in the season.

    Raises:
        ValueError: the bowler has no logged first delivery.
    """
    return _season_average(fits, bowler)[1]


@once()
def _season_average(fits: Fits, bowler: str) -> tuple[RateDraws, np.ndarray]:
    """The bowler's rates and average score over the season's mix."""
    return _average(fits, _mix(fits, bowler))


def _mix(fits: Fits, bowler: str) -> pd.DataFrame:
    mix = fits.mix.cells
    mine = mix[mix["bowler"] == bowler]
    if mine.empty:
        raise ValueError(f"{bowler!r} has no logged first delivery, so there is no average to measure against")
    return mine


def _average(fits: Fits, mine: pd.DataFrame) -> tuple[RateDraws, np.ndarray]:
    rates, weight = rate_draws(fits, mine, "followed"), mine["weight"].to_numpy(float)
    missed = (1 - rates.strike) * weight
    missed = missed / missed.sum(axis=1, keepdims=True)
    others = [(values * missed).sum(axis=1) for values in (rates.spare, rates.first_pins, rates.open_pins)]
    return RateDraws(rates.strike @ weight, *others), rates.score() @ weight
