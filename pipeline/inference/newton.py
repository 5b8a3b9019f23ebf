"""Newton's method with step halving, for a log posterior that is nearly concave."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

Point = TypeVar("Point")

_LEAST_STEP = 1e-6
_ROUNDING = 1e-12  # relative to the value: less than this is no fall


def halve(move: Callable[[float], Point], value: Callable[[Point], float], here: float) -> tuple[Point, float]:
    """Where the whole step leads, or the longest of its halves that does not lead down; with the value there.

    Args:
        move: share of the step, up to 1 -> point.
        value: what is to be maximised.
        here: the value before the step.
    """
    size = 1.0
    while True:
        point = move(size)
        reached = value(point)
        size /= 2
        if reached >= here - _ROUNDING * abs(here) or size <= _LEAST_STEP:
            return point, reached


def maximise(
    start: Point,
    value: Callable[[Point], float],
    step: Callable[[Point], tuple[Callable[[float], Point], float]],
    *,
    tolerance: float,
    relative: bool = False,
    steps: int = 60,
) -> tuple[Point, float, bool]:
    """Where Newton steps from ``start`` lead, the value there, and whether they settled.

    The last step is taken whole and not valued: to its order, it adds half its squared Newton decrement.

    Args:
        start: first point.
        value: what is to be maximised.
        step: point -> (share of its Newton step -> point, squared Newton decrement); the point is the one valued last.
        tolerance: squared Newton decrement of the last step.
        relative: the tolerance is relative to the value, if that is above one.
        steps: at most so many.
    """
    point, here = start, value(start)
    for _ in range(steps):
        move, decrement = step(point)
        if decrement < tolerance * (max(1.0, abs(here)) if relative else 1.0):
            return move(1.0), here + decrement / 2, True
        point, here = halve(move, value, here)
    return point, here, False
