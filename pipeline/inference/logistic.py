"""Probabilities from log odds, in place: three times as fast as scipy's ``expit`` on arrays of draws (DECISIONS.md)."""

from __future__ import annotations

import numpy as np

from pipeline.arrays import Floats


def logistic(logits: Floats) -> Floats:
    """1 / (1 + exp(-x)) of each of the log odds, of any shape, accurate at both ends; a new array of that shape."""
    out = np.negative(logits)
    with np.errstate(over="ignore"):  # 1 over infinity is the 0 that is meant
        np.exp(out, out=out)
    out += 1.0
    return np.divide(1.0, out, out=out)
