"""Skills as every page shows them: their digits, their order, and how surely one student is better than the next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from pipeline.decisions.records import Estimate, SkillEstimate
from reports.context import ReportContext
from reports.style import wording

T = TypeVar("T")
SURE = 0.9
"""From this probability on a student stands apart from the class."""
CLOSE = 0.8
"""Below this probability the order of two students is too close to call."""


def digits(unit: str) -> int:
    """After the decimal point: two for boards, one for per cent and pins."""
    return 2 if unit == "boards" else 1


def shown(value: float, unit: str, sign: bool = False) -> str:
    """A skill with the digits of its unit."""
    return wording.signed(value, digits(unit)) if sign else wording.plain(value, digits(unit))


def span(estimate: Estimate, unit: str, sign: bool = False) -> str:
    """The 80 % interval of a skill in its unit."""
    return f"{shown(estimate.lo80, unit, sign)} to {shown(estimate.hi80, unit, sign)}"


def ordered(skills: list[SkillEstimate]) -> list[SkillEstimate]:
    """Everybody's estimates of one skill, the best first; at least one."""
    sign = -1 if skills[0].higher_is_better else 1
    return sorted(skills, key=lambda item: sign * item.value.mean)


def ahead(context: ReportContext, skill: str, order: list[SkillEstimate]) -> float | None:
    """Probability that the first of an order is better than the second; None if they were not compared."""
    if len(order) < 2:
        return None
    first, second = order[0].bowler, order[1].bowler
    for item in context.decisions.comparisons:
        if item.skill == skill and {item.better, item.other} == {first, second}:
            return item.probability if item.better == first else 1 - item.probability
    return None


def is_close(probability: float | None) -> bool:
    """Whether an order is too close to call."""
    return probability is not None and probability < CLOSE


def front(order: Sequence[T], probability: float | None) -> Sequence[T]:
    """The first of an order, or the first two if they are too close to call."""
    return order[: 2 if is_close(probability) else 1]


def leading(context: ReportContext, order: Sequence[str], probability: float | None) -> str:
    """Who leads: the first, or either of two that are too close to call."""
    return " or ".join(context.short_name(bowler) for bowler in front(order, probability))


def over(name: str, probability: float | None) -> str:
    """How surely one is better than the next: ``90 in 100 over Pia``, and whether it is too close to call."""
    if probability is None:
        return ""
    sure = f"{wording.in_hundred(probability)} over {name}"
    return f"{sure}, too close to call" if is_close(probability) else sure
