"""What a change of the strike probability is worth in pins per game, near each bowler's own level."""

from __future__ import annotations

import numpy as np

from pipeline.decisions.candidates import candidates
from pipeline.models.fits import Fits
from pipeline.models.season import Season


def pins_per_strike(season: Season, fits: Fits) -> dict[str, float]:
    """Bowler -> pins per game for each unit of strike probability.

    The slope of the exact expected score in the strike probability at the bowler's own spare shooting, by least
    squares over the priced choices and draws: the score is a smooth function of the two, so the fit is close.
    """
    found = fits.cache.get("pins_per_strike")
    if isinstance(found, dict):
        return found
    choices = candidates(season, fits)
    result: dict[str, float] = {}
    for bowler, at in choices.rows.groupby("bowler", sort=True).indices.items():
        strike = choices.priced.strike[:, at].ravel()
        spare = choices.priced.spare[:, at].ravel()
        X = np.column_stack([np.ones(len(strike)), strike - strike.mean(), spare - spare.mean()])
        slope = np.linalg.lstsq(X, choices.priced.score[:, at].ravel(), rcond=None)[0]
        result[str(bowler)] = float(slope[1])
    fits.cache["pins_per_strike"] = result
    return result
