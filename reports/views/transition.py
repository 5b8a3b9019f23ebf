"""Transition: worth over the block, where another choice takes over, how the line moved, and every ball change."""

from __future__ import annotations

from typing import Any

from pipeline.decisions.records import TIMINGS, BallChange, ChangesInAll, Crossing, TransitionCurve
from reports.charts import figures
from reports.context import ReportContext, pattern_order
from reports.html import strips
from reports.html.components import Bit, Cell, Chart, Legend, Row, Table
from reports.style import wording
from reports.views import common, lead_pictures, pictures
from reports.views.common import grouped, tags

SERIES_SHOWN = 3
_AXES = ("games into the block", "deliveries on the pair")


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the transition template shows."""
    by_axis = grouped(context.decisions.curves, lambda item: item.axis)
    return {
        "curves": [
            (
                axis,
                [
                    (bowler, charts, curves_digest(by_axis[axis], bowler))
                    for bowler, charts in curve_charts(context, by_axis[axis]).items()
                ],
            )
            for axis in _AXES
            if axis in by_axis
        ],
        "leads": [
            (bowler, items, lead_pictures.lead_digest(context, bowler))
            for bowler, items in lead_pictures.lead_pictures(context).items()
        ],
        "lanes": _lane_pictures(context),
        "crossings": crossings(context),
        "moves": line_moves(context),
        "ledger": ledger(context),
        "timing": timing(context),
    }


def curves_digest(curves: list[TransitionCurve], bowler: str) -> list[Bit]:
    """The ball and line thrown most on each pattern class, with its worth at the first point and at the last."""
    mine = grouped((item for item in curves if item.bowler == bowler and item.points), lambda item: item.pattern_class)
    bits = []
    for pattern in sorted(mine, key=pattern_order):
        most = _thrown_most(mine[pattern])
        ends = (wording.signed(most.points[0].worth.mean), wording.signed(most.points[-1].worth.mean))
        bits.append(
            Bit(pattern, wording.shorten(most.ball_name, 24), f"{most.line}, {ends[0]} to {ends[1]}", pattern=pattern)
        )
    return bits


def _thrown_most(curves: list[TransitionCurve]) -> TransitionCurve:
    return max(curves, key=lambda item: sum(point.shots for point in item.points))


def _lane_pictures(context: ReportContext) -> dict[str, dict[str, pictures.Picture]]:
    return {bowler: {} for bowler in context.bowlers} | pictures.lanes(context)


def curve_charts(context: ReportContext, curves: list[TransitionCurve]) -> dict[str, list[Chart]]:
    """Bowler -> one chart a pattern class, for curves that share an axis."""
    charts: dict[str, list[Chart]] = {}
    span = common.span(point.x for item in curves for point in item.points)
    by_bowler = grouped(curves, lambda item: item.bowler)
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        by_pattern = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        charts[bowler] = [
            _curve_chart(context, bowler, pattern, by_pattern[pattern], span)
            for pattern in sorted(by_pattern, key=pattern_order)
            if any(item.points for item in by_pattern[pattern])
        ]
    return charts


def _curve_chart(
    context: ReportContext, bowler: str, pattern: str, curves: list[TransitionCurve], span: figures.Span
) -> Chart:
    order = sorted(curves, key=lambda item: -sum(point.shots for point in item.points))
    order = [item for item in order if item.points]
    shown = order[:SERIES_SHOWN]
    axis = shown[0].axis
    key = f"curve-{'pair-' if axis == _AXES[1] else ''}{bowler}-{pattern}"
    finding = curve_finding(pattern, shown)
    shots = sum(point.shots for item in shown for point in item.points)
    left_out = f" Not drawn: {len(order) - len(shown)} thrown less." if len(order) > len(shown) else ""
    return Chart(
        key,
        finding,
        f"Pins per game against own average. Band: 80 %. Crosses: unadjusted; arrows: beyond the axis.{left_out}",
        context.pen.draw(figures.worth_curves, [item.points for item in shown], context.worth_scale, axis, span),
        f"Curves of worth by {axis}, the line kept, for {context.name(bowler)} on {pattern} patterns. {finding}."
        " All values are in the table below.",
        _curve_table(context, key, bowler, pattern, shown),
        tags(bowler, pattern, shots=shots),
        [Legend(f"{item.ball_name}, {item.line}", look) for look, item in enumerate(shown)],
    )


def curve_finding(pattern: str, curves: list[TransitionCurve]) -> str:
    """How the choice thrown most fares from the first point to the last; who leads is another picture's to say."""
    most = _thrown_most(curves)
    start, end = most.points[0].worth.mean, most.points[-1].worth.mean
    head = f"{wording.sentence_case(pattern)}: {wording.shorten(most.ball_name, 32)} kept on the {most.line}"
    verb = "rises" if end > start else "falls"
    return f"{head} {verb} from {wording.signed(start)} to {wording.signed(end)}"


