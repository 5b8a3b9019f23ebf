"""Partial pooling on the normal scale: many noisy averages drawn toward their common mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Pooled:
    """Averages after pooling.

    Attributes:
        mean: the common mean.
        sd: sd of the true values around it.
        weight: (k,) share of each average's own distance from the mean that is kept, 0 to 1.
        value: (k,) pooled values, ``mean + weight * (average - mean)``.
    """

    mean: float
    sd: float
    weight: np.ndarray
    value: np.ndarray


def pool_normal(averages: np.ndarray, variances: np.ndarray) -> Pooled:
    """Pool ``averages`` (k,) whose sampling ``variances`` (k,) are known and positive.

    The variance between true values solves sum((y - mean)^2 / (V + sd^2)) = k - 3, or k - 1 where k is 3 or less.
    With equal variances that keeps 1 - (k - 3) V / SS of each distance, the estimator of Efron and Morris, J. Am.
    Stat. Assoc. 70 (1975) 311-319; unequal variances follow by weighting.

    Raises:
        ValueError: no averages, or a variance that is not positive.
    """
    y, v = np.asarray(averages, float), np.asarray(variances, float)
    if len(y) == 0 or (v <= 0).any():
        raise ValueError("pooling needs at least one average, each with a positive variance")
    freedom = len(y) - 3 if len(y) > 3 else len(y) - 1

    def mean_at(between: float) -> float:
        return float(np.average(y, weights=1 / (v + between)))

    def excess(between: float) -> float:
        return float(((y - mean_at(between)) ** 2 / (v + between)).sum()) - freedom

    between = 0.0
    if freedom > 0 and excess(0.0) > 0:
        upper = float(((y - y.mean()) ** 2).sum()) / freedom + float(v.max())
        while excess(upper) > 0:
            upper *= 2
        from scipy.optimize import brentq  # slow to import

        between = float(brentq(excess, 0.0, upper, xtol=1e-15))
    mean = mean_at(between)
    weight = between / (v + between)
    return Pooled(
        mean=mean,
        sd=float(np.sqrt(between)),
        weight=weight,
        value=mean + weight * (y - mean),
    )
