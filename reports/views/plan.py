"""Block plans: steps in time, what to expect, and what to log next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.decisions.records import BlockPlan, NextShots
from pipeline.decisions.wording.block_plan import games_of, shots_behind
from reports.charts import figures
from reports.context import ReportContext
from reports.html.components import Cell, Chart, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.common import tags
from reports.views.pictures import Picture, plan_lane


@dataclass(frozen=True)
class PlanCard:
    """One plan with the shape of its scores."""

    plan: BlockPlan
    posted: str
    chart: Chart
    table: Table
    lane: Picture | None
    tags: Tags


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the plan template shows."""
    order = {bowler: place for place, bowler in enumerate(context.bowlers)}
    plans = sorted(context.decisions.plans, key=lambda item: (order.get(item.bowler, 99), item.length_ft))
    return {
        "plans": [_card(context, item, place) for place, item in enumerate(plans)],
        "next": next_shots(context),
        "behind": shots_behind,
        "span": games_of,
    }


def posted(plan: BlockPlan) -> str:
    """The posted pattern in words."""
    parts = [f"{plan.length_ft:g} ft"]
    if plan.volume_ml is not None:
        parts.append(f"{plan.volume_ml:g} mL")
    if plan.ratio is not None:
        parts.append(f"{plan.ratio:g}:1")
    return ", ".join(parts)


def _card(context: ReportContext, plan: BlockPlan, place: int) -> PlanCard:
    shots = sum(step.shots or step.shots_elsewhere for step in plan.steps)
    tag = tags(plan.bowler, plan.pattern_class, shots=shots)
    chart, steps, lane = _shape(context, plan, place), _steps(context, plan, place), plan_lane(context, plan, place)
    return PlanCard(plan, posted(plan), chart, steps, lane, tag)


def _shape(context: ReportContext, plan: BlockPlan, place: int) -> Chart:
    finding = (
        f"Expect an average of {wording.plain(plan.average.mean, 0)}; {wording.in_hundred(plan.p_200)} games reach 200"
    )
    plans = context.decisions.plans
    top = 1.05 * max(chance for item in plans for _, _, chance in figures.score_tens(item))
    rows = [
        Row([common.text(f"{low} to {high}"), common.number(chance, wording.percent(chance, 1))])
        for low, high, chance in figures.score_tens(plan)
        if chance >= 0.0005
    ]
    return Chart(
        f"scores-{place}",
        finding,
        "Probability of each ten of scores in one game; full colour: 200 and more.",
        context.pen.draw(figures.score_shape, plan, figures.likely_scores(plans), top),
        f"Shape of the scores to expect for {context.name(plan.bowler)} on {posted(plan)}. {finding}."
        " Probabilities by tens are in the table below.",
        Table(f"scores-data-{place}", "Scores to expect", ["score", "probability"], rows),
        Tags(),
    )


def _steps(context: ReportContext, plan: BlockPlan, place: int) -> Table:
    steps = [(games_of(step), step) for step in plan.steps]
    if plan.backup is not None:
        steps.append(("if it fails", plan.backup))
    rows = [
        Row(
            [
                common.text(when),
                common.text(step.ball_name),
                common.text(step.line),
                common.pins(step.worth, context.worth_strip, step.shots),
                common.chance(step.p_best),
                Cell(shots_behind(step), step.shots),
            ]
        )
        for when, step in steps
    ]
    columns = ["when", "ball", "line", "worth, pins per game (80 %)", "chance it is best", "shots"]
    return Table(f"steps-{place}", f"{context.name(plan.bowler)}, {posted(plan)}: steps", columns, rows)


def _for_a_hundred(item: NextShots) -> float:
    """Pins per game over all the bowler bowls that a hundred such shots are expected to add."""
    return 100 * item.gain * item.share / item.shots


def next_shots(context: ReportContext) -> Table:
    """What to log next, by what a shot is expected to add over the bowler's season."""
    found = sorted(context.decisions.next_shots, key=lambda item: -_for_a_hundred(item))
    rows = [
        Row(
            [
                Cell(f"{item.ball_name}, {item.line}", f"{item.ball_name}, {item.line}", full=item.sentence),
                common.who(context.name(item.bowler)),
                common.text(f"{item.pattern_class}, {item.phase}"),
                common.shots_cell(item.shots),
                common.number(item.gain, wording.plain(item.gain, 1)),
                common.number(_for_a_hundred(item), wording.plain(_for_a_hundred(item), 2)),
            ],
            tags(item.bowler, item.pattern_class, item.phase, item.shots),
            context.name(item.bowler),
        )
        for item in found
    ]
    columns = ["ball and line", "bowler", "pattern and phase", "shots to log", "what they add there, pins per game"]
    columns.append("over all games, for 100 shots")
    return Table("next", "What to log next", columns, rows, order=columns[-1])
