"""From posterior draws to estimates: means with central intervals."""

from __future__ import annotations

import numpy as np

from pipeline.arrays import Floats
from pipeline.decisions.records import Estimate

_LEVELS = np.array([0.25, 0.75, 0.10, 0.90, 0.025, 0.975])
_FIELDS = ("lo50", "hi50", "lo80", "hi80", "lo95", "hi95")


def estimates(draws: Floats) -> list[Estimate]:
    """Posterior mean and central 50, 80 and 95 % intervals of each column.

    Args:
        draws: shape (n draws, k quantities), in the unit of the quantity.

    Raises:
        ValueError: no draws, not two-dimensional, or a draw that is not finite.
    """
    values = np.asarray(draws, dtype=float)
    if values.ndim != 2 or values.shape[0] == 0:
        raise ValueError(f"draws must be a table with at least one row, found shape {values.shape}")
    if values.shape[1] == 0:
        return []
    if not np.isfinite(values).all():
        raise ValueError("draws hold a value that is not finite")
    table = np.column_stack([values.mean(axis=0), quantiles(values, _LEVELS)]).tolist()
    return [Estimate(**dict(zip(("mean", *_FIELDS), row, strict=True))) for row in table]


def quantiles(draws: Floats, levels: Floats) -> Floats:
    """Quantiles of each column of draws, as ``np.quantile`` with method "weibull", from one sort.

    Of n draws the one in place k has on average the share k / (n + 1) of what is drawn from below it (the sixth
    definition of Hyndman & Fan, The American Statistician 50, 1996, from memory). The usual definition, by
    (k - 1) / (n - 1), draws an interval's ends in: of 500 draws its 80 % holds 79.7 % and its 95 % 94.6 %.

    Shapes: (n, k) and (levels,) -> (k, levels).
    """
    ordered = np.sort(draws.T, axis=1)
    place = np.clip(levels * (len(draws) + 1) - 1, 0, len(draws) - 1)
    low = place.astype(np.intp)
    below, above = ordered[:, low], ordered[:, np.minimum(low + 1, len(draws) - 1)]
    result: Floats = below + (above - below) * (place - low)
    return result


def estimate(draws: Floats) -> Estimate:
    """The same for one quantity; ``draws`` has shape (n draws,)."""
    return estimates(np.asarray(draws, dtype=float).reshape(-1, 1))[0]
