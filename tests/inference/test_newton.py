"""Newton's method with step halving, against maxima known in closed form."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from pipeline.inference.newton import halve, maximise


def _step(x: float) -> tuple[Callable[[float], float], float]:
    """Newton's step for log cosh, whose whole step overshoots beyond |x| of about 1.09 (computed)."""
    slope, curvature = -math.tanh(x), 1 / math.cosh(x) ** 2
    return lambda size: x + size * slope / curvature, slope**2 / curvature


@pytest.mark.parametrize("start", [0.3, 1.0, 2.0, -3.0])
def test_the_maximum_is_found_also_where_whole_steps_overshoot(start: float) -> None:
    point, value, settled = maximise(start, lambda x: -math.log(math.cosh(x)), _step, tolerance=1e-16)
    assert settled and point == pytest.approx(0.0, abs=1e-8) and value == pytest.approx(0.0, abs=1e-12)


def test_whole_steps_alone_would_not_get_there() -> None:
    x = 2.0
    for _ in range(2):
        x = _step(x)[0](1.0)
    assert abs(x) > 10


def test_too_few_steps_are_reported() -> None:
    assert maximise(2.0, lambda x: -math.log(math.cosh(x)), _step, tolerance=1e-16, steps=1)[2] is False


def test_a_tolerance_may_be_relative_to_the_value() -> None:
    # -x^2 / 2 - 1000 from 0.1: the squared decrement is 0.01, more than 1e-4 and less than 1e-4 of 1000
    steps = []

    def step(x: float) -> tuple[Callable[[float], float], float]:
        steps.append(x)
        return lambda size: x - size * x, x * x

    for relative, taken in ((False, 2), (True, 1)):
        steps.clear()
        reached = maximise(0.1, lambda x: -x * x / 2 - 1000, step, tolerance=1e-4, relative=relative)
        assert reached == (0.0, pytest.approx(-1000, abs=1e-9), True) and len(steps) == taken


def test_the_longest_half_that_does_not_lead_down_is_taken() -> None:
    # -(x - 1)^2 from 0 by a step of 6: at 6, 3 the value is below that at 0, at 1.5 it is above
    assert halve(lambda size: 6 * size, lambda x: -((x - 1) ** 2), -1.0) == (1.5, -0.25)
