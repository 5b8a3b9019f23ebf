"""Students: what to practise, every skill as an interval plot, who is better at what, and progress."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from pipeline.decisions.records import Estimate, PracticeFocus, SkillEstimate
from pipeline.decisions.wording import cautions, drills
from pipeline.decisions.wording.focus import skill_name
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Cell, Row, Table
from reports.style import wording
from reports.views import common, ledger_students
from reports.views.common import grouped, tags

LEAVES_IN_A_DRILL = 3
NO_BREAK = "\N{NON-BREAKING HYPHEN}"
"""Between the pins of a leave, so that no line breaks it in two."""
SURE = 0.9
"""From this probability on a student stands apart from the class."""
CLOSE = 0.8
"""Below this probability the order of two students is too close to call."""


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the students template shows."""
    return {
        "focus": focus_cards(context),
        "grid": class_grid(context),
        "skills": skill_table(context),
        "comparisons": comparisons(context),
        "minors": any(card.minor for card in context.decisions.summary.bowlers),
        "cautions": cautions.PEOPLE,
        "ledger": ledger_students.table(context),
    }


def shown(value: float, unit: str, sign: bool = False) -> str:
    """A skill in its unit: boards with two digits, per cent and pins with one."""
    digits = 2 if unit == "boards" else 1
    return wording.signed(value, digits) if sign else wording.plain(value, digits)


def span(estimate: Estimate, unit: str, sign: bool = False) -> str:
    """The 80 % interval of a skill in its unit."""
    return f"{shown(estimate.lo80, unit, sign)} to {shown(estimate.hi80, unit, sign)}"


@dataclass(frozen=True)
class FocusCard:
    """What one student practises, and how."""

    focus: PracticeFocus
    name: str
    drill: str
    short: str
    """The drill in a few words."""
    key: str


def focus_cards(context: ReportContext) -> list[FocusCard]:
    """The one thing to practise for each student, most pins first."""
    cards = sorted(context.decisions.focus, key=lambda item: -item.pins_if_class_best.mean)
    return [_focus_card(context, item) for item in cards]


def _focus_card(context: ReportContext, item: PracticeFocus) -> FocusCard:
    left_handed = context.hands.get(item.bowler) == "left"
    leaves = leaves_to_practise(context, item)
    whole, short = (
        re.sub(r"(?<=\d)-(?=\d)", NO_BREAK, text(item.skill, leaves, left_handed))
        for text in (drills.drill, drills.short_drill)
    )
    return FocusCard(item, skill_name(item.skill), whole, short, common.place("focus", item.bowler))


def leaves_to_practise(context: ReportContext, item: PracticeFocus) -> list[str]:
    """The bowler's leaves with most pins to win back, of one pin or of several as the skill asks; none for others."""
    if item.skill not in ("single-pin spares", "multi-pin spares"):
        return []
    single = item.skill == "single-pin spares"
    mine = [
        leave
        for leave in context.decisions.leaves
        if leave.bowler == item.bowler and leave.leave_type != "full rack" and ("-" not in leave.leave) == single
    ]
    return [leave.leave for leave in sorted(mine, key=lambda leave: -leave.pins_to_win_back)[:LEAVES_IN_A_DRILL]]


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
    leaders = {item.bowler for item in order[: 2 if is_close(sure) else 1] if item.p_above_average >= SURE}
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


def leading(context: ReportContext, order: Sequence[str], probability: float | None) -> str:
    """Who leads: the first, or either of two that are too close to call."""
    return " or ".join(context.short_name(bowler) for bowler in order[: 2 if is_close(probability) else 1])


def over(name: str, probability: float | None) -> str:
    """How surely one is better than the next: ``90 in 100 over Pia``, or that it is too close to call."""
    if probability is None:
        return ""
    if is_close(probability):
        return f"too close to call with {name} ({wording.in_hundred(probability)})"
    return f"{wording.in_hundred(probability)} over {name}"


def _class_cell(item: SkillEstimate, leaders: set[str]) -> ClassCell:
    p = item.p_above_average
    tone = "gain3" if p >= 0.975 else "gain1" if p >= SURE else "loss3" if p <= 0.025 else "loss1"
    tip = strips.tip(item.value, item.unit, item.shots, 2 if item.unit == "boards" else 1)
    tone = "even" if 1 - SURE < p < SURE else tone
    return ClassCell(shown(item.value.mean, item.unit), tone, item.bowler in leaders, tip, item.value.mean)


def skill_table(context: ReportContext) -> Table:
    """Every skill of every student, the best first within a skill; each skill's finding names its fold."""
    by_skill = grouped(context.decisions.skills, lambda item: item.skill)
    rows = [row for skills in by_skill.values() for row in _skill_rows(context, skills)]
    columns = ["skill", "student", "now (80 %)", "class", "chance of beating the class average"]
    columns += ["change over the season (80 %)", "class change", "shots"]
    return Table("skills-table", "Skill by skill", columns, rows, frozenset(["class", "class change", "shots"]))


def ordered(skills: list[SkillEstimate]) -> list[SkillEstimate]:
    """Everybody's estimates of one skill, the best first; at least one."""
    sign = -1 if skills[0].higher_is_better else 1
    return sorted(skills, key=lambda item: sign * item.value.mean)


