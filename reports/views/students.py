"""Students: what to practise, every skill as an interval plot, who is better at what, and progress."""

from __future__ import annotations

import re
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
from reports.views.class_grid import class_grid
from reports.views.common import grouped, tags
from reports.views.skills import SURE, digits, ordered, shown, span

LEAVES_IN_A_DRILL = 3
NO_BREAK = "\N{NON-BREAKING HYPHEN}"
"""Between the pins of a leave, so that no line breaks it in two."""


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


def skill_table(context: ReportContext) -> Table:
    """Every skill of every student, the best first within a skill; each skill's finding names its fold."""
    by_skill = grouped(context.decisions.skills, lambda item: item.skill)
    rows = [row for skills in by_skill.values() for row in _skill_rows(context, skills)]
    columns = ["skill", "student", "now (80 %)", "class", "chance of beating the class average"]
    columns += ["change over the season (80 %)", "class change", "shots"]
    return Table("skills-table", "Skill by skill", columns, rows, frozenset(["class", "class change", "shots"]))


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
    tip = strips.tip(estimate, item.unit, item.shots, digits(item.unit))
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
