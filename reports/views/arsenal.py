"""Arsenal: the work list; ageing curves; doubles, gaps and the strength ladder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.decisions.records import BallVerdict
from pipeline.decisions.wording import cautions
from reports.charts import figures
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Bit, Cell, Chart, Row, Table, Tags
from reports.style import palette, wording
from reports.views import common, work_list
from reports.views.common import grouped, tags


@dataclass(frozen=True)
class BallCard:
    """One ball with its verdict, its ageing chart and the care it had."""

    ball: BallVerdict
    chart: Chart | None
    options: Table | None
    care: Table | None
    tags: Tags
    key: str


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the arsenal template shows."""
    return {
        "tasks": work_list.table(context),
        "dues": work_list.dues(context),
        "cards": ball_cards(context),
        "digests": digests(context),
        "redundant": redundant(context),
        "gaps": gaps(context),
        "ladder": [(bowler, rungs, _ends(rungs)) for bowler, rungs in ladder(context)],
        "cautions": list(cautions.BALL_CARE) if context.decisions.arsenal else [],
    }


def _in_order(context: ReportContext) -> list[BallVerdict]:
    """Balls in the order of the work list; without one, by what is at stake."""
    place = {(item.bowler, item.ball): -item.pins_a_season for item in context.decisions.arsenal_tasks}
    balls = context.decisions.arsenal
    return sorted(balls, key=lambda item: (place.get((item.bowler, item.ball), 0.0), -item.at_stake.mean))


def digests(context: ReportContext) -> dict[str, list[Bit]]:
    """Bowler -> the balls of each verdict, most urgent first."""
    by_bowler = {}
    for bowler, balls in grouped(_in_order(context), lambda item: item.bowler).items():
        by_verdict = grouped(balls, lambda item: item.verdict)
        by_bowler[bowler] = [
            Bit(verdict, ", ".join(wording.shorten(item.ball_name, 24) for item in items))
            for verdict, items in by_verdict.items()
        ]
    return by_bowler


