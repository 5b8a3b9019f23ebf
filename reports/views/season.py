"""Season review: what to do, the playbook board, the ball x line grid, entry boards, leaves and maxims."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.decisions.results import ComboWorth, EntryPoint, LeaveShare, PhaseAdvice
from reports import charts, deck, palette, strips, words
from reports.blocks import EVERYONE, Cell, Chart, Row, Table, Tags
from reports.views import common
from reports.views.common import Season, grouped, tags

LEAVES_DRAWN = 8


@dataclass(frozen=True)
class Tile:
    """One headline number."""

    label: str
    shown: str
    value: float


@dataclass(frozen=True)
class BoardCell:
    """The playbook's answer for one pattern class and phase, ready to show."""

    advice: PhaseAdvice
    tone: str
    tags: Tags


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


@dataclass(frozen=True)
class LeaveCard:
    """One leave as a drawing with its numbers."""

    leave: LeaveShare
    drawing: Any


def view(season: Season) -> dict[str, Any]:
    """Everything the season template shows."""
    boards, leaves = board(season), leave_groups(season)
    return {
        "tiles": tiles(season),
        "board": boards,
        "grids": grid_figures(season),
        "entry": entry_charts(season),
        "leaves": leaves,
        "digests": {
            "board": {bowler: board_digest(rows) for bowler, rows in boards.items()},
            "leaves": {bowler: f"{cards[0].leave.leave} costs most" for bowler, cards, _ in leaves},
        },
        "maxims": maxims(season),
    }


def tiles(season: Season) -> dict[str, list[Tile]]:
    """Headline numbers for everyone (key '') and for each bowler."""
    summary = season.decisions.summary
    shots = sum(card.shots for card in summary.bowlers)
    strikes = sum(card.strike_rate * card.shots for card in summary.bowlers)
    scored = sum(card.average * card.games for card in summary.bowlers)
    found = {
        "": [
            Tile("bowlers", words.count(len(summary.bowlers)), len(summary.bowlers)),
            Tile("games", words.count(summary.games), summary.games),
            Tile("first balls", words.count(shots), shots),
            Tile("average", words.plain(scored / max(summary.games, 1)), scored / max(summary.games, 1)),
            Tile("strikes", words.percent(strikes / max(shots, 1)), strikes / max(shots, 1)),
        ]
    }
    for card in summary.bowlers:
        found[card.bowler] = [
            Tile("games", words.count(card.games), card.games),
            Tile("first balls", words.count(card.shots), card.shots),
            Tile("average", words.plain(card.average), card.average),
            Tile("strikes", words.percent(card.strike_rate), card.strike_rate),
        ]
    return found


def board(season: Season) -> dict[str, dict[str, list[BoardCell]]]:
    """Bowler -> pattern class -> the answers fresh, transition, late."""
    found: dict[str, dict[str, list[BoardCell]]] = {}
    by_bowler = grouped(season.decisions.playbook, lambda item: item.bowler)
    for bowler in [known for known in season.bowlers if known in by_bowler]:
        rows = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        found[bowler] = {
            pattern: [_board_cell(item) for item in sorted(rows[pattern], key=lambda a: season.phases.index(a.phase))]
            for pattern in sorted(rows, key=common.pattern_order)
        }
    return found


def _board_cell(item: PhaseAdvice) -> BoardCell:
    tone = palette.worth_tone(item.best.worth.mean) if item.best and item.verdict != "not enough shots" else ""
    shots = item.best.shots if item.best else 0
    return BoardCell(item, tone, tags(item.bowler, item.pattern_class, item.phase, shots))


def board_digest(rows: dict[str, list[BoardCell]]) -> str:
    """How much of a bowler's board is answered."""
    verdicts = [cell.advice.verdict for cells in rows.values() for cell in cells]
    leaning = verdicts.count("leaning")
    return f"{verdicts.count('settled')} of {len(verdicts)} settled, {leaning} leaning"


