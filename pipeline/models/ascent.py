"""Minimising a smooth function of few variables between bounds, where every evaluation is dear."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pipeline.models.arrow import Floats

_STEPS = 40
_LONGEST = 1.0
_ENOUGH = 1e-4  # of the decrease a straight line promises, as in Nocedal & Wright, Numerical Optimization, ch. 3
_DAMPING = 0.2
_SHORTEST = 1e-3


def minimise(
    function: Callable[[Floats], tuple[float, Floats]],
    start: Floats,
    bounds: tuple[float, float],
    curvature: Callable[[], Floats],
    tolerance: float,
) -> Floats:
    """Damped BFGS (Nocedal & Wright, procedure 18.2) on the free coordinates, rescaled as ``curvature`` changes.

    Args:
        function: value and gradient.
        start: first point, shape (k,).
        bounds: of every coordinate.
        curvature: a guess of the second derivatives along the axes, shape (k,), at the last evaluation.
        tolerance: the decrease still expected, at which it stops.

    Returns:
        The last point evaluated.
    """
    point = np.clip(start, *bounds)
    value, slope = function(point)
    scale = curvature()
    bend = np.diag(scale)
    for _ in range(_STEPS):
        held = ((point <= bounds[0]) & (slope > 0)) | ((point >= bounds[1]) & (slope < 0))
        free = np.flatnonzero(~held)
        move = np.zeros_like(point)
        move[free] = -np.linalg.solve(bend[np.ix_(free, free)], slope[free])
        if -0.5 * float(move @ slope) < tolerance:
            break
        move *= min(1.0, _LONGEST / float(np.abs(move).max()))
        point, value, new_slope, moved = _searched(function, point, value, slope, move, bounds)
        old, scale = scale, curvature()
        bend = _updated(bend * np.sqrt(np.outer(scale / old, scale / old)), moved, new_slope - slope)
        slope = new_slope
        if not moved.any():
            break
    return point


def _searched(
    function: Callable[[Floats], tuple[float, Floats]],
    point: Floats,
    value: float,
    slope: Floats,
    move: Floats,
    bounds: tuple[float, float],
) -> tuple[Floats, float, Floats, Floats]:
    """The first of ever shorter moves that lowers the value: (point, value, slope, the move made)."""
    size = 1.0
    while size > _SHORTEST:
        trial = np.clip(point + size * move, *bounds)
        reached, new_slope = function(trial)
        promised = float(slope @ (trial - point))
        if reached <= value + _ENOUGH * promised:
            return trial, reached, new_slope, trial - point
        size *= float(np.clip(-0.5 * promised / (reached - value - promised), 0.1, 0.5))
    reached, new_slope = function(point)
    return point, reached, new_slope, np.zeros_like(point)


def _updated(bend: Floats, moved: Floats, change: Floats) -> Floats:
    pushed = bend @ moved
    along, seen = float(moved @ pushed), float(moved @ change)
    if along <= 0.0:
        return bend
    if seen < _DAMPING * along:
        share = (1.0 - _DAMPING) * along / (along - seen)
        change, seen = share * change + (1.0 - share) * pushed, _DAMPING * along
    return bend - np.outer(pushed, pushed) / along + np.outer(change, change) / seen