def _curve_table(context: ReportContext, key: str, bowler: str, pattern: str, curves: list[TransitionCurve]) -> Table:
    rows = [
        Row(
            [
                common.text(curve.ball_name),
                common.text(curve.line),
                common.number(point.x, f"{point.x:g}"),
                common.number(point.worth.mean, wording.signed(point.worth.mean)),
                *common.ends(point.worth),
                common.number(point.raw, wording.signed(point.raw)) if point.raw is not None else Cell("none"),
                common.shots_cell(point.shots),
            ],
            group=f"{curve.ball_name}, {curve.line}",
        )
        for curve in curves
        for point in curve.points
    ]
    columns = ["ball", "line", curves[0].axis, "worth, pins per game", *common.END_COLUMNS, "unadjusted", "shots"]
    return Table(f"{key}-data", f"{context.name(bowler)}, {pattern}: worth by {curves[0].axis}", columns, rows)


def crossings(context: ReportContext) -> Table:
    """Where another line becomes better for one who keeps lines, the most likely first."""
    items = sorted(context.decisions.crossings, key=lambda item: -item.probability)
    rows = [
        Row(
            [
                Cell(
                    f"{item.pattern_class}: {_choice(item.leader)}, then {_choice(item.challenger)}",
                    f"{item.pattern_class}: {item.leader}, then {item.challenger}",
                    full=item.sentence,
                ),
                common.who(context.name(item.bowler)),
                _place(item),
                common.chance(item.probability),
                common.shots_cell(item.shots),
            ],
            tags(item.bowler, item.pattern_class),
            f"{wording.sentence_case(item.pattern_class)} pattern",
        )
        for item in items
    ]
    columns = ["first the one, then the other", "bowler", "changes at (80 %)", "chance that it happens"]
    columns.append("shots, the fewer of the two")
    order = "chance that it happens"
    return Table(
        "crossings", "If you keep one line: where another takes over", columns, rows, frozenset([columns[-1]]), order
    )


def _choice(text: str) -> str:
    """A ball and line as short as they can be named."""
    return text.removeprefix("the ").replace(" from the ", ", ").replace(" arrow", "")


def _place(crossing: Crossing) -> Cell:
    """Where it happens: games to the tenth, deliveries whole."""
    at, digits = crossing.at, 1 if crossing.axis == _AXES[0] else 0
    if at is None:
        return Cell("rarely", kind="num")
    text = f"game {wording.plain(at.mean, 1)}" if digits else f"{wording.plain(at.mean, 0)} deliveries"
    return common.number(at.mean, text, wording.plain_interval(at, digits))


def line_moves(context: ReportContext) -> Table:
    """How far the line moved per game."""
    moves = context.decisions.line_moves
    scale = strips.scale_for([item.boards_per_game for item in moves])
    rows = []
    for bowler in [known for known in context.bowlers if any(item.bowler == known for item in moves)]:
        mine = [item for item in moves if item.bowler == bowler]
        for item in sorted(mine, key=lambda move: pattern_order(move.pattern_class)):
            best = item.best_games_boards_per_game
            rows.append(
                Row(
                    [
                        common.text(f"{item.pattern_class}, {item.target}"),
                        common.who(context.name(item.bowler)),
                        common.signed(item.boards_per_game, scale, "boards per game", item.shots),
                        common.signed(best, scale, "boards per game") if best else Cell("not known"),
                        common.shots_cell(item.shots),
                    ],
                    tags(bowler, item.pattern_class, shots=item.shots),
                    f"{wording.sentence_case(item.pattern_class)} pattern",
                )
            )
    columns = ["pattern and target", "bowler", "boards per game (80 %)", "in the best third of games (80 %)", "shots"]
    caption = "How the line moved, boards per game toward the centre of the lane"
    return Table("moves", caption, columns, rows, frozenset(["shots"]))


