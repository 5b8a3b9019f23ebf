"""How many more shots a question takes, by normal approximation: what is known now, and what one more shot adds.

Of a difference known as N(m, s^2), n shots that each say it with variance v leave the variance 1 / (1/s^2 + n/v); its
mean will then lie about m with the variance taken away (the preposterior of a normal mean, Raiffa & Schlaifer, Applied
Statistical Decision Theory, 1961, from memory).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from pipeline.arrays import Draws

MOST_SHOTS = 9999
"""More than anybody logs to settle one question; what takes more is said to take more than this."""
SIZES = [int(k * 10**power) for power in range(1, 4) for k in (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8)]
"""Numbers of shots that are tried, rising by a fifth or so: more is not known of them."""
NODES = ndtri((np.arange(40) + 0.5) / 40)
"""Equally likely places of a mean to come, in sds."""


def perfect_information(pins: Draws) -> float:
    """Expected gain of choosing with the truth known: mean of the best less the best mean. ``pins``: (n, choices)."""
    return float(pins.max(axis=1).mean() - pins.mean(axis=0).max())


def noise_of_one_shot(pins: Draws, strike: Draws) -> float:
    """Variance, in pins squared, of what one shot says: a strike or none, at the slope of pins on the strike rate.

    ``pins`` and ``strike``: (n,) draws of one choice.
    """
    spread = float(strike.var())
    slope = float(((pins - pins.mean()) * (strike - strike.mean())).mean()) / spread if spread > 0 else 0.0
    rate = float(strike.mean())
    return slope**2 * rate * (1 - rate)


def shots_to_narrow(sd: float, noise: float, target: float) -> int:
    """Shots that bring a standard deviation from ``sd`` down to ``target``; at most ``MOST_SHOTS``, 0 if it is met.

    ``noise``: variance of what one shot says.
    """
    if sd <= target:
        return 0
    more = noise * (1 / target**2 - 1 / sd**2) if target > 0 else math.inf
    return math.ceil(min(more, MOST_SHOTS))


def shots_to_settle(
    mean: float, sd: float, noise: float, sure: float, little: float = 0.0, often: float | None = None
) -> int:
    """Shots after which a difference is settled with probability ``often`` (``sure`` if not given).

    It is settled once its sign is as sure as ``sure`` says, a probability above one half, or once knowing it for sure
    would gain no more than ``little``. One of ``SIZES``, else ``MOST_SHOTS``; 0 if it is settled. ``mean`` and
    ``sd``: of the difference as it is known now; ``noise``: variance of what one shot says of it.
    """
    if _settled(np.array([mean]), sd, sure, little).all():
        return 0

    def sufficient(shots: int) -> bool:
        left = 1 / (1 / sd**2 + shots / noise)
        then = mean + math.sqrt(sd**2 - left) * NODES
        return bool(_settled(then, math.sqrt(left), sure, little).mean() >= (often or sure))

    return smallest_sample(sufficient)


def _settled(mean: Draws, sd: float, sure: float, little: float) -> NDArray[np.bool_]:
    lead = np.abs(mean) / max(sd, 1e-12)
    knowing = sd * (np.exp(-(lead**2) / 2) / np.sqrt(2 * np.pi) - lead * ndtr(-lead))
    return np.asarray((lead >= ndtri(sure)) | (knowing <= little))


def smallest_sample(
    sufficient: Callable[[int], bool], sizes: Sequence[int] = SIZES, otherwise: int = MOST_SHOTS
) -> int:
    """The first of ``sizes`` that is ``sufficient``, by bisection (more shots never tell less); else ``otherwise``."""
    at = bisect_left(sizes, True, key=sufficient)
    return sizes[at] if at < len(sizes) else otherwise