def _finding(context: ReportContext, skills: list[SkillEstimate]) -> str:
    best = ordered(skills)[0]
    clear = sum(not 1 - SURE < item.p_above_average < SURE for item in skills)
    skill = wording.sentence_case(skill_name(best.skill))
    if len(skills) == 1:
        return f"{skill}: {_beside_the_class(context, best)}"
    if clear == 0:
        return f"{skill}: the shots cannot tell the students apart"
    name = wording.shorten(context.name(best.bowler), 32)
    first = f"{name} leads" if best.p_above_average >= 0.5 else "nobody here is likely above the class"
    return f"{skill}: {first}; {clear} of {len(skills)} stand apart from the class (9 in 10 sure)"


def _beside_the_class(context: ReportContext, item: SkillEstimate) -> str:
    """One student against the class, if nobody else is shown."""
    name = wording.shorten(context.name(item.bowler), 32)
    own, usual = shown(item.value.mean, item.unit), shown(item.class_average, item.unit)
    if 0.1 < item.p_above_average < 0.9:
        return f"{name} cannot be told from the class ({own} against {usual} {item.unit})"
    side = "ahead of" if item.p_above_average > 0.5 else "behind"
    return f"{name} is clearly {side} the class ({own} against {usual} {item.unit})"


def _skill_rows(context: ReportContext, skills: list[SkillEstimate]) -> list[Row]:
    first = skills[0]
    scale = _round_the_class([item.value for item in skills], first)
    changes = _better_right(strips.scale_for([item.progress for item in skills if item.progress]), first)
    change = first.class_progress
    finding = _finding(context, skills)
    return [
        Row(
            [
                common.text(skill_name(first.skill)),
                common.who(context.name(item.bowler)),
                _skill_cell(item.value, item, scale, sign=False),
                common.number(first.class_average, shown(first.class_average, first.unit)),
                common.chance(item.p_above_average),
                _change_cell(item.progress, item, changes) if item.progress else Cell("not known"),
                common.number(change, shown(change, first.unit, sign=True)) if change is not None else Cell(""),
                common.shots_cell(item.shots),
            ],
            tags(item.bowler, shots=item.shots),
            finding,
        )
        for item in ordered(skills)
    ]


def _round_the_class(values: list[Estimate], first: SkillEstimate) -> strips.Scale:
    """The class average in the middle of the strip, and better on the right, whichever way the unit runs."""
    reach = max(max(abs(end - first.class_average) for end in (item.lo80, item.hi80)) for item in values) * 1.06
    sides = (first.class_average - reach, first.class_average + reach)
    low, high = sides if first.higher_is_better else sides[::-1]
    return strips.Scale(low, high, first.class_average)


def _better_right(scale: strips.Scale, first: SkillEstimate) -> strips.Scale:
    """The scale turned round where less is better."""
    return scale if first.higher_is_better else strips.Scale(scale.high, scale.low, scale.mark)


def _change_cell(change: Estimate, item: SkillEstimate, scale: strips.Scale) -> Cell:
    cell = _skill_cell(change, item, scale, sign=True)
    return cell if item.higher_is_better else replace(cell, text=changed(change.mean, item))


def changed(change: float, item: SkillEstimate) -> str:
    """A change over the season in words that say its direction: ``+1.2 points``, ``0.01 boards better``."""
    unit = "points" if item.unit == "%" else item.unit
    if item.higher_is_better:
        return f"{shown(change, item.unit, True)} {unit}"
    size = shown(abs(change), item.unit)
    return f"{size} {unit}" if float(size) == 0 else f"{size} {unit} {'better' if change < 0 else 'worse'}"


def _skill_cell(estimate: Estimate, item: SkillEstimate, scale: strips.Scale, sign: bool) -> Cell:
    tip = strips.tip(estimate, item.unit, item.shots, 2 if item.unit == "boards" else 1)
    drawing = strips.strip(estimate, scale, tip, higher_is_better=item.higher_is_better)
    return Cell(
        f"{shown(estimate.mean, item.unit, sign)} {item.unit}",
        estimate.mean,
        drawing,
        note=span(estimate, item.unit, sign),
        kind="est",
    )


def comparisons(context: ReportContext) -> Table:
    """Pairs of students and how sure their order is."""
    units: dict[str, str] = {item.skill: item.unit for item in context.decisions.skills}
    items = sorted(context.decisions.comparisons, key=lambda item: -item.probability)
    rows = [
        Row(
            [
                Cell(
                    f"{context.name(item.better)} over {context.name(item.other)}", f"{item.better} over {item.other}"
                ),
                common.text(skill_name(item.skill)),
                common.number(
                    item.difference.mean,
                    f"{shown(item.difference.mean, units.get(item.skill, ''), True)} {units.get(item.skill, '')}",
                    span(item.difference, units.get(item.skill, ""), True),
                ),
                common.chance(item.probability),
                common.shots_cell(item.shots),
            ],
            common.Tags(item.better, shots=item.shots, other=item.other),
            wording.sentence_case(skill_name(item.skill)),
        )
        for item in items
    ]
    columns = ["students", "skill", "difference (80 %)", "chance", "shots"]
    return Table("comparisons", "Who is better at what", columns, rows, frozenset(["shots"]), order="chance")