def grid_figures(season: Season) -> dict[str, list[GridFigure]]:
    """Bowler -> one figure a pattern class."""
    figures: dict[str, list[GridFigure]] = {}
    by_bowler = grouped(season.decisions.combos, lambda item: item.bowler)
    for bowler in [known for known in season.bowlers if known in by_bowler]:
        by_pattern = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        figures[bowler] = [
            _grid_figure(season, bowler, pattern, by_pattern[pattern])
            for pattern in sorted(by_pattern, key=common.pattern_order)
        ]
    return figures


def _grid_figure(season: Season, bowler: str, pattern: str, combos: list[ComboWorth]) -> GridFigure:
    lines = sorted({item.line for item in combos}, key=line_order)
    by_phase = grouped(combos, lambda item: item.phase)
    top = {
        ball: max(item.worth.mean for item in mine) for ball, mine in grouped(combos, lambda item: item.ball).items()
    }
    balls = sorted(top, key=lambda ball: -top[ball])
    grids = [
        _grid(phase, lines, balls, by_phase[phase], tags(bowler, pattern, phase))
        for phase in season.phases
        if phase in by_phase
    ]
    return GridFigure(
        f"grid-{bowler}-{pattern}",
        _grid_finding(pattern, combos),
        grids,
        combo_table(season, bowler, pattern, combos),
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
    ranked = [item for item in combos if item.settled]
    if not ranked:
        return f"{words.sentence_case(pattern)}: no combination has enough shots to be ranked yet"
    top = max(ranked, key=lambda item: item.worth.mean)
    name = words.shorten(top.ball_name)
    return (
        f"{words.sentence_case(pattern)}: the highest ranked cell is {name} from the {top.line}, {top.phase}:"
        f" {words.signed(top.worth.mean)} pins per game"
    )


def line_order(line: str) -> int:
    """Lines from the outside in."""
    order = ("outside first arrow", "first", "second", "third", "fourth", "fifth", "inside fifth arrow")
    for place in (0, 6):
        if line == order[place]:
            return place
    return next((place for place in range(1, 6) if line.startswith(order[place])), 7)


def combo_table(season: Season, bowler: str, pattern: str, combos: list[ComboWorth]) -> Table:
    """Every combination with its intervals, shots and chance of being best."""
    order = sorted(combos, key=lambda item: (season.phases.index(item.phase), -item.p_best, -item.worth.mean))
    rows = [
        Row(
            [
                common.text(item.ball_name),
                common.text(item.line),
                common.text(item.phase),
                common.bare_pins(item.worth),
                common.number(item.raw_worth, words.signed(item.raw_worth)),
                common.bare_share(item.strike),
                common.number(item.p_best, words.in_hundred(item.p_best)),
                common.number(item.p_200, words.percent(item.p_200)),
                common.shots_cell(item.shots),
                Cell("ranked" if item.settled else f"about {item.shots_needed:,} more shots", item.shots_needed),
            ],
            tags(item.bowler, item.pattern_class, item.phase, item.shots),
        )
        for item in order
    ]
    columns = ["ball", "line", "phase", "worth, pins per game (80 %)", "unadjusted", "strikes (80 %)"]
    columns += ["best of its phase", "game of 200", "shots", "ranked?"]
    return Table(f"combos-{bowler}-{pattern}", f"{season.name(bowler)}, {pattern}: every ball and line", columns, rows)


def entry_charts(season: Season) -> list[Chart]:
    """Carry by entry board: everyone, then each bowler."""
    by_bowler = grouped(season.decisions.entry, lambda item: item.bowler)
    span = common.span(item.entry_board for item in season.decisions.entry)
    order = [bowler for bowler in [EVERYONE, *season.bowlers] if bowler in by_bowler]
    return [_entry_chart(season, bowler, by_bowler[bowler], span) for bowler in order]


def _entry_chart(season: Season, bowler: str, points: list[EntryPoint], span: charts.Span) -> Chart:
    points = sorted(points, key=lambda item: item.entry_board)
    top = max(points, key=lambda item: item.strike.mean)
    name = season.name(bowler)
    finding = (
        f"{words.shorten(name)}: most strikes at entry board {top.entry_board:g}, {words.percent(top.strike.mean)}"
    )
    rows = [
        Row(
            [
                common.number(item.entry_board, f"{item.entry_board:g}"),
                common.bare_share(item.strike),
                common.number(item.raw, words.percent(item.raw)) if item.raw is not None else Cell("none"),
                common.shots_cell(item.shots),
            ]
        )
        for item in points
    ]
    columns = ["entry board", "strikes, adjusted (80 %)", "unadjusted", "shots"]
    total = sum(item.shots for item in points)
    return Chart(
        f"entry-{bowler}",
        finding,
        f"Strikes per first ball by entry board, counted from the bowler's own side. Band: 80 %. "
        f"{words.shots(total)} with an entry board.",
        season.drawn(charts.carry_by_entry(points, span)),
        f"Curve of strikes by entry board for {name}. {finding}, 80 % interval"
        f" {words.percent_interval(top.strike)}. All values are in the table below.",
        Table(f"entry-data-{bowler}", f"{name}: strikes by entry board", columns, rows),
        tags(bowler, shots=total),
    )


def leave_groups(season: Season) -> list[tuple[str, list[LeaveCard], Table]]:
    """Each bowler's dearest leaves as drawings, and all of them as a table."""
    groups = []
    by_bowler = grouped(season.decisions.leaves, lambda item: item.bowler)
    for bowler in [known for known in [EVERYONE, *season.bowlers] if known in by_bowler]:
        found = sorted(by_bowler[bowler], key=lambda item: -item.pins_per_game_lost)
        cards = [LeaveCard(item, deck.draw(item.leave)) for item in found[:LEAVES_DRAWN]]
        groups.append((bowler, cards, _leave_table(season, bowler, found)))
    return groups


def _leave_table(season: Season, bowler: str, leaves: list[LeaveShare]) -> Table:
    rows = [
        Row(
            [
                common.text(item.leave),
                common.text(item.leave_type),
                common.shots_cell(item.count),
                common.number(item.per_100_first_balls, words.plain(item.per_100_first_balls)),
                common.bare_share(item.conversion),
                common.number(item.pins_per_game_lost, words.plain(item.pins_per_game_lost, 2)),
            ],
            tags(bowler),
        )
        for item in leaves
    ]
    columns = ["leave", "kind", "times", "per 100 first balls", "spares made (80 %)", "pins per game lost"]
    return Table(f"leaves-{bowler}", f"{season.name(bowler)}: every leave", columns, rows)


def maxims(season: Season) -> Table:
    """Rules of thumb on trial."""
    scale = strips.scale_for([item.pins for item in season.decisions.maxims if item.pins])
    order = {"holds for you": 0, "does not hold": 1, "cannot tell": 2, "not tested": 3}
    found = sorted(season.decisions.maxims, key=lambda item: (item.bowler != EVERYONE, order[item.verdict]))
    rows = [
        Row(
            [
                Cell(item.maxim, item.maxim, note=item.sentence),
                common.text(season.name(item.bowler)),
                Cell(item.verdict, item.verdict, kind=f"verdict v-{order[item.verdict]}"),
                common.pins(item.pins, scale, item.shots) if item.pins else Cell("not priced"),
                common.chance(item.probability),
                common.shots_cell(item.shots),
                common.text(item.source),
            ],
            tags(item.bowler, shots=item.shots),
        )
        for item in found
    ]
    columns = ["rule of thumb", "for", "verdict", "pins per game (80 %)", "chance that it holds", "shots", "source"]
    return Table("maxims", "Rules of thumb on trial", columns, rows)
