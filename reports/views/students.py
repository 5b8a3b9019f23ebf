"""Students: what to practise, every skill as an interval plot, who is better at what, and progress."""

from __future__ import annotations

from typing import Any

from pipeline.decisions.records import Estimate, SkillEstimate
from pipeline.decisions.wording import cautions
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Cell, Row, Table
from reports.style import wording
from reports.views import common, ledger_students
from reports.views.common import grouped, tags


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the students template shows."""
    return {
        "focus": sorted(context.decisions.focus, key=lambda item: -item.pins_if_class_best.mean),
        "skills": skill_tables(context),
        "comparisons": comparisons(context),
        "minors": any(card.minor for card in context.decisions.summary.bowlers),
        "cautions": cautions.PEOPLE,
        "ledger": ledger_students.table(context),
    }


def shown(value: float, unit: str, sign: bool = False) -> str:
    """A skill in its unit, with one digit of a per cent or two of anything else."""
    digits = 1 if unit == "%" else 2
    return wording.signed(value, digits) if sign else wording.plain(value, digits)


def span(estimate: Estimate, unit: str, sign: bool = False) -> str:
    """The 80 % interval of a skill in its unit."""
    return f"{shown(estimate.lo80, unit, sign)} to {shown(estimate.hi80, unit, sign)}"


def skill_tables(context: ReportContext) -> list[tuple[str, Table]]:
    """Skill -> finding and table, students in order of the skill."""
    by_skill = grouped(context.decisions.skills, lambda item: item.skill)
    return [(_finding(context, found), _skill_table(context, skill, found)) for skill, found in by_skill.items()]


def _ordered(found: list[SkillEstimate]) -> list[SkillEstimate]:
    sign = -1 if found[0].higher_is_better else 1
    return sorted(found, key=lambda item: sign * item.value.mean)


def _finding(context: ReportContext, found: list[SkillEstimate]) -> str:
    best = _ordered(found)[0]
    clear = sum(item.p_above_average >= 0.9 or item.p_above_average <= 0.1 for item in found)
    skill = wording.sentence_case(best.skill)
    if len(found) == 1:
        return f"{skill}: {_beside_the_class(context, best)}"
    if clear == 0:
        return f"{skill}: the shots cannot tell the students apart"
    name = wording.shorten(context.name(best.bowler), 32)
    first = f"{name} leads" if best.p_above_average >= 0.5 else "nobody here is likely above the class"
    return f"{skill}: {first}; {clear} of {len(found)} stand apart from the class (9 in 10 sure)"


def _beside_the_class(context: ReportContext, item: SkillEstimate) -> str:
    """One student against the class, where nobody else is shown."""
    name = wording.shorten(context.name(item.bowler), 32)
    own, usual = shown(item.value.mean, item.unit), shown(item.class_average, item.unit)
    if 0.1 < item.p_above_average < 0.9:
        return f"{name} cannot be told from the class ({own} against {usual} {item.unit})"
    side = "ahead of" if item.p_above_average > 0.5 else "behind"
    return f"{name} is clearly {side} the class ({own} against {usual} {item.unit})"


def _skill_table(context: ReportContext, skill: str, found: list[SkillEstimate]) -> Table:
    first = found[0]
    scale = strips.scale_for([item.value for item in found], first.class_average)
    changes = strips.scale_for([item.progress for item in found if item.progress])
    rows = [
        Row(
            [
                common.text(context.name(item.bowler)),
                _skill_cell(item.value, item, scale, sign=False),
                common.chance(item.p_above_average),
                _skill_cell(item.progress, item, changes, sign=True) if item.progress else Cell("not known"),
                common.shots_cell(item.shots),
            ],
            tags(item.bowler, shots=item.shots),
        )
        for item in _ordered(found)
    ]
    better = "higher is better" if first.higher_is_better else "lower is better"
    columns = ["student", f"{first.unit}, {better} (80 %)", "chance of beating the class average"]
    change = "percentage points" if first.unit == "%" else first.unit
    columns += [f"change over the season, {change} (80 %)", "shots"]
    caption = (
        f"{wording.sentence_case(skill)}: upright line is the class average, {shown(first.class_average, first.unit)}"
    )
    caption += f" {first.unit}"
    if first.class_progress is not None:
        caption += f"; over the season the class changed by {shown(first.class_progress, first.unit, sign=True)}"
    return Table(f"skill-{skill.replace(' ', '-')}", caption, columns, rows)


def _skill_cell(estimate: Estimate, item: SkillEstimate, scale: strips.Scale, sign: bool) -> Cell:
    tip = strips.tip(estimate, item.unit, item.shots, 1 if item.unit == "%" else 2)
    drawing = strips.strip(estimate, scale, tip, higher_is_better=item.higher_is_better)
    return Cell(
        shown(estimate.mean, item.unit, sign), estimate.mean, drawing, note=span(estimate, item.unit, sign), kind="est"
    )


def comparisons(context: ReportContext) -> Table:
    """Pairs of students and how sure their order is."""
    units: dict[str, str] = {item.skill: item.unit for item in context.decisions.skills}
    found = sorted(context.decisions.comparisons, key=lambda item: (item.skill, -item.probability))
    rows = [
        Row(
            [
                Cell(
                    f"{context.name(item.better)} over {context.name(item.other)}", f"{item.better} over {item.other}"
                ),
                common.text(item.skill),
                Cell(
                    f"{shown(item.difference.mean, units.get(item.skill, ''), True)} {units.get(item.skill, '')}",
                    item.difference.mean,
                    note=span(item.difference, units.get(item.skill, ""), True),
                    kind="num",
                ),
                common.chance(item.probability),
                common.shots_cell(item.shots),
            ],
            common.Tags(item.better, shots=item.shots, other=item.other),
        )
        for item in found
    ]
    columns = ["students", "skill", "difference (80 %)", "chance", "shots"]
    return Table("comparisons", "Who is better at what", columns, rows)
