"""The arsenal's work list: what to do with each ball, to which grit, by when, how sure, and what else could be done."""

from __future__ import annotations

from collections import Counter

from pipeline.decisions.records import WITHHELD, ArsenalTask, BallVerdict, CareOption, DueBy
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Cell, Row, Table
from reports.style import wording
from reports.views import common
from reports.views.advice import given_up
from reports.views.common import tags

LOOKS = {"retire": 0, "resurface": 1, "clean": 2, "keep": 3, "watch": 4, "not enough shots": 4}
"""Verdict -> the look of its chip."""
_ASKS = {act: f"to {act}" for act in ("retire", "resurface", "clean", "watch", "keep")} | {
    "not enough shots": "without enough shots"
}


def table(context: ReportContext) -> Table:
    """All balls, most pins per season first; what else could be done, and the ball's state, on request."""
    tasks = context.decisions.arsenal_tasks
    balls = {(item.bowler, item.ball): item for item in context.decisions.arsenal}
    scale = strips.scale_for([_best(item).gain for item in tasks])
    rows = [
        Row(
            _first(context, item, scale) + _rest(item, balls.get((item.bowler, item.ball))),
            tags(item.bowler, shots=item.shots),
            _group(item),
        )
        for item in sorted(tasks, key=lambda item: -item.pins_a_season)
    ]
    columns = ["ball", "bowler", "do", "to grit", "by when", "chance it gains"]
    columns += ["gain, pins per game (80 %)", "pins per season"]
    more = ["keep", "clean", "resurface", "retire", "chance it gains most of the four", "from the bag in its place"]
    more += ["strikes against its class, points (80 %)", "lost per 10 games, pins (80 %)"]
    more += ["games since resurfacing", "shots"]
    extra = frozenset(more[:-1])
    return Table("work-list", "Work list of balls", [*columns, *more], rows, extra, columns[7], opens=True)


def _group(item: ArsenalTask) -> str:
    """What a long list folds by: the verdict, and whether a resurfacing is due now."""
    if item.do != "resurface":
        return wording.sentence_case(item.do)
    return "Resurface now" if item.due.games == 0 else "Resurface later"


def dues(context: ReportContext) -> dict[str, str]:
    """How many balls ask for what, for everyone (key '') and for each bowler: ``4 balls to resurface, 1 to watch.``"""
    tasks = context.decisions.arsenal_tasks
    dues = {"": _due_in_all(tasks)}
    return dues | {bowler: _due_in_all([item for item in tasks if item.bowler == bowler]) for bowler in context.bowlers}


def _due_in_all(tasks: list[ArsenalTask]) -> str:
    counts = Counter(str(item.do) for item in tasks)
    said = [f"{counts[act]} {ask}" for act, ask in _ASKS.items() if counts[act]]
    if not said:
        return ""
    number, ask = said[0].split(" ", 1)
    return ", ".join([f"{number} ball{'' if number == '1' else 's'} {ask}", *said[1:]]) + "."


def _best(item: ArsenalTask) -> CareOption:
    return next(option for option in item.options if option.act == item.looks_best)


def _first(context: ReportContext, item: ArsenalTask, scale: strips.Scale) -> list[Cell]:
    best = _best(item)
    looks = "" if item.do == best.act else f"{best.act} looks best"
    if item.do not in ("keep", *WITHHELD) and item.ball in given_up(context.decisions.playbook):
        looks = "if still thrown"
    return [
        Cell(item.ball_name, item.ball_name, full=item.sentence),
        common.who(context.name(item.bowler)),
        Cell(item.do, item.do, note=looks, kind=f"verdict b-{LOOKS[item.do]}"),
        _grit(item),
        _due(item),
        Cell("") if best.p_gain is None else common.chance(best.p_gain),
        Cell("0", 0.0, kind="est") if best.p_gain is None else common.pins(best.gain, scale, item.shots),
        common.number(item.pins_a_season, wording.signed(item.pins_a_season, 0)),
    ]


def _grit(item: ArsenalTask) -> Cell:
    """The grit with its evidence, for a ball that is to be resurfaced or may be."""
    if item.looks_best != "resurface":
        return Cell("")
    if item.grit.grit is None and item.grit.now is not None:
        return Cell(f"same {item.grit.now}", "no evidence")
    if item.grit.grit is None:
        return Cell("no evidence", "no evidence")
    sure = "" if item.grit.probability is None else f", {wording.in_hundred(item.grit.probability)}"
    return Cell(str(item.grit.grit), item.grit.grit, note=f"{item.grit.of}{sure}", full=item.grit.sentence)


def _due(item: ArsenalTask) -> Cell:
    """Now, or after so many games with the ball; a new ball and a clean wait for nothing."""
    if item.do in ("retire", "clean"):
        return Cell("now", 0.0)
    if item.do == "keep":
        return Cell("")
    return Cell(due_in_words(item.due), item.due.games, note=_day(item.due))


def due_in_words(due: DueBy) -> str:
    """By when to resurface, in games with the ball."""
    if due.games is None:
        return "not in sight"
    return "now" if due.games == 0 else f"in {wording.games(due.games)}"


def _day(due: DueBy) -> str:
    return "" if not due.games or due.date is None else common.day(due.date)


def _rest(item: ArsenalTask, ball: BallVerdict | None) -> list[Cell]:
    cells = [_option(option) for option in item.options]
    cells += [common.chance(item.probability), _stand_in(item)]
    if ball is None:
        return [*cells, Cell(""), Cell(""), Cell(""), common.shots_cell(item.shots)]
    against = ball.against_class
    return [
        *cells,
        common.number(against.mean, wording.signed(100 * against.mean), wording.interval(against, times=100)),
        common.bare_pins(ball.loss_per_10_games),
        common.number(ball.games_since_resurface, wording.count(ball.games_since_resurface)),
        common.shots_cell(item.shots),
    ]


def _option(option: CareOption) -> Cell:
    if option.p_gain is None:
        return common.number(0.0, "0")
    note = f"{wording.interval(option.gain)}; {wording.in_hundred(option.p_gain)}"
    return common.number(option.gain.mean, wording.signed(option.gain.mean), note)


def _stand_in(item: ArsenalTask) -> Cell:
    if item.stand_in is None:
        return Cell("none")
    gain = item.stand_in.gain
    return Cell(
        item.stand_in.ball_name, item.stand_in.ball_name, note=f"{wording.signed(gain.mean)} ({wording.interval(gain)})"
    )


def options_table(item: ArsenalTask) -> Table:
    """The four things that can be done with one ball, side by side; keeping it stands at zero."""
    scale = strips.scale_for([option.gain for option in item.options])
    instead = "a new ball of its class"
    if item.stand_in is not None:
        instead += f", or the {item.stand_in.ball_name}"
    rows = [
        Row(
            [
                Cell(option.act, option.act, note=instead if option.act == "retire" else ""),
                common.pins(option.gain, scale, item.shots),
                Cell("gains are over this") if option.p_gain is None else common.chance(option.p_gain),
                common.number(option.p_best, wording.in_hundred(option.p_best)),
            ]
        )
        for option in sorted(item.options, key=lambda option: -option.gain.mean)
    ]
    columns = ["do", "gain, pins per game (80 %)", "chance it gains", "chance it gains most"]
    key = f"options-{item.bowler}-{item.ball}"
    return Table(key, f"{item.ball_name}: what can be done, after its cost", columns, rows, order=columns[1])
