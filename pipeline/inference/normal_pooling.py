"""Partial pooling on the normal scale: noisy quantities drawn toward their common mean.

One model, y ~ N(theta, V) and theta ~ N(mu, tau^2 I), in two forms: ``pool_normal`` gives pooled values with tau
estimated, for many units; ``pool_draws`` gives draws with tau integrated over a grid, so that few units do not make it
look zero (Gelman et al., Bayesian Data Analysis, chapter 5, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import softmax

from pipeline.arrays import Floats

_GRID = 40  # values of tau


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

    The variance between true values solves sum((y - mean)^2 / (V + sd^2)) = k - 3, or k - 1 if k is 3 or less.
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


def _tau_grid(scale: float) -> Floats:
    """Midpoints of equal shares of the half-Cauchy with that scale, so that its prior gives each the same weight."""
    return scale * np.tan(np.pi / 2 * (np.arange(_GRID) + 0.5) / _GRID)


def pool_draws(
    measured: npt.ArrayLike,
    covariance: npt.ArrayLike,
    n: int,
    rng: np.random.Generator,
    *,
    mean_sd: float,
    spread_scale: float,
    least_spread: float = 0.0,
) -> Floats:
    """Draw the true quantities given their measurements: (n, k).

    Args:
        measured: shape (k,), in the unit of the quantity.
        covariance: shape (k, k), sampling covariance of ``measured``.
        n: number of draws.
        rng: generator of the draws.
        mean_sd: prior sd of the common mean around zero.
        spread_scale: scale of the half-Cauchy prior of tau, the spread of true quantities around their mean.
        least_spread: what tau is known to exceed, for quantities that are never all alike.

    Raises:
        ValueError: shapes do not match or a value is not finite.
    """
    y = np.asarray(measured, dtype=float)
    V = np.asarray(covariance, dtype=float)
    if y.ndim != 1 or V.shape != (len(y), len(y)):
        raise ValueError(f"expected shapes (k,) and (k, k), found {y.shape} and {V.shape}")
    if not (np.isfinite(y).all() and np.isfinite(V).all()):
        raise ValueError("measurements or their covariance are not finite")
    if len(y) == 0:
        return np.empty((n, 0))
    # One eigenbasis of V serves every tau: there, V + tau^2 I is diagonal.
    values, basis = np.linalg.eigh((V + V.T) / 2)
    values = np.maximum(values, 1e-12 * max(float(values.max()), 1e-12))
    ones, z = basis.sum(axis=0), y @ basis
    tau, mu = _draw_common(values, ones, z, n, rng, mean_sd, least_spread + _tau_grid(spread_scale))
    weight = tau[:, None] ** 2 / (values[None, :] + tau[:, None] ** 2)
    centre = ones[None, :] * mu[:, None]
    rotated = centre + weight * (z[None, :] - centre) + np.sqrt(weight * values) * rng.standard_normal((n, len(y)))
    result: Floats = rotated @ basis.T
    return result


def _draw_common(
    values: Floats,
    ones: Floats,
    z: Floats,
    n: int,
    rng: np.random.Generator,
    mean_sd: float,
    taus: Floats,
) -> tuple[Floats, Floats]:
    """Draws of tau and of the common mean, (n,) each, in the eigenbasis of the measurements."""
    total = values[None, :] + taus[:, None] ** 2
    precision = (ones**2 / total).sum(axis=1) + 1 / mean_sd**2
    mean = (ones * z / total).sum(axis=1) / precision
    log_weight = -0.5 * (
        np.log(total).sum(axis=1) + np.log(precision) + (z**2 / total).sum(axis=1) - mean**2 * precision
    )
    pick = rng.choice(len(taus), size=n, p=softmax(log_weight))
    return taus[pick], mean[pick] + rng.standard_normal(n) / np.sqrt(precision[pick])
