"""What a line costs a bowler who is seen on it: the mean over the nights on which bowlers are seen there.

A line off the usual one was played since the lane asked for it that night, or since the bowler strayed. Which share of
that distance is a distance from what the lane asked for is learned from how far every cell is taken to have lain off it
(``usual_line.py``), so that a line costs what the shots seen on such lines are taken to have cost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.arrays import Floats
from pipeline.models.lines.line_cost import LineCost

_FURTHEST, _STEP = 8.0, 0.05  # arrows
_OFF = np.arange(-_FURTHEST, _FURTHEST + _STEP / 2, _STEP)
_WITHIN = np.array([-0.4, -0.2, 0.0, 0.2, 0.4])  # arrows from the middle of a line, five boards wide

_LEAST = 0.01  # variance, in arrows squared, below which bowlers are not taken to repeat a line


@dataclass(frozen=True)
class Straying:
    """How bowlers come to lie off what the lane asks for.

    Attributes:
        share: of the distance from where they usually play that is distance from what the lane asks for.
        rest: variance of that distance besides, in arrows squared.
        spread: variance of the distance from where they usually play.
    """

    share: float = 1.0
    rest: float = 0.0
    spread: float = 0.0

    def lost(self, cost: LineCost, off_usual: Floats, behind: Floats) -> Floats:
        """Mean logits lost on the boards of lines, less those on lines as usual there; nan where a distance is.

        Args:
            cost: what a line off what the lane asks for costs.
            off_usual: arrows (..., rows) by which the middle of the line lies off the usual one.
            behind: arrows (rows,) by which bowlers lag behind the lane there on average.
        """
        smooth = cost.expected(_OFF, np.full(_OFF.shape, self.rest))
        apart = off_usual - behind
        lost, likely = np.zeros(apart.shape), np.zeros(apart.shape)
        for within in _WITHIN:
            board = apart + within
            # shots on a line lie where bowlers play more often; less the middle's, so that nothing underflows
            weight = np.exp(np.clip((apart**2 - board**2) / (2 * max(self.spread, _LEAST)), -50.0, 50.0))
            lost += weight * np.interp(behind + self.share * board, _OFF, smooth)
            likely += weight
        usual = cost.expected(behind, np.full(behind.shape, self.share**2 * self.spread + self.rest))
        return np.asarray(lost / likely - usual)


def learn_straying(apart: Floats, off: Floats, unsure: Floats, shots: Floats) -> Straying:
    """From cells with a line, all (cells,).

    Args:
        apart: arrows from where bowlers usually play there.
        off: arrows off what the lane asks for besides those by which they lag behind on average.
        unsure: variance of ``off``.
        shots: first deliveries.
    """
    square = float((shots * apart**2).sum())
    share = float(np.clip((shots * apart * off).sum() / square, 0.0, 1.0)) if square > 0 else 1.0
    rest = float(np.average((off - share * apart) ** 2 + unsure, weights=shots))
    return Straying(share, rest, square / float(shots.sum()))
