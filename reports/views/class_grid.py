"""The class grid: students by skills, who is best at each, and how surely."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.records import SkillEstimate
from pipeline.decisions.wording.focus import skill_name
from reports.context import ReportContext
from reports.html import strips
from reports.views import common
from reports.views.common import grouped
from reports.views.skills import SURE, ahead, digits, front, leading, ordered, shown


@dataclass(frozen=True)
class ClassCell:
    """One student's skill in the class grid."""

    shown: str
    tone: str
    leads: bool
    tip: str
    value: float


WHOLES = ("strikes", "spares")
"""Skills that the ones after them are parts of."""


@dataclass(frozen=True)
class ClassRow:
    """One skill of the class grid: the class average, who leads whom and how surely, and a cell for each bowler."""

    skill: str
    unit: str
    whole: bool
    usual: str
    leader: str
    """The first, or two that are too close to call."""
    p_ahead: float | None
    key: str
    cells: list[ClassCell | None]


def class_grid(context: ReportContext) -> list[ClassRow]:
    """A row per skill, its cells in the order of the bowlers' names.

    Empty if only one student is known: nobody leads alone.
    """
    if len({item.bowler for item in context.decisions.skills}) < 2:
        return []
    by_skill = grouped(context.decisions.skills, lambda item: item.skill)
    return [_class_row(context, skill, ordered(items)) for skill, items in by_skill.items()]


def _class_row(context: ReportContext, skill: str, order: list[SkillEstimate]) -> ClassRow:
    """``order``: the best first."""
    by_bowler, sure, first = {item.bowler: item for item in order}, ahead(context, skill, order), order[0]
    leaders = {item.bowler for item in front(order, sure) if item.p_above_average >= SURE}
    return ClassRow(
        skill_name(skill),
        first.unit,
        skill in WHOLES,
        shown(first.class_average, first.unit),
        leading(context, [item.bowler for item in order], sure),
        sure,
        common.place("skill", skill),
        [_class_cell(by_bowler[bowler], leaders) if bowler in by_bowler else None for bowler in context.bowlers],
    )


def _class_cell(item: SkillEstimate, leaders: set[str]) -> ClassCell:
    p = item.p_above_average
    tone = "gain3" if p >= 0.975 else "gain1" if p >= SURE else "loss3" if p <= 0.025 else "loss1"
    tip = strips.tip(item.value, item.unit, item.shots, digits(item.unit))
    tone = "even" if 1 - SURE < p < SURE else tone
    return ClassCell(shown(item.value.mean, item.unit), tone, item.bowler in leaders, tip, item.value.mean)
