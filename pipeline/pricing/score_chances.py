"""The spread of one game's score about its mean: the chance of reaching a score, its sd, the whole distribution.

The exact distribution is a polynomial in the chances of a strike and of a spare; each bowler has one.
"""

from __future__ import annotations

import numpy as np

from pipeline.inference.batches import batches_of_draws
from pipeline.models.fits import Fits
from pipeline.models.fitted import once
from pipeline.pricing.grid import complete_grid, leave_rows
from pipeline.pricing.leaves_and_spares import second_ball, type_matrix
from pipeline.pricing.rate_draws import expected_score
from pipeline.sport.score_distribution import ScoreSurface


def reaches(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray, at_least: int) -> np.ndarray:
    """Probability that one game reaches ``at_least``; arrays of one shape in and out.

    Args:
        fits: the season's models.
        bowler: whose first and second balls the distribution is built from.
        strike: probability of a strike.
        score: expected score; the spare rate of the distribution is the one that has this mean.
        at_least: the score to reach.
    """
    surface, strikes, scores = _surface(fits, bowler)[0], np.ravel(strike), np.ravel(score)
    out = np.empty(len(strikes))
    for some in batches_of_draws(len(strikes), 1):
        out[some] = surface.at_least(at_least, *_rates_of(fits, bowler, strikes[some], scores[some]))
    return out.reshape(np.shape(strike))


def score_sd(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray) -> np.ndarray:
    """Standard deviation of one game's score about its mean; arrays of one shape in and out, as in ``reaches``."""
    return _surface(fits, bowler)[0].sd(*_rates_of(fits, bowler, strike, score))


def score_histogram(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray) -> np.ndarray:
    """P(score = k), k = 0..300, of one game, averaged over every draw in ``strike`` and ``score`` (one shape)."""
    strike, spare = _rates_of(fits, bowler, strike, score)
    histogram = _surface(fits, bowler)[0].mean_distribution(strike, spare)
    shares: np.ndarray = histogram / histogram.sum()
    return shares


def _rates_of(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rates of strike and spare a score surface takes, of one shape; the mean is linear in the spare rate."""
    _, first_pins, open_pins = _surface(fits, bowler)
    none_spared = expected_score(strike, 0.0, first_pins, open_pins)
    all_spared = expected_score(strike, 1.0, first_pins, 0.0)
    return np.clip(strike, 0.0, 1.0), np.clip((score - none_spared) / (all_spared - none_spared), 0.0, 1.0)


@once()
def _surface(fits: Fits, bowler: str) -> tuple[ScoreSurface, float, float]:
    """The bowler's score distribution, with its mean first pinfall without a strike and mean open frame."""
    mix = fits.mix.cells
    mine = complete_grid(fits, mix[mix["bowler"] == bowler].reset_index(drop=True))
    distinct, codes = leave_rows(mine)
    types = fits.leave.type_draws(distinct, fits.n_draws, fits.generator("leave")).mean(axis=0)
    second = second_ball(fits, bowler)
    weight = second.share * (type_matrix(fits) @ (np.bincount(codes, weights=mine["weight"]) @ types))
    open_first, miss_second = _pinfall(weight / weight.sum(), second.made, second.standing, second.left)
    first_pins = float(open_first @ np.arange(10))
    second_pins = float(open_first @ (miss_second @ np.arange(11)))
    return ScoreSurface(open_first, miss_second), first_pins, first_pins + second_pins


def _pinfall(
    weight: np.ndarray, made: np.ndarray, standing: np.ndarray, left: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """First pinfall without a strike (10,) and second pinfall of a miss (10, 11) from a mix of leaves.

    A miss leaves a whole number of pins: the two next to its mean, in the proportion that has that mean.
    """
    first = (10 - standing).astype(int)
    open_first = np.bincount(first, weights=weight, minlength=10)
    second = np.zeros((10, 11))
    felled = np.clip(standing - left, 0.0, standing - 1)
    low = np.floor(felled).astype(int)
    np.add.at(second, (first, low), weight * (1 - made) * (1 - (felled - low)))
    np.add.at(second, (first, np.minimum(low + 1, 10)), weight * (1 - made) * (felled - low))
    totals = second.sum(axis=1, keepdims=True)
    second[totals[:, 0] <= 0, 0] = 1.0
    return open_first, second / np.where(totals > 0, totals, 1.0)
