"""The ball x line grid by phase, and every combination behind it as a table."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.records import ComboWorth
from pipeline.decisions.wording.terms import shots_in_words
from reports.context import ReportContext, pattern_order
from reports.html import strips
from reports.html.components import Bit, Cell, Row, Table, Tags
from reports.style import palette, wording
from reports.views import common
from reports.views.common import grouped, tags


@dataclass(frozen=True)
class GridCell:
    """Worth of one ball on one line in one phase."""

    combo: ComboWorth | None
    tone: str
    tip: str


@dataclass(frozen=True)
class Grid:
    """Balls down, lines across, for one phase."""

    phase: str
    lines: list[str]
    rows: list[tuple[str, list[GridCell]]]
    tags: Tags


@dataclass(frozen=True)
class GridFigure:
    """The grids of one bowler on one pattern class, with the finding and every number behind it."""

    key: str
    finding: str
    grids: list[Grid]
    table: Table
    tags: Tags


def figures(context: ReportContext) -> dict[str, list[GridFigure]]:
    """Bowler -> one figure a pattern class."""
    drawn: dict[str, list[GridFigure]] = {}
    by_bowler = grouped(context.decisions.combos, lambda item: item.bowler)
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        by_pattern = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        drawn[bowler] = [
            _grid_figure(context, bowler, pattern, by_pattern[pattern])
            for pattern in sorted(by_pattern, key=pattern_order)
        ]
    return drawn


def _grid_figure(context: ReportContext, bowler: str, pattern: str, combos: list[ComboWorth]) -> GridFigure:
    lines = sorted({item.line for item in combos}, key=line_order)
    by_phase = grouped(combos, lambda item: item.phase)
    top = {
        ball: max(item.worth.mean for item in mine) for ball, mine in grouped(combos, lambda item: item.ball).items()
    }
    balls = sorted(top, key=lambda ball: -top[ball])
    grids = [
        _grid(phase, lines, balls, by_phase[phase], tags(bowler, pattern, phase))
        for phase in context.phases
        if phase in by_phase
    ]
    return GridFigure(
        f"grid-{bowler}-{pattern}",
        _grid_finding(pattern, combos),
        grids,
        combo_table(context, bowler, pattern, combos),
        tags(bowler, pattern),
    )


def _grid(phase: str, lines: list[str], balls: list[str], combos: list[ComboWorth], tag: Tags) -> Grid:
    known = {(item.ball, item.line): item for item in combos}
    names = {item.ball: item.ball_name for item in combos}
    rows = [(names[ball], [_grid_cell(known.get((ball, line))) for line in lines]) for ball in balls if ball in names]
    return Grid(phase, lines, rows, tag)


def _grid_cell(combo: ComboWorth | None) -> GridCell:
    if combo is None:
        return GridCell(None, "", "")
    return GridCell(combo, palette.worth_tone(combo.worth.mean), strips.tip(combo.worth, "pins per game", combo.shots))


def _grid_finding(pattern: str, combos: list[ComboWorth]) -> str:
    """How many kept lines are ranked and what they are worth; which ball to throw is the cards' to say."""
    ranked = [item.worth.mean for item in combos if item.ranked]
    head = f"{wording.sentence_case(pattern)}: "
    if not ranked:
        return f"{head}no line kept has enough shots to be ranked yet"
    if len(ranked) == 1:
        return f"{head}one line kept is ranked, {wording.signed(ranked[0])} pins per game"
    low, high = wording.signed(min(ranked)), wording.signed(max(ranked))
    return f"{head}{len(ranked)} of {len(combos)} lines kept are ranked, from {low} to {high} pins per game"


def digest(combos: list[ComboWorth]) -> list[Bit]:
    """How many lines of each pattern class are ranked, and what they are worth."""
    bits = []
    by_pattern = grouped(combos, lambda item: item.pattern_class)
    for pattern in sorted(by_pattern, key=pattern_order):
        mine = by_pattern[pattern]
        ranked = [item.worth.mean for item in mine if item.ranked]
        ends = f"{wording.signed(min(ranked))} to {wording.signed(max(ranked))}" if ranked else ""
        bits.append(Bit(pattern, f"{len(ranked)} of {len(mine)} ranked", ends, pattern=pattern))
    return bits


def line_order(line: str) -> int:
    """Lines from the outside in."""
    order = ("outside first arrow", "first", "second", "third", "fourth", "fifth", "inside fifth arrow")
    for place in (0, 6):
        if line == order[place]:
            return place
    return next((place for place in range(1, 6) if line.startswith(order[place])), 7)


def combo_table(context: ReportContext, bowler: str, pattern: str, combos: list[ComboWorth]) -> Table:
    """Every combination with its intervals, shots and chance of being best."""
    order = sorted(combos, key=lambda item: (context.phases.index(item.phase), -(item.p_best or 0.0), -item.worth.mean))
    rows = [
        Row(
            [
                common.text(item.ball_name),
                common.text(item.line),
                common.text(item.phase),
                common.bare_pins(item.worth),
                common.number(item.raw_worth, wording.signed(item.raw_worth)),
                common.bare_share(item.strike),
                common.text("only one")
                if item.p_best is None
                else common.number(item.p_best, wording.in_hundred(item.p_best)),
                common.number(item.p_200, wording.percent(item.p_200)),
                common.shots_cell(item.shots),
                Cell("ranked" if item.ranked else shots_in_words(item.shots_needed), item.shots_needed),
            ],
            tags(item.bowler, item.pattern_class, item.phase, item.shots),
            wording.sentence_case(item.phase),
        )
        for item in order
    ]
    columns = ["ball", "line", "phase", "worth, pins per game (80 %)", "unadjusted", "strikes (80 %)"]
    columns += ["best of its phase", "game of 200", "shots", "ranked?"]
    return Table(f"combos-{bowler}-{pattern}", f"{context.name(bowler)}, {pattern}: every ball and line", columns, rows)
