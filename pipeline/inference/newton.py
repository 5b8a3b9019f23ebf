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
    steps: int = 60,
) -> tuple[Point, bool]:
    """Where Newton steps from ``start`` lead, and whether they settled.

    Args:
        start: first point.
        value: what is to be maximised.
        step: point -> (share of its Newton step -> point, squared Newton decrement).
        tolerance: squared Newton decrement of the last step.
        steps: at most so many.
    """
    point, here = start, value(start)
    for _ in range(steps):
        move, decrement = step(point)
        point, here = halve(move, value, here)
        if decrement < tolerance:
            return point, True
    return point, False
