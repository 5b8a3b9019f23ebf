"""P(strike) of a line that the bowler keeps whatever the lane asks for: the mean over nights, draw by draw.

Nights are the nodes of a quadrature. A line's distance from what the lane asks for is that of a usual night plus that
night's own deviation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.arrays import Floats
from pipeline.inference.batches import batches_of_draws
from pipeline.inference.logistic import logistic
from pipeline.models.lines.line_cost import LineCost

_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(5)
NIGHTS = tuple(zip(_NODES.tolist(), (_SHARES / _SHARES.sum()).tolist(), strict=True))
"""Standard normal nights and their shares, of a quadrature."""


@dataclass(frozen=True)
class KeptLines:
    """Lines kept on nights as they come.

    Attributes:
        off: (n, rows) arrows off what a usual night asks for, by draw of what is usual; nan without a line.
        sd: (rows,) sd between nights of what the lane asks for, arrows.
        cost: logits lost by distance off the line.
        mean_cost: mean logits lost over the shots it was learned from.
    """

    off: Floats
    sd: Floats
    cost: LineCost
    mean_cost: float

    def lost(self, draws: slice = slice(None)) -> list[tuple[float, Floats]]:
        """Share of every night, and the logits lost (draws, rows) on it; 0, the mean, for a row without a line."""
        unlogged = np.flatnonzero(np.isnan(self.off[0]))
        off = self.off[draws].copy()
        off[:, unlogged] = 0.0
        nights = []
        for node, share in NIGHTS if self.sd.any() else ((0.0, 1.0),):
            lost = self.cost.tuned(off + self.sd * node)
            lost -= self.mean_cost
            if len(unlogged):
                lost[:, unlogged] = 0.0
            nights.append((share, lost))
        return nights

    def strikes(self, logits: Floats, cost_multiplier: Floats, few_nights: Floats) -> Floats:
        """Mean probability of a strike over nights, shape (n, rows).

        Args:
            logits: (n, rows) log odds if nothing is lost off the line.
            cost_multiplier: (n, 1) by which the cost is multiplied, as the worth model learned.
            few_nights: (n, rows) errors of each choice's few nights, in sds between nights.
        """
        out = np.empty_like(logits)
        for draws in batches_of_draws(*logits.shape):
            nights = self.lost(draws)
            usual = self._apart(nights)
            usual *= few_nights[draws]
            usual *= np.abs(cost_multiplier[draws])
            usual += logits[draws]
            total = out[draws]
            total[:] = 0.0
            for share, lost in nights:
                lost *= cost_multiplier[draws]
                lost += usual
                chance = logistic(lost)
                chance *= share
                total += chance
        return out

    @staticmethod
    def _apart(nights: list[tuple[float, Floats]]) -> Floats:
        """The sd (draws, rows) of the logits lost between nights."""
        mean = np.zeros_like(nights[0][1])
        for share, lost in nights:
            mean += share * lost
        squares = np.zeros_like(mean)
        for share, lost in nights:
            off = lost - mean
            off *= off
            off *= share
            squares += off
        return np.sqrt(squares, out=squares)
