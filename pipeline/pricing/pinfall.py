"""A bowler's pinfall: what a first ball that is no strike leaves, and what a missed spare still fells.

With it any strike and spare probability turns into a mean score or a whole score distribution, by the exact rules.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from pipeline.models.fitted import Fitted, once
from pipeline.sport.score_distribution import mean_score, score_distribution

_PRIOR_SHOTS = 20.0  # everybody's pinfall counts as this many shots of the bowler


@dataclass(frozen=True)
class Pinfall:
    """Pinfall of one bowler.

    Attributes:
        strike: strikes per first delivery, unadjusted.
        spare: spares per first delivery that was no strike, unadjusted.
        open_first: shape (10,), P(k pins | first ball, no strike).
        miss_second: shape (10, 11), P(j pins | k on the first ball, no spare).
    """

    strike: float
    spare: float
    open_first: NDArray[np.float64]
    miss_second: NDArray[np.float64]

    def mean(self, strike: ArrayLike, spare: ArrayLike | None = None) -> NDArray[np.float64]:
        """Mean score at these probabilities (broadcast together); the bowler's own spare rate by default."""
        return mean_score(*self._balls(strike, self.spare if spare is None else spare))

    def distribution(self, strike: ArrayLike, spare: ArrayLike | None = None) -> NDArray[np.float64]:
        """P(score = 0..300) at these probabilities, over a last axis of 301."""
        return score_distribution(*self._balls(strike, self.spare if spare is None else spare))

    def _balls(self, strike: ArrayLike, spare: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        p, s = np.broadcast_arrays(np.clip(strike, 0, 1), np.clip(spare, 0, 1))
        first = np.concatenate([(1 - p)[..., None] * self.open_first, p[..., None]], axis=-1)
        second = np.zeros((*p.shape, 11, 11))
        second[..., :10, :] = (1 - s)[..., None, None] * self.miss_second
        for k in range(10):
            second[..., k, 10 - k] += s
        second[..., 10, 0] = 1
        return first, second


@once(of=Fitted.in_period)
def pinfalls(fitted: Fitted) -> dict[str, Pinfall]:
    """Bowler -> pinfall, for every bowler with a first delivery."""
    rows = fitted.season.frame("cells/pinfall")
    pooled = _counts(rows)
    everyone = _shares(pooled, np.full((10, 11), 1e-3))
    return {str(bowler): _shape(_counts(group), everyone) for bowler, group in rows.groupby("bowler", sort=True)}


def _counts(rows: pd.DataFrame) -> NDArray[np.float64]:
    """Shape (11, 12): shots by pins on the first ball and the second; the last column: no second ball logged."""
    table = np.zeros((11, 12))
    second = rows["second"].fillna(11).astype(int).to_numpy()
    np.add.at(table, (rows["first"].astype(int).to_numpy(), second), rows["shots"].to_numpy(dtype=float))
    return table


def _shares(table: NDArray[np.float64], prior: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shape (10, 11): joint shares of (first, second) over opens; pairs that fell all ten or more are left out."""
    joint = table[:10, :11] + prior
    joint[np.add.outer(np.arange(10), np.arange(11)) >= 10] = 0
    result: NDArray[np.float64] = joint / joint.sum()
    return result


def _shape(table: NDArray[np.float64], everyone: NDArray[np.float64]) -> Pinfall:
    shots = table.sum()
    opens = table[:10]
    spares = sum(opens[k, 10 - k] for k in range(10))
    seconds = opens[:, :11].sum()
    leave = opens.sum(axis=1) + _PRIOR_SHOTS * everyone.sum(axis=1)
    joint = _shares(table, _PRIOR_SHOTS * everyone)
    miss = joint / joint.sum(axis=1, keepdims=True)
    return Pinfall(
        strike=float(table[10].sum() / shots),
        spare=float((spares + 1) / (seconds + 2)),
        open_first=leave / leave.sum(),
        miss_second=miss,
    )
