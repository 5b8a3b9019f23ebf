"""P(best): the probability that each of several choices is the best of them."""

from __future__ import annotations

import numpy as np

from pipeline.arrays import Floats


def probability_best(draws: Floats, higher: bool = True) -> Floats:
    """Share of the draws in which each column is the best; ties are shared. Shapes (n, k) -> (k,)."""
    values = np.ascontiguousarray(draws.T, dtype=float)  # columns are few: their best is found quicker row by row
    if not len(values):
        return np.zeros(0)
    winners = values == (values.max(axis=0) if higher else values.min(axis=0))
    shared = winners.sum(axis=0)
    result: Floats = (winners / shared if (shared > 1).any() else winners).mean(axis=1)
    return result
