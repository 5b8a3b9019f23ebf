"""What it costs to play off the line that the lane asks for: log odds of a strike, by arrows off.

The lines themselves say little about it, because bowlers seldom stray far off and nobody knows exactly what the lane
asked for. Entry boards say more: a board at the arrows moves the entry board by a known amount (``entry_slope.py``),
and every shot shows how strikes depend on the entry board. So everybody's entry boards are shifted as a line that far
off would shift them, and the expected strikes are counted there, on each side separately, because a light hit does not
cost what a high one does. Without entry boards the cost is a square with a coefficient of our own choice. Either is a
prior: the worth model learns a multiple of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.special import logit

from pipeline.arrays import Floats
from pipeline.models.lines.entry_slope import EntrySlope
from pipeline.sport.lane import BOARDS_PER_ARROW
from pipeline.store.season import Season

_FURTHEST = 2.5  # arrows; a line further off is priced as this far, because hardly any shot was thrown there
_STEP = 0.05
_OFF = np.arange(-_FURTHEST, _FURTHEST + _STEP / 2, _STEP)  # inside of what is asked for from 0 up
_HERE = len(_OFF) // 2
_TUNED = 1 / BOARDS_PER_ARROW  # a board either way of the arrow; our own choice of what keeping a line means
_SQUARE = 0.15  # logits per squared arrow without entry boards; our own choice
_FEWEST = 200  # first deliveries with an entry board from which the cost is read from them
_SMOOTH = 0.35  # boards: sd of the kernel that smooths the strike rate over entry boards
_READ = 0.2  # boards squared: error of an entry board read by eye, to about half a board; our own choice
_RARE = 15  # shots at either end whose boards count as one
_FORM = 0.3  # further error of the cost, as a share of it; our own choice
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class LineCost:
    """Logits lost (points,) from 2.5 arrows outside of the line asked for to 2.5 inside.

    ``multiplier_sd``: sd of the multiple of it that the worth model learns.
    """

    lost: Floats
    multiplier_sd: float = 1.0

    def __call__(self, off: Floats) -> Floats:
        """Logits lost at these arrows inside of the line (outside below 0), of any shape; nan stays nan."""
        reach = (len(self.lost) - 1) / 2
        place = off / _STEP
        place += reach
        np.clip(place, 0.0, 2 * reach, out=place)
        low = np.where(np.isnan(place), 0.0, place).astype(np.intp)
        place -= low
        place *= np.take(self._steps, low)
        place += np.take(self.lost, low)
        return place

    @cached_property
    def _steps(self) -> Floats:
        """Logits lost at the next point less those at this one (points,)."""
        return np.append(np.diff(self.lost), 0.0)

    @cached_property
    def tuned(self) -> LineCost:
        """The cost of a line that the bowler tunes by up to a board toward what the lane asks for."""
        free = np.full(2 * round(_TUNED / _STEP), self.lost[_HERE])
        return replace(self, lost=np.concatenate([self.lost[:_HERE], free, self.lost[_HERE:]]))

    def expected(self, off: Floats, variance: Floats) -> Floats:
        """Mean cost if ``off`` has this normal ``variance`` (shapes broadcast), by Gauss-Hermite quadrature."""
        sd = np.sqrt(variance)
        total = np.zeros(np.broadcast_shapes(off.shape, sd.shape))
        for node, weight in zip(_NODES, _WEIGHTS, strict=True):
            total += weight * self(off + sd * node)
        return total


SQUARE = LineCost(_SQUARE * _OFF**2)
"""The cost without entry boards."""


def line_cost(season: Season, slope: EntrySlope) -> LineCost:
    """The cost as the season's entry boards show it."""
    return cost_by_entry(season.frame("cells/entry_strikes"), slope)


def cost_by_entry(counts: pd.DataFrame, slope: EntrySlope) -> LineCost:
    """The cost from ``shots`` and ``strikes`` by ``entry_board``, averaged over the posterior of the ``slope``.

    It never falls with the distance on either side.
    """
    board, shots, strikes = (counts[name].to_numpy(dtype=float) for name in ("entry_board", "shots", "strikes"))
    if shots.sum() < _FEWEST or not 0 < strikes.sum() < shots.sum():
        return SQUARE
    low, high = _ends(board, shots)
    at = np.clip(board, low, high)
    curve = np.arange(low, high + 0.25, 0.25)
    near = np.exp(-0.5 * ((curve[:, None] - at) / _SMOOTH) ** 2)
    rate = (near @ strikes + strikes.sum() / shots.sum()) / (near @ shots + 1.0)
    rate = _falling(curve, rate)
    lost = np.zeros(len(_OFF))
    mean = board @ shots / shots.sum()
    spread = float((board - mean) ** 2 @ shots / shots.sum())
    real = max(1 - _READ / spread, 0.5) if spread > 0 else 1.0  # the share of a board's logged distance that is real
    for b, weight in slope.quantiles():
        moved = BOARDS_PER_ARROW * b / real * _OFF[:, None]
        there = logit(np.interp(board + moved, curve, rate) @ shots / shots.sum())
        lost += weight * (there[_HERE] - there)
    lost = np.maximum(lost, 0.0)
    lost[_HERE:] = np.maximum.accumulate(lost[_HERE:])
    lost[_HERE::-1] = np.maximum.accumulate(lost[_HERE::-1])
    if float(np.interp((-1.0, 1.0), _OFF, lost).mean()) < _SQUARE:
        return SQUARE  # entry boards show no cost: let the shots scale the square
    # the cost is about proportional to the square of the slope
    return LineCost(lost, float(np.hypot(_FORM, 2 * slope.sd / slope.rms)))


def _falling(curve: Floats, rate: Floats) -> Floats:
    """The rate made to fall from the best board outward (lighter); inside of it a second peak may stand."""
    best = int(np.argmax(rate))
    light = np.minimum.accumulate(rate[best::-1])[::-1]
    return np.append(light[:-1], rate[best:])


def _ends(board: Floats, shots: Floats) -> tuple[float, float]:
    """Boards beyond which too few shots were logged to tell them apart."""
    order = np.argsort(board)
    below, above = np.cumsum(shots[order]), np.cumsum(shots[order][::-1])
    low = float(board[order][np.searchsorted(below, _RARE)])
    high = float(board[order][::-1][np.searchsorted(above, _RARE)])
    return low, max(high, low)
