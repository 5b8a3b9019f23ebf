"""Draws taken some at a time, so that what is computed from them stays in the processor's cache.

Whole arrays of draws by rows would be allocated anew at every step, which takes longer than the arithmetic.
Each number is computed as it would be in one piece.
"""

from __future__ import annotations

from collections.abc import Iterator

_NUMBERS = 16_384  # of one batch: 128 kB


def batches_of_draws(n: int, rows: int) -> Iterator[slice]:
    """Stretches of ``n`` draws, each of so many that an array of them by ``rows`` is small."""
    size = max(1, _NUMBERS // max(rows, 1))
    for start in range(0, n, size):
        yield slice(start, min(start + size, n))
