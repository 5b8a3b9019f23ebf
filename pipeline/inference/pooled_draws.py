"""Draws of a few measured quantities, partially pooled towards their common mean.

The normal hierarchical model with known measurement covariance: y ~ N(theta, V), theta ~ N(mu, tau^2 I),
mu ~ N(0, s^2), tau half-Cauchy. Means are conjugate; tau is integrated over a grid, so that few units do not make
tau look zero (Gelman et al., Bayesian Data Analysis, chapter 5, from memory).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import softmax

from pipeline.arrays import Floats

_GRID = 40


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
    kept = tau[:, None] ** 2 / (values[None, :] + tau[:, None] ** 2)
    centre = ones[None, :] * mu[:, None]
    rotated = centre + kept * (z[None, :] - centre) + np.sqrt(kept * values) * rng.standard_normal((n, len(y)))
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
