"""Block plans: steps in time, what to expect, and the practice that teaches most."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.decisions.records import BlockPlan, PlanStep
from pipeline.decisions.wording import cautions
from pipeline.decisions.wording.block_plan import games_of, shots_behind
from pipeline.decisions.wording.policy import A_MOVE, boards_in_words
from reports.charts import figures
from reports.context import ReportContext
from reports.html.components import Cell, Chart, Row, Table, Tags
from reports.style import wording
from reports.views import common, practice
from reports.views.pictures import Picture, plan_lane


@dataclass(frozen=True)
class Pick:
    """A posted pattern to choose by name: ``key`` is how plans and addresses call it."""

    key: str
    posted: str
    name: str
    length: str
    more_oil: str
    pattern_class: str


@dataclass(frozen=True)
class PlanCard:
    """One plan with the shape of its scores; ``pick`` is the pattern it is chosen by, ``balls`` those it throws."""

    plan: BlockPlan
    posted: str
    pick: str
    balls: str
    chart: Chart
    table: Table
    lane: Picture | None
    class_start: str
    """Why the season review's card starts on another board; empty if it does not."""
    as_good: str
    """Why the first ball is not the backup, if that is worth as much; else empty."""


@dataclass(frozen=True)
class ScoreAxes:
    """The axes that the shapes of all plans share: scores within ``span``, and chances of a ten up to ``top``."""

    span: figures.Span
    top: float

    @classmethod
    def of(cls, plans: list[BlockPlan]) -> ScoreAxes:
        """Axes that every plan's likely scores fit on."""
        chances = [chance for plan in plans for _, _, chance in figures.score_tens(plan)]
        return cls(figures.likely_scores(plans), max(chances, default=1.0))


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the plan template shows."""
    plans = context.decisions.plans
    named = {posted(plan): f"p{place}" for place, plan in enumerate({posted(plan): plan for plan in plans}.values())}
    by_bowler: dict[str, list[PlanCard]] = {bowler: [] for bowler in context.bowlers}
    axes = ScoreAxes.of(plans)
    for place, plan in enumerate(plans):
        by_bowler.setdefault(plan.bowler, []).append(_card(context, plan, place, named[posted(plan)], axes))
    return {
        "plans": {bowler: cards for bowler, cards in by_bowler.items() if cards},
        "picks": picks(plans, named),
        "sessions": practice.sessions(context),
        "overuse": cautions.OVERUSE,
        "behind": shots_behind,
        "span": games_of,
        "moves": usual_move,
    }


def picks(plans: list[BlockPlan], named: dict[str, str]) -> list[Pick]:
    """The posted patterns in the order of their plans, the one posted last first."""
    first: dict[str, BlockPlan] = {}
    for plan in plans:
        first.setdefault(posted(plan), plan)
    return [
        Pick(
            named[text],
            text,
            plan.pattern or "no name",
            f"{plan.length_ft:g} ft",
            _oil(plan).removeprefix(f"{plan.length_ft:g} ft"),
            plan.pattern_class,
        )
        for text, plan in first.items()
    ]


def posted(plan: BlockPlan) -> str:
    """The posted pattern in words: its name, if it has one, and its oil."""
    return _oil(plan) if plan.pattern is None else f"{plan.pattern}, {_oil(plan)}"


def _oil(plan: BlockPlan) -> str:
    parts = [f"{plan.length_ft:g} ft"]
    if plan.volume_ml is not None:
        parts.append(f"{plan.volume_ml:g} mL")
    if plan.ratio is not None:
        parts.append(f"{plan.ratio:g}:1")
    return ", ".join(parts)


def _balls(plan: BlockPlan) -> str:
    """``Hearth Brush, then Chutney``."""
    names = [wording.shorten(step.ball_name, 24) for step in plan.steps]
    return ", then ".join(name for place, name in enumerate(names) if not place or names[place - 1] != name)


def _card(context: ReportContext, plan: BlockPlan, place: int, pick: str, axes: ScoreAxes) -> PlanCard:
    chart, steps, lane = (
        _shape(context, plan, place, axes),
        _steps(context, plan, place),
        plan_lane(context, plan, place),
    )
    return PlanCard(
        plan, posted(plan), pick, _balls(plan), chart, steps, lane, class_start(context, plan), as_good(plan)
    )


def as_good(plan: BlockPlan) -> str:
    """That the backup may be the better ball in the first games, and why it does not come first."""
    if plan.backup is None or plan.backup.worth.mean < plan.steps[0].worth.mean:
        return ""
    return "As good in these games, but not surely better than the first ball."


def class_start(context: ReportContext, plan: BlockPlan) -> str:
    """Where the cards of the pattern's class play a ball that the plan plays on another board; empty if nowhere.

    A card is for the patterns of its class on average; a plan is for one pattern and its oil.
    """
    cards = {
        item.from_game: item.policy
        for item in context.decisions.playbook
        if (item.bowler, item.pattern_class) == (plan.bowler, plan.pattern_class) and item.policy is not None
    }
    apart = []
    for step in plan.steps:
        card = cards.get(step.from_game)
        if card is None or card.ball != step.ball or card.start_board is None or step.start_board is None:
            continue
        here, usual = round(step.start_board), round(card.start_board)
        if here != usual:
            apart.append(f"board {usual} from game {step.from_game} (this oil: {here})")
    if not apart:
        return ""
    return f"The season review shows all {plan.pattern_class} patterns on average: {', '.join(apart)}."


def _shape(context: ReportContext, plan: BlockPlan, place: int, axes: ScoreAxes) -> Chart:
    finding = (
        f"Expect an average of {wording.plain(plan.average.mean, 0)}; {wording.in_hundred(plan.p_200)} games reach 200"
    )
    tens = figures.score_tens(plan)
    rows = [
        Row([common.text(f"{low} to {high}"), common.number(chance, wording.percent(chance, 1))])
        for low, high, chance in tens
        if chance >= 0.0005
    ]
    return Chart(
        f"scores-{place}",
        finding,
        f"Chance of each ten scores; dark: 200 and over. {season_level(context, plan)}".strip(),
        context.pen.draw(figures.score_bars, tens, axes.span, axes.top),
        f"Shape of the scores to expect for {context.name(plan.bowler)} on {posted(plan)}. {finding}."
        " Probabilities by tens are in the table below.",
        Table(f"scores-data-{place}", "Scores to expect", ["score", "probability"], rows),
        Tags(),
    )


def season_level(context: ReportContext, plan: BlockPlan) -> str:
    """What the plan's pins per game are counted from, beside the average scored."""
    games = [step.to_game - step.from_game + 1 for step in plan.steps]
    over = sum(step.worth.mean * n for step, n in zip(plan.steps, games, strict=True)) / sum(games)
    level = wording.plain(plan.score.mean - over)
    scored = next((card.average for card in context.decisions.summary.bowlers if card.bowler == plan.bowler), None)
    if scored is None:
        return f"Worth is counted from the season's level, {level}."
    return f"Worth is counted from the season's level, {level} ({wording.plain(scored)} scored, with luck)."


