"""Probabilities from log odds, quickly: of arrays of draws this is most of the arithmetic."""

from __future__ import annotations

import numpy as np

from pipeline.arrays import Floats


def logistic(logits: Floats) -> Floats:
    """1 / (1 + exp(-x)) of each of the log odds, to the last digits at either end; a new array."""
    out = np.negative(logits)
    with np.errstate(over="ignore"):  # 1 over infinity is the 0 that is meant
        np.exp(out, out=out)
    out += 1.0
    return np.divide(1.0, out, out=out)