def ball_cards(context: ReportContext) -> dict[str, list[BallCard]]:
    """Bowler -> cards, most urgent first."""
    balls = context.decisions.arsenal
    shares = [point.carry.hi80 for item in balls for point in item.curve]
    shares += [point.strikes / point.shots for item in balls for point in item.life if point.shots]
    top = min(1.0, max([0.6, *shares]) // 0.1 * 0.1 + 0.1)
    span = common.span([0.0, *(item.games_total + 10 for item in balls)])
    by_bowler = grouped(_in_order(context), lambda item: item.bowler)
    return {
        bowler: [_card(context, item, span, top) for item in by_bowler[bowler]]
        for bowler in context.bowlers
        if bowler in by_bowler
    }


def _card(context: ReportContext, item: BallVerdict, span: figures.Span, top: float) -> BallCard:
    chart = _age_chart(context, item, span, top) if len(item.curve) > 1 else None
    mine = [task for task in context.decisions.arsenal_tasks if (task.bowler, task.ball) == (item.bowler, item.ball)]
    task = mine[0] if mine else None
    return BallCard(
        item,
        chart,
        None if task is None else work_list.options_table(task),
        _care_table(item) if item.care else None,
        tags(item.bowler, shots=item.shots),
        common.place("ball", item.bowler, item.ball),
    )


def restarts(item: BallVerdict) -> list[float]:
    """Games on the ball at each logged resurfacing, the latest first: there the count since resurfacing restarts."""
    games = []
    at = item.games_total - item.games_since_resurface
    acts = sorted((act for act in item.care if act.action.startswith("resurfac")), key=lambda act: act.date)
    for act in reversed(acts):
        games.append(at)
        at -= act.games_at
    return games


def _age_chart(context: ReportContext, item: BallVerdict, span: figures.Span, top: float) -> Chart:
    """The ball's life: raw points, resurfacings, and the curve of the surface it has, with the games ahead."""
    ages = sorted(item.curve, key=lambda point: point.games)
    ahead = item.games_since_resurface + 10
    drawn = [point for point in ages if point.games <= ahead] or ages[:1]
    first, last = drawn[0], drawn[-1]
    change = 100 * (last.carry.mean - first.carry.mean)
    stretch = last.games - first.games
    name = wording.shorten(item.ball_name, 24)
    points = f"{abs(change):.0f} point{'' if round(abs(change)) == 1 else 's'}"
    finding = f"{name}: strikes {'rise' if change >= 0 else 'fall'} {points} in {wording.games(stretch)}"
    start, marks = item.games_total - item.games_since_resurface, restarts(item)
    curve = [point.model_copy(update={"games": start + point.games}) for point in drawn]
    rows = [
        Row(
            [
                common.number(p.games, f"{p.games:.0f}"),
                common.bare_share(p.carry),
                Cell(""),
                common.shots_cell(p.shots),
            ]
        )
        for p in curve
    ]
    rows += [
        Row(
            [
                common.number(p.games_total, f"{p.games_total:g}"),
                Cell(""),
                common.number(p.strikes / p.shots, wording.percent(p.strikes / p.shots)),
                common.shots_cell(p.shots),
            ]
        )
        for p in item.life
        if p.shots
    ]
    columns = ["games on the ball", "strikes on the present surface (80 %)", "unadjusted", "shots"]
    marked = (
        f" Dashed: resurfaced after {' and '.join(f'{mark:.0f}' for mark in sorted(marks))} games." if marks else ""
    )
    return Chart(
        f"age-{item.bowler}-{item.ball}",
        finding,
        f"Strikes per first ball.{marked}",
        context.pen.draw(figures.ball_life, curve, item.life, marks, span, top),
        f"Life of {item.ball_name} by games on it. {finding} since a resurfacing.{marked}"
        " All values are in the table below.",
        Table(f"age-data-{item.bowler}-{item.ball}", f"{item.ball_name}: strikes by games on it", columns, rows),
        Tags(),
    )


def _care_table(item: BallVerdict) -> Table:
    rows = [
        Row(
            [
                Cell(common.day(act.date), act.date.isoformat()),
                common.text(act.action),
                common.number(act.games_at, f"{act.games_at:.0f}"),
                common.bare_pins(act.recovery),
                Cell(f"{act.shots_before}, {act.shots_after}", f"{act.shots_before} and {act.shots_after}", kind="num"),
            ]
        )
        for act in sorted(item.care, key=lambda act: act.date)
    ]
    columns = ["date", "care", "after games", "regained, pins per game (80 %)", "shots before, after"]
    return Table(f"care-{item.bowler}-{item.ball}", f"{item.ball_name}: care logged", columns, rows)


def redundant(context: ReportContext) -> Table:
    """Pairs that do the same job, or come closest to it."""
    pairs = sorted(context.decisions.redundant, key=lambda item: -item.p_same_job)
    scale = strips.scale_for([item.apart for item in pairs])
    rows = [
        Row(
            [
                Cell(
                    f"{context.ball(item.ball_a)} and {context.ball(item.ball_b)}",
                    f"{item.ball_a} and {item.ball_b}",
                    full=item.sentence,
                ),
                common.who(context.name(item.bowler)),
                common.pins(item.apart, scale, item.shots),
                common.chance(item.p_same_job),
                common.shots_cell(item.shots),
            ],
            tags(item.bowler, shots=item.shots),
        )
        for item in pairs
    ]
    columns = ["balls", "bowler", "first over second, pins per game (80 %)", "chance of the same job", "shots"]
    return Table("redundant", "Balls that do the same job", columns, rows, order="chance of the same job")


def gaps(context: ReportContext) -> Table:
    """Conditions nothing in the bag answers."""
    items = sorted(context.decisions.gaps, key=lambda item: -item.probability)
    rows = [
        Row(
            [
                Cell(f"{item.pattern_class}, {item.phase}", f"{item.pattern_class}, {item.phase}", full=item.sentence),
                common.who(context.name(item.bowler)),
                common.pins(item.best_worth, context.worth_strip, item.shots),
                common.chance(item.probability),
                common.shots_cell(item.shots),
            ],
            tags(item.bowler, item.pattern_class, item.phase, item.shots),
            context.name(item.bowler),
        )
        for item in items
    ]
    columns = ["pattern and phase", "bowler", "best choice there, pins per game (80 %)", "chance of a gap", "shots"]
    return Table("gaps", "Patterns no ball in the bag is good on", columns, rows, order="chance of a gap")


def ladder(context: ReportContext) -> list[tuple[str, Table]]:
    """Each bowler's balls, strongest first, in boards of hook round the benchmark ball."""
    rungs = []
    scale = strips.scale_for([item.boards_of_hook for item in context.decisions.ladder])
    by_bowler = grouped(context.decisions.ladder, lambda item: item.bowler)
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        rows = [
            Row(
                [
                    Cell(
                        item.ball_name,
                        item.ball_name,
                        note="benchmark ball" if item.benchmark else "",
                        kind="bench" if item.benchmark else "",
                    ),
                    common.signed(item.boards_of_hook, scale, "boards of hook", item.shots),
                    *(_suits(context, bowler, item.ball, pattern) for pattern in context.lengths),
                    common.number(item.rank, str(item.rank)),
                    common.text(item.catalogue),
                    common.text(context.ball(item.ball_up) if item.ball_up else "none"),
                    common.text(context.ball(item.ball_down) if item.ball_down else "none"),
                    common.shots_cell(item.shots),
                ],
                tags(bowler, shots=item.shots),
            )
            for item in sorted(by_bowler[bowler], key=lambda rung: rung.rank)
        ]
        columns = ["ball", "boards of hook (80 %)", *context.lengths]
        rest = ["rank", "catalogue", "ball up", "ball down", "shots"]
        caption = f"{context.name(bowler)}: strongest to weakest"
        rungs.append(
            (bowler, Table(f"ladder-{bowler}", caption, [*columns, *rest], rows, frozenset(rest), order=columns[1]))
        )
    return rungs


def _ends(rungs: Table) -> list[Bit]:
    """The strongest ball and the weakest, in boards of hook."""
    ends = (("strongest", rungs.rows[0]), ("weakest", rungs.rows[-1]))
    return [Bit(label, row.cells[0].text, f"{row.cells[1].text} boards") for label, row in ends]


def _suits(context: ReportContext, bowler: str, ball: str, pattern: str) -> Cell:
    """What a ball is worth on a pattern class in the games it is compared in, played as the cards play it."""
    priced = [
        item
        for item in context.decisions.leads
        if (item.bowler, item.ball, item.pattern_class) == (bowler, ball, pattern)
    ]
    if not priced:
        return Cell("not compared", kind="gap")
    worth = sum(item.worth.mean for item in priced) / len(priced)
    games = sorted(item.game for item in priced)
    note = f"game {games[0]}" if len(games) == 1 else f"games {games[0]} to {games[-1]}"
    return Cell(wording.signed(worth), worth, note=note, kind=f"suits tone-{palette.worth_tone(worth)}")
