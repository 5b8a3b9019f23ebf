"""How the posterior of the log sds is shaped, from a few values about its mode, and points drawn from that shape.

A weakly identified standard deviation can be near zero. On a log scale its density then falls towards zero only as the
sd itself, with slope one, and a normal approximation on that scale overestimates it. Below the mode the log density is
therefore taken to fall, at distance t, by

    (e^t - 1 - t) + lower_curvature (e^t - 1)^2,

which is exact for a sd that is normal and truncated at zero. Above it, where a few levels leave a long tail and many a
short one, it falls as that of the log of a power of a gamma variable does (Prentice, Biometrika 61, 1974, from memory):

    size (e^(-rate t) - 1 + rate t),

near a straight line for a high rate, a parabola for one near zero and steeper still below zero. The axes are joined
by a normal copula with the correlation of the log sds at the mode.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from pipeline.arrays import Floats

LOOSEST_LOG_SD = 1.5
"""Largest sd of a log sd that is reckoned with: beyond that the data say nothing."""
_LEAST_CURVATURE = -0.4  # else the density would not have its mode where it is
_FARTHEST = 14.0  # from the mode, in logs: at most a millionth of the mass lies beyond
_TABLE = 400  # points of either half by which a distribution is inverted
_HIGHEST = 500.0  # of an exponent
_RATES = np.concatenate([-np.geomspace(20.0, 1e-3, 400), np.geomspace(1e-3, 20.0, 400)])  # times the step
_ELASTICITY = _RATES * -np.expm1(-_RATES) / (np.expm1(-_RATES) + _RATES)  # slope of the fall, relative, along its log


@dataclass(frozen=True)
class AxisProfile:
    """What one step up and down each axis (size,) showed: the log density's falls, and after the step up its slope."""

    steps: Floats
    up: Floats
    down: Floats
    slope_up: Floats


@dataclass(frozen=True)
class HyperPosterior:
    """The posterior about its mode: ``lower_curvature`` below it, ``size`` and ``rate`` above, each (axes,)."""

    lower_curvature: Floats
    size: Floats
    rate: Floats
    correlation: Floats

    def log_drop(self, away: Floats) -> Floats:
        """Falls of the log density at distances from the mode (..., axes), axis by axis."""
        below, above = np.minimum(away, 0.0), np.maximum(away, 0.0)
        drop: Floats = lower_tail(below, self.lower_curvature) + upper_tail(above, self.size, self.rate)
        return drop

    def points(self, count: int) -> tuple[Floats, Floats]:
        """Quasi-random points: distances from the mode (count, axes), and what the copula adds to each log density."""
        axes = len(self.lower_curvature)
        from scipy.stats import qmc  # slow to import

        sobol = qmc.Sobol(axes, seed=0).random(1 << max(1, (count - 1).bit_length()))[:count]
        spread = ndtri(np.clip(sobol, 1e-6, 1 - 1e-6))
        # So few points miss the far ends; with the mean and sd they stand for, they tell the size of a sd far better.
        spread = (spread - spread.mean(axis=0)) / spread.std(axis=0)
        normal = spread @ np.linalg.cholesky(self.correlation).T
        copula = np.einsum("ni,ij,nj->n", normal, np.linalg.inv(self.correlation), normal) - (normal**2).sum(axis=1)
        axis = zip(ndtr(normal).T, self.lower_curvature, self.size, self.rate, strict=True)
        return np.column_stack([quantiles(*one) for one in axis]), -0.5 * copula


def lower_tail(away: Floats, lower_curvature: Floats | float) -> Floats:
    """How far the log density has fallen at distances ``away`` <= 0."""
    more = np.expm1(away)
    drop: Floats = more - away + lower_curvature * more**2
    return drop


def upper_tail(away: Floats, size: Floats | float, rate: Floats | float) -> Floats:
    """How far the log density has fallen at distances ``away`` >= 0."""
    along = np.maximum(rate * away, -_HIGHEST)
    drop: Floats = size * (np.expm1(-along) + along)
    return drop


def fit_lower(profile: AxisProfile) -> Floats:
    """``lower_curvature`` of each axis, from the falls in ``profile``."""
    more = np.expm1(-profile.steps)
    curvature: Floats = (profile.down - (more + profile.steps)) / more**2
    return curvature


def fit_upper(profile: AxisProfile) -> tuple[Floats, Floats]:
    """``size`` and ``rate`` of each axis, from the falls in ``profile`` and the slopes there."""
    elasticity = profile.slope_up * profile.steps / profile.up
    along = np.interp(elasticity, _ELASTICITY[::-1], _RATES[::-1])
    return profile.up / (np.expm1(-along) + along), along / profile.steps


def fit_hyperposterior(profile: AxisProfile, curvature: Floats) -> HyperPosterior:
    """The shape from the falls along each axis, and the curvature off the diagonal (axes, axes)."""
    least = 0.5 * (profile.steps / LOOSEST_LOG_SD) ** 2
    profile = replace(profile, up=np.maximum(profile.up, least))
    above, below = (profile.steps / np.sqrt(2.0 * drop) for drop in (profile.up, np.maximum(profile.down, least)))
    along = 2.0 / (above + below)
    curvature = (curvature + curvature.T) / 2
    np.fill_diagonal(curvature, along**2)
    values, vectors = np.linalg.eigh(curvature)
    covariance = (vectors / np.maximum(values, LOOSEST_LOG_SD**-2)) @ vectors.T
    sd = np.sqrt(np.diag(covariance))
    wider = (sd * along) ** 2  # an axis is looser where the others may move with it
    second = (1.0 + 2.0 * fit_lower(profile)) / wider  # second derivative at the mode: 1 + 2 lower_curvature
    lower_curvature = np.maximum((second - 1.0) / 2.0, _LEAST_CURVATURE)
    size, rate = fit_upper(profile)
    return HyperPosterior(lower_curvature, size / wider, rate, covariance / np.outer(sd, sd))


def quantiles(share: Floats, lower_curvature: float, size: float, rate: float) -> Floats:
    """Distances from the mode (points,) below which those shares of one axis lie."""
    left, right = -_half(1.0 + 2.0 * lower_curvature)[::-1], _half(size * rate**2)
    away = np.concatenate([left, right[1:]])
    density = np.exp(-np.concatenate([lower_tail(left, lower_curvature), upper_tail(right[1:], size, rate)]))
    mass = np.concatenate([[0.0], np.cumsum(np.diff(away) * (density[1:] + density[:-1]) / 2)])
    distances: Floats = np.interp(share, mass / mass[-1], away)
    return distances


def _half(curvature: float) -> Floats:
    """Distances from the mode, close together near it."""
    width = curvature**-0.5
    return width * np.sinh(np.linspace(0.0, np.arcsinh(_FARTHEST / width), _TABLE))
