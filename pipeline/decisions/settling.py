"""How many more shots a question takes, by normal approximation: what is known now, and what one shot more says.

Of a difference known as N(m, s^2), n shots that each say it with variance v leave the variance 1 / (1/s^2 + n/v); its
mean will then lie about m with the variance taken away (the preposterior of a normal mean, Raiffa & Schlaifer, Applied
Statistical Decision Theory, 1961, from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Draws = NDArray[np.float64]

MOST_SHOTS = 9999
"""More than anybody logs to settle one question; what takes more is said to take more than this."""
_SIZES = np.unique(np.round(np.geomspace(1, MOST_SHOTS, 120)))
_NODES = norm.ppf((np.arange(200) + 0.5) / 200)  # equally likely places of the mean to come


def noise_of_one_shot(pins: Draws, strike: Draws) -> float:
    """Variance, in pins squared, of what one shot says: a strike or none, at the slope of pins on the strike rate.

    ``pins`` and ``strike``: (n,) draws of one choice.
    """
    spread = float(strike.var())
    slope = float(((pins - pins.mean()) * (strike - strike.mean())).mean()) / spread if spread > 0 else 0.0
    rate = float(strike.mean())
    return slope**2 * rate * (1 - rate)


def shots_to_narrow(sd: float, noise: float, target: float) -> int:
    """Shots that bring a standard deviation from ``sd`` down to ``target``; at most ``MOST_SHOTS``, 0 where it is met.

    ``noise``: variance of what one shot says.
    """
    if sd <= target:
        return 0
    more = noise * (1 / target**2 - 1 / sd**2) if target > 0 else math.inf
    return math.ceil(min(more, MOST_SHOTS))


def shots_to_settle(
    mean: float, sd: float, noise: float, sure: float, little: float = 0.0, open_to: float = 1.0
) -> int:
    """Shots after which a difference is settled with probability ``sure``; at most ``MOST_SHOTS``, 0 where it is.

    It is settled once its sign is as sure as that, or once knowing it for sure would gain no more than ``little``.

    Args:
        mean, sd: of the difference as it is known now.
        noise: variance of what one shot says of it.
        sure: probability, above one half.
        little: in the unit of the difference.
        open_to: share of its variance that such shots can take away at all.
    """
    if _settled(np.array(mean), np.array(sd), sure, little):
        return 0
    within = open_to * sd**2
    taken = within**2 / (within + noise / _SIZES) if within > 0 else np.zeros(len(_SIZES))
    then = mean + np.sqrt(taken)[:, None] * _NODES
    chance = _settled(then, np.sqrt(np.maximum(sd**2 - taken, 0))[:, None], sure, little).mean(axis=1)
    enough = np.flatnonzero(chance >= sure)
    return int(_SIZES[enough[0]]) if len(enough) else MOST_SHOTS


def _settled(mean: Draws, sd: Draws, sure: float, little: float) -> NDArray[np.bool_]:
    lead = np.abs(mean) / np.maximum(sd, 1e-12)
    knowing = sd * (norm.pdf(lead) - lead * norm.cdf(-lead))
    return np.asarray((lead >= norm.ppf(sure)) | (knowing <= little))