def ledger(context: ReportContext) -> Table:
    """Every change of ball, what it gained, and whether it came in time."""
    changes = sorted(context.decisions.changes, key=lambda item: (item.date, item.bowler, item.game), reverse=True)
    rows = [Row(_ledger_cells(context, item), _ledger_tags(item), _outcome(item)) for item in changes]
    rows.sort(key=lambda row: _OUTCOMES.index(row.group))  # latest first within each
    columns = ["from, to", "bowler", "when", "pattern", "strikes before, after", "expected had it stayed (80 %)"]
    columns += ["gain, pins per game (80 %)", "timing", "shots before, after"]
    extra = frozenset(["strikes before, after", "expected had it stayed (80 %)", "shots before, after"])
    return Table("ledger", "Every ball change", columns, rows, extra, "when")


_OUTCOMES = ("Clearly gained", "Clearly lost", "No clear difference")


def _outcome(item: BallChange) -> str:
    """What the 80 % interval of the gain says."""
    return _OUTCOMES[0] if item.gain.lo80 > 0 else _OUTCOMES[1] if item.gain.hi80 < 0 else _OUTCOMES[2]


def _ledger_tags(item: BallChange) -> common.Tags:
    return tags(item.bowler, item.pattern_class, shots=item.shots_before + item.shots_after)


def _ledger_cells(context: ReportContext, item: BallChange) -> list[Cell]:
    timing_note = ""
    if item.timing != "cannot tell":
        timing_note = f"{wording.in_hundred(item.timing_probability)} likely"
        late = item.games_late
        timing_note += f", {wording.signed(late.mean)} games ({wording.interval(late)})" if late else ""
    return [
        Cell(f"{context.ball(item.from_ball)}, {context.ball(item.to_ball)}", f"{item.from_ball}, {item.to_ball}"),
        common.who(context.name(item.bowler)),
        Cell(common.day(item.date), item.date.isoformat(), note=f"block {item.block}, game {item.game}"),
        common.text(item.pattern_class),
        Cell(
            f"{wording.percent(item.strike_before)}, {wording.percent(item.strike_after)}",
            f"{item.strike_before:.4f} to {item.strike_after:.4f}",
        ),
        common.bare_share(item.expected_had_stayed),
        common.bare_pins(item.gain),
        Cell(item.timing, item.timing, note=timing_note),
        Cell(f"{item.shots_before}, {item.shots_after}", f"{item.shots_before} and {item.shots_after}", kind="num"),
    ]


def timing(context: ReportContext) -> Table:
    """How each bowler's changes went, most changes first."""
    by_bowler = grouped(context.decisions.changes, lambda item: item.bowler)
    order = sorted(context.decisions.changes_in_all, key=lambda item: -item.changes)
    rows = [_timing_row(context, item, by_bowler[item.bowler]) for item in order]
    columns = ["bowler", "changes", "average gain, pins per game (80 %)", "likely a gain on average"]
    columns += ["clearly gained", "clearly lost"]
    columns += [*TIMINGS, "shots before and after"]
    extra = frozenset(["not called for", "cannot tell", "shots before and after"])
    return Table("timing", "Ball changes, bowler by bowler", columns, rows, extra, "changes")


def _timing_row(context: ReportContext, in_all: ChangesInAll, changes: list[BallChange]) -> Row:
    timings: list[str] = [item.timing for item in changes]
    numbers = [sum(item.gain.lo80 > 0 for item in changes), sum(item.gain.hi80 < 0 for item in changes)]
    numbers += [timings.count(name) for name in TIMINGS]
    cells = [common.text(context.name(in_all.bowler)), common.shots_cell(in_all.changes), common.bare_pins(in_all.gain)]
    cells.append(common.number(in_all.p_gain, wording.in_hundred(in_all.p_gain)))
    counts = [common.shots_cell(number) for number in [*numbers, in_all.shots]]
    return Row([*cells, *counts], tags(in_all.bowler, shots=in_all.shots))
