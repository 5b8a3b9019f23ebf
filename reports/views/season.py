"""Season review: headline numbers, what to throw by phase, entry boards, leaves and maxims."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.decisions.records import ComboWorth, EntryPoint, LeaveShare, MaximTrial, PhaseAdvice
from pipeline.everyone import EVERYONE
from reports.charts import figures
from reports.context import ReportContext, pattern_order
from reports.html import pin_deck, strips
from reports.html.components import Bit, Cell, Chart, Row, Table, Tags
from reports.style import palette, wording
from reports.views import common, costs, first_ball, grid, ledger_season, pictures, season_beside
from reports.views.common import grouped, tags

LEAVES_DRAWN = 6
_LEAVES_NAMED = 3  # before anything is opened


@dataclass(frozen=True)
class Tile:
    """One headline number."""

    label: str
    shown: str
    value: float


@dataclass(frozen=True)
class BoardCell:
    """The answer for one pattern class and phase, ready to show."""

    advice: PhaseAdvice
    tone: str
    tags: Tags
    key: str


@dataclass(frozen=True)
class LeaveCard:
    """One leave as a drawing with its numbers."""

    leave: LeaveShare
    drawing: Any


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the season template shows."""
    boards, leaves, ledger = board(context), leave_groups(context), ledger_season.people(context)
    return {
        "tiles": tiles(context),
        "first": first_ball.first_balls(context),
        "costs": costs.people(context),
        "board": boards,
        "planned": {(plan.bowler, plan.pattern_class) for plan in context.decisions.plans},
        "lanes": pictures.lanes(context),
        "grids": grid.figures(context),
        "entry": entry_charts(context),
        "leaves": leaves,
        "digests": {
            "board": {bowler: board_digest(rows) for bowler, rows in boards.items()},
            "grids": {bowler: grid.digest(combos) for bowler, combos in _combos(context).items()},
            "leaves": {bowler: leaves_digest(cards) for bowler, cards, _ in leaves},
        },
        "maxims": maxims(context),
        "course": ledger_season.course(context, ledger),
        "ledger": ledger,
        "seasons": season_beside.seasons(context),
        "beside": season_beside.people(context),
    }


def tiles(context: ReportContext) -> dict[str, list[Tile]]:
    """Headline numbers for everyone (key '') and for each bowler; strikes are a skill, and stand among the skills."""
    summary = context.decisions.summary
    shots = sum(card.shots for card in summary.bowlers)
    complete = sum(card.games_complete for card in summary.bowlers)
    scored = sum((card.average or 0.0) * card.games_complete for card in summary.bowlers)
    tiles = {
        "": [
            Tile("bowlers", wording.count(len(summary.bowlers)), len(summary.bowlers)),
            Tile("games", wording.count(summary.games), summary.games),
            Tile("first balls", wording.count(shots), shots),
            _average(scored / complete if complete else None),
        ]
    }
    for card in summary.bowlers:
        tiles[card.bowler] = [
            Tile("games", wording.count(card.games), card.games),
            Tile("first balls", wording.count(card.shots), card.shots),
            _average(card.average),
        ]
    return tiles


def _average(score: float | None) -> Tile:
    return Tile("average", "no complete game", 0.0) if score is None else Tile("average", wording.plain(score), score)


def board(context: ReportContext) -> dict[str, dict[str, list[BoardCell]]]:
    """Bowler -> pattern class -> the answers fresh, transition, late."""
    boards: dict[str, dict[str, list[BoardCell]]] = {}
    by_bowler = grouped(context.decisions.playbook, lambda item: item.bowler)
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        rows = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        boards[bowler] = {
            pattern: [_board_cell(item) for item in sorted(rows[pattern], key=lambda a: context.phases.index(a.phase))]
            for pattern in sorted(rows, key=pattern_order)
        }
    return boards


def _board_cell(item: PhaseAdvice) -> BoardCell:
    tone = palette.worth_tone(item.policy.worth.mean) if item.policy else ""
    shots = item.policy.shots if item.policy else 0
    key = common.place("answer", item.bowler, item.pattern_class, item.phase)
    return BoardCell(item, tone, tags(item.bowler, item.pattern_class, item.phase, shots), key)


def board_digest(rows: dict[str, list[BoardCell]]) -> list[Bit]:
    """The balls of each pattern class in the order they are thrown, and where each phase starts."""
    said = []
    for pattern, cells in rows.items():
        played = [cell.advice.policy for cell in cells if cell.advice.policy]
        names = dict.fromkeys(wording.shorten(policy.ball_name, 24) for policy in played)
        if names:
            starts = dict.fromkeys(first_ball.start(policy).split(" ", 1)[-1] for policy in played)
            said.append(
                Bit(pattern, ", then ".join(names), ", ".join(text for text in starts if text), pattern=pattern)
            )
    return said or [Bit("", "not enough shots")]


def _combos(context: ReportContext) -> dict[str, list[ComboWorth]]:
    return grouped(context.decisions.combos, lambda item: item.bowler)