def _steps(context: ReportContext, plan: BlockPlan, place: int) -> Table:
    steps = [(games_of(step), step) for step in plan.steps]
    if plan.backup is not None:
        steps.append(("if the first ball fails", plan.backup))
    rows = [
        Row(
            [
                common.text(when),
                common.text(step.ball_name),
                common.text(_played(step)),
                common.pins(step.worth, context.worth_strip, step.shots),
                common.chance(step.p_best),
                Cell(shots_behind(step), step.shots),
            ]
        )
        for when, step in steps
    ]
    columns = ["when", "ball", "played", "worth, pins per game (80 %)", "chance it is best", "shots"]
    return Table(f"steps-{place}", f"{context.name(plan.bowler)}, {posted(plan)}: steps", columns, rows)


def _played(step: PlanStep) -> str:
    if step.keeps_line:
        return f"{step.line} kept"
    start = step.line if step.start_board is None else f"from about board {step.start_board:.0f}"
    return f"{start}, moving{usual_move(step)}"


def usual_move(step: PlanStep) -> str:
    """``, 1 board in per game``; empty if the usual line hardly moves, or is kept."""
    moved = step.boards_a_game or 0.0
    return f", {boards_in_words(abs(moved))} {'in' if moved > 0 else 'out'} per game" if abs(moved) >= A_MOVE else ""
