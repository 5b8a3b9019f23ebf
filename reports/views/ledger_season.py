"""Season review, where the pins went: a chart of the season, bars that add up, nights and costly habits."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pipeline.decisions.records import BlockLedger, CostlyHabit, Estimate, LedgerAccount
from pipeline.decisions.wording.ledger import where_it_came_from
from reports.charts.figures import Span
from reports.charts.pattern_shapes import PATTERN_LOOKS
from reports.charts.season_chart import block_scores, day_number
from reports.context import ReportContext
from reports.html import waterfall
from reports.html.components import Bit, Cell, Chart, Legend, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, tags
from reports.views.ledger_words import PART_LABELS, PART_ORDER, SHORT_LABELS, roughness, spread

REFERENCES = ("class", "own usual")
_SHAPES = dict(zip(PATTERN_LOOKS, ("circle", "square", "triangle", "diamond"), strict=True))
_LINES = (("level", "level"), ("expected", "expected on those lanes"), ("resurfaced", "a ball resurfaced"))


@dataclass(frozen=True)
class Night:
    """A block worth a sentence."""

    when: str
    block: BlockLedger


@dataclass(frozen=True)
class LedgerOfBowler:
    """What the section shows of one bowler."""

    bowler: str
    digest: list[Bit]
    chart: Chart | None
    account: Table | None
    nights: list[Night]
    habits: list[CostlyHabit]


def people(context: ReportContext) -> list[LedgerOfBowler]:
    """One entry per bowler with an account, in the order of their names."""
    accounts = grouped(context.decisions.ledger, lambda item: item.bowler)
    blocks = grouped(context.decisions.ledger_blocks, lambda item: item.bowler)
    habits = grouped(context.decisions.habits, lambda item: item.bowler)
    days, scores = _spans(context.decisions.ledger_blocks)
    shown = []
    for bowler in [known for known in context.bowlers if known in accounts]:
        mine = sorted(blocks.get(bowler, []), key=lambda item: (item.date, item.block))
        shown.append(
            LedgerOfBowler(
                bowler,
                _digest(accounts[bowler]),
                _chart(context, bowler, mine, days, scores) if mine else None,
                _account(context, bowler, accounts[bowler]),
                _nights(mine),
                habits.get(bowler, []),
            )
        )
    return shown


@dataclass(frozen=True)
class Course:
    """The charts of the season, one per bowler, with the key they share."""

    legend: list[Legend]
    charts: list[Chart]


def course(context: ReportContext, people: list[LedgerOfBowler]) -> Course | None:
    """What opens the review; None if no block was logged to its end."""
    charts = [person.chart for person in people if person.chart is not None]
    return Course(_legend(context.decisions.ledger_blocks), charts) if charts else None


def _spans(blocks: list[BlockLedger]) -> tuple[Span, Span]:
    """Days, and scores in tens, that every bowler's chart shares."""
    days = common.span(float(day_number(item.date)) for item in blocks)
    ends = [value for item in blocks for value in (item.scored, item.level.lo80, item.level.hi80, item.expected_there)]
    low, high = common.span(ends)
    return days, (10 * (low // 10), -10 * (-high // 10))


def _digest(accounts: list[LedgerAccount]) -> list[Bit]:
    """The average, how far it is from the class's, and the parts that bring and cost most."""
    first = next((item for item in accounts if item.against == "class"), accounts[0])
    apart = first.scored - first.expected.mean
    known = sorted((part for part in first.parts if part.part != "order"), key=lambda part: part.pins.mean)
    bits = [Bit("average", wording.plain(first.scored), f"{wording.signed(apart)} against the class")]
    for label, part in (("best", known[-1]), ("worst", known[0])) if len(known) > 1 else ():
        bits.append(Bit(label, SHORT_LABELS.get(part.part, part.part), wording.signed(part.pins.mean)))
    return bits


def _chart(context: ReportContext, bowler: str, blocks: list[BlockLedger], days: Span, scores: Span) -> Chart:
    name = wording.shorten(context.name(bowler))
    levels, last = [item.level.mean for item in blocks], blocks[-1]
    finding = f"{name}: level {min(levels):.0f} to {max(levels):.0f}"
    finding += f"; last block scored {last.scored:.0f} at level {last.level.mean:.0f}"
    return Chart(
        f"season-{bowler}",
        finding,
        f"Score per game; {wording.count(len(blocks))} blocks.",
        context.pen.draw(block_scores, blocks, _resurfaced(context, bowler, days), days, scores),
        f"Scores of {wording.count(len(blocks))} blocks of {name} with their true levels. {finding}. "
        "All values are in the table below.",
        _block_table(context, bowler, blocks),
        tags(bowler),
    )


def _legend(blocks: list[BlockLedger]) -> list[Legend]:
    """Shapes of the pattern classes that occur, and the three kinds of line."""
    shown = {item.pattern_class for item in blocks}
    points = [Legend(f"scored, {pattern}", look) for pattern, look in _SHAPES.items() if pattern in shown]
    return [*points, *(Legend(label, look) for look, label in _LINES)]


def _resurfaced(context: ReportContext, bowler: str, days: Span) -> list[dt.date]:
    """Days on which one of the bowler's balls was resurfaced, within the chart."""
    care = [act for ball in context.decisions.arsenal if ball.bowler == bowler for act in ball.care]
    dates = {act.date for act in care if act.action == "resurface"}
    return sorted(date for date in dates if days[0] <= day_number(date) <= days[1])


def _block_table(context: ReportContext, bowler: str, blocks: list[BlockLedger]) -> Table:
    rows = [
        Row(
            [
                Cell(common.day(item.date), item.date.isoformat()),
                common.text(item.pattern_class),
                common.number(item.games, wording.count(item.games)),
                common.number(item.scored, f"{item.scored:.0f}"),
                common.number(item.expected_there, f"{item.expected_there:.0f}"),
                common.number(item.level.mean, f"{item.level.mean:.0f}", wording.plain_interval(item.level, 0)),
                common.number(
                    item.luck_percentile.mean,
                    wording.in_hundred(item.luck_percentile.mean),
                    f"{100 * item.luck_percentile.lo80:.0f} to {100 * item.luck_percentile.hi80:.0f}",
                ),
                Cell(wording.tidy(where_it_came_from(item.scored, item.expected, item.parts)), item.sentence),
            ],
            tags(bowler, item.pattern_class),
            f"{wording.sentence_case(item.pattern_class)} pattern",
        )
        for item in blocks
    ]
    columns = ["date", "pattern", "games", "scored", "expected there", "level (80 %)"]
    columns += ["such blocks that score less (80 %)", "where it came from"]
    return Table(f"nights-{bowler}", f"{context.name(bowler)}: every block", columns, rows)


def _account(context: ReportContext, bowler: str, accounts: list[LedgerAccount]) -> Table:
    """Rows of parts, one column of bars for each reference."""
    by = {item.against: item for item in accounts}
    shown = [by[name] for name in REFERENCES if name in by]
    names = [part for part in PART_ORDER if any(p.part == part for item in shown for p in item.parts)]
    columns = [_column(item, names) for item in shown]
    parts = [Cell(PART_LABELS[name], PART_LABELS[name], note=roughness(name)) for name in names]
    labels = [common.text("expected before the first ball"), *parts, common.text("scored")]
    rows = [Row([label, *(column[place] for column in columns)], Tags(bowler)) for place, label in enumerate(labels)]
    heads = [f"against {'the class' if item.against == 'class' else 'own usual'} (80 %)" for item in shown]
    games = wording.count(shown[0].games)
    caption = f"{context.name(bowler)}: pins per game, {games} complete games; the parts add up before rounding"
    return Table(f"ledger-{bowler}", caption, ["part", *heads], rows)


def _column(account: LedgerAccount, names: list[str]) -> list[Cell]:
    parts = {part.part: part.pins for part in account.parts}
    steps = [parts[name] for name in names if name in parts]
    start = account.expected
    scale = waterfall.scale_of(start.mean, steps)
    cells = [_whole(start.mean, scale, "expected", wording.plain_interval(start))]
    at = start.mean
    for name in names:
        cells.append(_step(at, parts[name], scale, name) if name in parts else Cell("0.0", 0.0, kind="est"))
        at += parts[name].mean if name in parts else 0.0
    return [*cells, _whole(account.scored, scale, "scored", "")]


def _whole(value: float, scale: waterfall.Scale, what: str, note: str) -> Cell:
    drawing = waterfall.total(value, scale, f"{what}: {wording.plain(value)} per game")
    return Cell(wording.plain(value), value, drawing, note=note, kind="est")


def _step(at: float, pins: Estimate, scale: waterfall.Scale, name: str) -> Cell:
    tip = f"{PART_LABELS[name]}: {wording.signed(pins.mean)} pins per game (80 %: {wording.interval(pins)})"
    return Cell(
        wording.signed(pins.mean),
        pins.mean,
        waterfall.bar(at, pins, scale, tip),
        note=spread(pins),
        kind="est",
    )


def _nights(blocks: list[BlockLedger]) -> list[Night]:
    """The highest, the lowest and the latest block, each once."""
    if not blocks:
        return []
    high, low = max(blocks, key=lambda item: item.scored), min(blocks, key=lambda item: item.scored)
    nights: dict[str, Night] = {}
    for when, block in (("highest block", high), ("lowest block", low), ("latest block", blocks[-1])):
        nights.setdefault(block.block, Night(when, block))
    return list(nights.values())