def leaves_digest(cards: list[LeaveCard]) -> list[Bit]:
    """The leaves with most pins to win back."""
    return [
        Bit("", card.leave.leave, f"{wording.plain(card.leave.pins_to_win_back, 2)} pins per game")
        for card in cards[:_LEAVES_NAMED]
    ]


def entry_charts(context: ReportContext) -> list[Chart]:
    """Strikes by entry board: everyone, then each bowler."""
    by_bowler = grouped(context.decisions.entry, lambda item: item.bowler)
    span = common.span(item.entry_board for item in context.decisions.entry)
    order = [bowler for bowler in [EVERYONE, *context.bowlers] if bowler in by_bowler]
    return [_entry_chart(context, bowler, by_bowler[bowler], span) for bowler in order]


def _entry_chart(context: ReportContext, bowler: str, points: list[EntryPoint], span: figures.Span) -> Chart:
    points = sorted(points, key=lambda item: item.entry_board)
    top = max(points, key=lambda item: item.strike.mean)
    name = context.name(bowler)
    finding = (
        f"{wording.shorten(name)}: most strikes at entry board {top.entry_board:g}, {wording.percent(top.strike.mean)}"
    )
    rows = [
        Row(
            [
                common.number(item.entry_board, f"{item.entry_board:g}"),
                common.bare_share(item.strike),
                common.number(item.raw, wording.percent(item.raw)) if item.raw is not None else Cell("none"),
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
        f"Strikes per first ball. Band: 80 %. Crosses: unadjusted. {wording.shots(total)}.",
        context.pen.draw(figures.strikes_by_entry, points, span),
        f"Curve of strikes by entry board for {name}. {finding}, 80 % interval"
        f" {wording.percent_interval(top.strike)}. All values are in the table below.",
        Table(f"entry-data-{bowler}", f"{name}: strikes by entry board", columns, rows),
        Tags("" if bowler == EVERYONE else bowler, shots=total, general=bowler == EVERYONE),
    )


def leave_groups(context: ReportContext) -> list[tuple[str, list[LeaveCard], Table]]:
    """Each bowler's costliest leaves as drawings, and all of them as a table."""
    groups = []
    by_bowler = grouped(context.decisions.leaves, lambda item: item.bowler)
    for bowler in [known for known in [EVERYONE, *context.bowlers] if known in by_bowler]:
        leaves = sorted(by_bowler[bowler], key=lambda item: -item.pins_to_win_back)
        cards = [LeaveCard(item, pin_deck.draw(item.leave)) for item in leaves[:LEAVES_DRAWN]]
        groups.append((bowler, cards, _leave_table(context, bowler, leaves)))
    return groups


def _leave_table(context: ReportContext, bowler: str, leaves: list[LeaveShare]) -> Table:
    rows = [
        Row(
            [
                common.text(item.leave),
                common.text(item.leave_type),
                common.shots_cell(item.count),
                common.number(item.per_100_first_balls, wording.plain(item.per_100_first_balls)),
                common.bare_share(item.conversion),
                common.number(item.pins_per_game_lost, wording.plain(item.pins_per_game_lost, 2)),
                common.number(item.pins_to_win_back, wording.plain(item.pins_to_win_back, 2)),
            ],
            tags(bowler),
            wording.sentence_case(item.leave_type),
        )
        for item in leaves
    ]
    columns = ["leave", "kind", "times", "per 100 first balls", "spares made (80 %)", "pins per game lost"]
    columns.append("pins per game to win back")
    return Table(f"leaves-{bowler}", f"{context.name(bowler)}: every leave", columns, rows, order=columns[-1])


def maxims(context: ReportContext) -> Table:
    """Rules of thumb on trial, most likely to hold first; one that nobody could test shows no chance."""
    scale = strips.scale_for([item.pins for item in context.decisions.maxims if item.pins])
    order = {"holds for you": 0, "does not hold": 1, "cannot tell": 2, "not tested": 3}
    trials = sorted(context.decisions.maxims, key=lambda item: (item.verdict == "not tested", -item.probability))
    rows = [
        Row(
            [
                Cell(item.maxim, item.maxim),
                common.who(context.name(item.bowler)),
                Cell(_maxim_verdict(item), item.verdict, kind=f"verdict v-{order[item.verdict]}"),
                common.pins(item.pins, scale, item.shots) if item.pins else Cell("not priced"),
                Cell("") if item.verdict == "not tested" else common.chance(item.probability),
                common.shots_cell(item.shots),
                common.text(item.source),
            ],
            Tags("" if item.bowler == EVERYONE else item.bowler, shots=item.shots, general=item.bowler == EVERYONE),
            wording.sentence_case(_maxim_verdict(item)),
        )
        for item in trials
    ]
    columns = ["rule of thumb", "for", "verdict", "pins per game (80 %)", "chance that it holds", "shots", "source"]
    by = "chance that it holds"
    return Table("maxims", "Rules of thumb on trial", columns, rows, frozenset(["shots", "source"]), by)


def _maxim_verdict(item: MaximTrial) -> str:
    return "holds" if item.bowler == EVERYONE and item.verdict == "holds for you" else item.verdict
