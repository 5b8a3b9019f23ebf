"""Draws of the random effects of one group at some rows, added to a linear predictor a few draws at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.design import Codes


@dataclass(frozen=True)
class EffectDraws:
    """What one group adds to the linear predictor of the ``rows`` it applies to, draw by draw.

    ``drawn`` (n, levels) at ``codes`` (rows,), times ``slope`` (rows,) where given; at the places ``new`` of levels
    that were not fitted, ``fresh`` (n, new) instead of what was drawn.
    """

    rows: Codes | slice
    drawn: Floats
    codes: Codes
    new: Codes
    fresh: Floats
    slope: Floats | None

    def add_to(self, predictor: Floats, draws: slice) -> None:
        """Add some of the draws to those of all rows, shape (draws, all rows)."""
        effect = np.take(self.drawn[draws], self.codes, axis=1)
        if len(self.new):
            effect[:, self.new] = self.fresh[draws]
        predictor[:, self.rows] += effect if self.slope is None else effect * self.slope
