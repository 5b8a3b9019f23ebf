"""How the posterior of the log sds is shaped, from a few values about its mode, and points drawn from that shape.

A weakly identified standard deviation can be near zero. On a log scale its density then falls towards zero only as the
sd itself, with slope one, and a normal approximation on that scale overestimates it. Below the mode the log density is
therefore taken to fall, at distance t, by

    (e^t - 1 - t) + bend (e^t - 1)^2,

which is exact for a sd that is normal and truncated at zero. Above it, where a few levels leave a long tail and many a
short one, it falls as that of the log of a power of a gamma variable does (Prentice, Biometrika 61, 1974, from memory):

    size (e^(-rate t) - 1 + rate t),

near a straight line for a high rate, a parabola for one near zero and steeper still below zero. The axes are joined
by a normal copula with the correlation of the log sds at the mode.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import norm, qmc

from pipeline.inference.mixed_logit.arrowhead import Floats

LOOSEST_LOG_SD = 1.5
"""Largest sd of a log sd that is reckoned with: beyond that the data say nothing."""
_LEAST_BEND = -0.4  # else the density would not have its mode where it is
_FARTHEST = 14.0  # from the mode, in logs: at most a millionth of the mass lies beyond
_TABLE = 400  # points of either half by which a distribution is inverted
_HIGHEST = 500.0  # of an exponent
_RATES = np.concatenate([-np.geomspace(20.0, 1e-3, 400), np.geomspace(1e-3, 20.0, 400)])  # times the step
_ELASTICITY = _RATES * -np.expm1(-_RATES) / (np.expm1(-_RATES) + _RATES)  # slope of the fall, relative, along its log


@dataclass(frozen=True)
class Falls:
    """What one step up and down each axis (size,) showed: the log density's falls, and after the step up its slope."""

    steps: Floats
    up: Floats
    down: Floats
    slope_up: Floats


@dataclass(frozen=True)
class Shape:
    """The posterior about its mode: the ``bend`` of each axis below, ``size`` and ``rate`` above, (axes,)."""

    bend: Floats
    size: Floats
    rate: Floats
    correlation: Floats

    def falls(self, away: Floats) -> Floats:
        """Falls of the log density at distances from the mode (..., axes), axis by axis."""
        below, above = np.minimum(away, 0.0), np.maximum(away, 0.0)
        fallen: Floats = fall_below(below, self.bend) + fall_above(above, self.size, self.rate)
        return fallen

    def points(self, count: int) -> tuple[Floats, Floats]:
        """Quasi-random points: distances from the mode (count, axes), and what the copula adds to each log density."""
        axes = len(self.bend)
        sobol = qmc.Sobol(axes, seed=0).random(1 << max(1, (count - 1).bit_length()))[:count]
        spread = norm.ppf(np.clip(sobol, 1e-6, 1 - 1e-6))
        # So few points miss the far ends; with the mean and sd they stand for, they tell the size of a sd far better.
        spread = (spread - spread.mean(axis=0)) / spread.std(axis=0)
        normal = spread @ np.linalg.cholesky(self.correlation).T
        joined = np.einsum("ni,ij,nj->n", normal, np.linalg.inv(self.correlation), normal) - (normal**2).sum(axis=1)
        axis = zip(norm.cdf(normal).T, self.bend, self.size, self.rate, strict=True)
        return np.column_stack([quantiles(*one) for one in axis]), -0.5 * joined


def fall_below(away: Floats, bend: Floats | float) -> Floats:
    """How far the log density has fallen at distances ``away`` <= 0."""
    more = np.expm1(away)
    fallen: Floats = more - away + bend * more**2
    return fallen


def fall_above(away: Floats, size: Floats | float, rate: Floats | float) -> Floats:
    """How far the log density has fallen at distances ``away`` >= 0."""
    along = np.maximum(rate * away, -_HIGHEST)
    fallen: Floats = size * (np.expm1(-along) + along)
    return fallen


def bends(seen: Falls) -> Floats:
    """The bends below the mode by which the falls seen come about."""
    more = np.expm1(-seen.steps)
    found: Floats = (seen.down - (more + seen.steps)) / more**2
    return found


def sizes_and_rates(seen: Falls) -> tuple[Floats, Floats]:
    """Size and rate above the mode by which the falls seen, and the slopes there, come about."""
    elasticity = seen.slope_up * seen.steps / seen.up
    along = np.interp(elasticity, _ELASTICITY[::-1], _RATES[::-1])
    return seen.up / (np.expm1(-along) + along), along / seen.steps


def shape(seen: Falls, curvature: Floats) -> Shape:
    """The shape from the falls along each axis, and the curvature off the diagonal (axes, axes)."""
    least = 0.5 * (seen.steps / LOOSEST_LOG_SD) ** 2
    seen = replace(seen, up=np.maximum(seen.up, least))
    above, below = (seen.steps / np.sqrt(2.0 * fallen) for fallen in (seen.up, np.maximum(seen.down, least)))
    along = 2.0 / (above + below)
    curvature = (curvature + curvature.T) / 2
    np.fill_diagonal(curvature, along**2)
    values, vectors = np.linalg.eigh(curvature)
    covariance = (vectors / np.maximum(values, LOOSEST_LOG_SD**-2)) @ vectors.T
    sd = np.sqrt(np.diag(covariance))
    wider = (sd * along) ** 2  # an axis is looser where the others may move with it
    bend = np.maximum(((1.0 + 2.0 * bends(seen)) / wider - 1.0) / 2.0, _LEAST_BEND)  # the curvature is 1 + 2 bend
    size, rate = sizes_and_rates(seen)
    return Shape(bend, size / wider, rate, covariance / np.outer(sd, sd))


def quantiles(share: Floats, bend: float, size: float, rate: float) -> Floats:
    """Distances from the mode (points,) below which those shares of one axis lie."""
    left, right = -_half(1.0 + 2.0 * bend)[::-1], _half(size * rate**2)
    away = np.concatenate([left, right[1:]])
    density = np.exp(-np.concatenate([fall_below(left, bend), fall_above(right[1:], size, rate)]))
    mass = np.concatenate([[0.0], np.cumsum(np.diff(away) * (density[1:] + density[:-1]) / 2)])
    found: Floats = np.interp(share, mass / mass[-1], away)
    return found


def _half(curvature: float) -> Floats:
    """Distances from the mode, close together near it."""
    width = curvature**-0.5
    return width * np.sinh(np.linspace(0.0, np.arcsinh(_FARTHEST / width), _TABLE))
