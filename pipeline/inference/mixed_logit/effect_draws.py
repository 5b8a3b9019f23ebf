"""Draws of a linear predictor: all that is added at each row, summed as one product with a sparse matrix.

A row has few entries, and the draws of one effect lie side by side, so a sum goes through memory in order.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.design import csr

_NUMBERS = 131_072  # summed at once: 1 MB


@dataclass(frozen=True)
class EffectDraws:
    """Effects of a linear predictor.

    Attributes:
        drawn: draws (effects, n).
        codes: (rows,) or (rows, entries), the effect of each row, or several of them; -1 for none.
        times: multiplier of each, of the shape of ``codes``; None for 1.
    """

    drawn: Floats
    codes: Codes
    times: Floats | None = None

    def values(self) -> Floats:
        """Multiplier of each entry, in the shape of ``codes``; 0 for an entry without an effect."""
        known = self.codes >= 0
        return known.astype(float) if self.times is None else np.where(known, self.times, 0.0)


def summed(effects: Sequence[EffectDraws], n: int, rows: int) -> Floats:
    """The sum of the effects, draws (n, rows); the same for equal rows, whatever the others are."""
    effects = [each for each in effects if len(each.drawn)]
    out = np.zeros((n, rows))
    if not effects or not rows:
        return out
    edges = np.cumsum([0, *(len(each.drawn) for each in effects)])
    stacked = np.empty((edges[-1], n))
    for each, start, end in zip(effects, edges[:-1], edges[1:], strict=True):
        stacked[start:end] = each.drawn
    places = [np.maximum(each.codes, 0) + start for each, start in zip(effects, edges[:-1], strict=True)]
    column = np.column_stack(places)
    value = np.column_stack([each.values() for each in effects])
    size = max(1, _NUMBERS // n)
    for start in range(0, rows, size):
        some = slice(start, start + size)
        out[:, some] = (csr(column[some], value[some], len(stacked)) @ stacked).T
    return out


def noise_of(keys: Sequence[str], n: int, base: int) -> Floats:
    """Standard normal draws (len(keys), n), the same for the same key and ``base`` whatever the call."""
    out = np.empty((len(keys), n))
    for row, key in zip(out, keys, strict=True):
        np.random.default_rng([base, zlib.crc32(key.encode())]).standard_normal(out=row)
    return out


def keyed_noise(keys: Sequence[str | None], n: int, base: int) -> Floats:
    """The same for each of many keys of which few differ, (n, len(keys)); 0 for None."""
    place: dict[str | None, int] = {None: 0}
    codes = [place.setdefault(key, len(place)) for key in keys]
    each = noise_of([key for key in place if key is not None], n, base)
    return np.take(np.column_stack([np.zeros(n), each.T]), codes, axis=1)
