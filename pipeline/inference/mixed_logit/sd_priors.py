"""Priors of standard deviations, on the scale of their logs.

The sd of a grouping is half-t with few degrees of freedom, as in Gelman, Bayesian Analysis 1 (2006): that holds small
sds near zero and lets the data have large ones. A multiplier that the prior sds of many fixed effects share is
log-normal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.arrays import Floats

_DF = 4.0


def half_t(scale: float, n: int, rng: np.random.Generator) -> Floats:
    """Draws (n,) from the half-t prior of an sd with this scale."""
    drawn: Floats = scale * np.abs(rng.standard_t(_DF, n))
    return drawn


@dataclass(frozen=True)
class LogNormal:
    """A log-normal belief: the ``median``, and the sd of the log."""

    median: float
    log_sd: float

    def away(self, log: float) -> float:
        """How many prior sds a log lies from that of the median."""
        return (log - float(np.log(self.median))) / self.log_sd


@dataclass(frozen=True)
class Shared:
    """Fixed effects, ``columns`` (columns,), whose prior sds share an unknown ``scale_multiplier``."""

    columns: NDArray[np.bool_]
    scale_multiplier: LogNormal


@dataclass(frozen=True)
class SdPrior:
    """Prior of the log sds (axes,): one per term, half-t with these ``scales`` (terms,), then that of the multiplier.

    ``scales`` None and ``shared`` None switch it off.
    """

    scales: Floats | None
    shared: Shared | None

    def log_density(self, log_sd: Floats) -> float:
        """Log density up to a constant."""
        terms, density = log_sd if self.shared is None else log_sd[:-1], 0.0
        if self.scales is not None:
            bent = np.log1p((np.exp(terms) / self.scales) ** 2 / _DF)
            density += float(np.sum(terms - 0.5 * (_DF + 1.0) * bent))
        if self.shared is not None:
            density -= 0.5 * self.shared.scale_multiplier.away(log_sd[-1]) ** 2
        return density

    def slopes(self, log_sd: Floats) -> tuple[Floats, Floats]:
        """First derivative of ``log_density`` along each log sd, and minus the second."""
        first, second = np.zeros_like(log_sd), np.zeros_like(log_sd)
        if self.scales is not None:
            terms = slice(len(self.scales))
            squared = (np.exp(log_sd[terms]) / self.scales) ** 2 / _DF
            first[terms] = 1.0 - (_DF + 1.0) * squared / (1.0 + squared)
            second[terms] = 2.0 * (_DF + 1.0) * squared / (1.0 + squared) ** 2
        if self.shared is not None:
            prior = self.shared.scale_multiplier
            first[-1], second[-1] = -prior.away(log_sd[-1]) / prior.log_sd, prior.log_sd**-2
        return first, second

    def start(self, usual: float, axes: int) -> Floats:
        """Log sds (axes,) to start a search from: ``usual``, or the prior's scale if that is smaller."""
        near = np.full(axes, usual)
        if self.scales is not None:
            near[: len(self.scales)] = np.minimum(usual, self.scales)
        if self.shared is not None:
            near[-1] = self.shared.scale_multiplier.median
        return np.log(near)
