"""Students compared by a table that adds up: parts of the ledger against the class's average bowler."""

from __future__ import annotations

from pipeline.decisions.records import Estimate, LedgerAccount
from reports.context import ReportContext
from reports.html.components import Cell, Row, Table
from reports.style import wording
from reports.views.common import tags
from reports.views.ledger_words import SHORT_LABELS, spread


def table(context: ReportContext) -> Table:
    """One row per student, the highest average first; each row's parts add up to its last column."""
    accounts = [item for item in context.decisions.ledger if item.against == "class"]
    accounts.sort(key=lambda item: -item.scored)
    names = [name for name in SHORT_LABELS if any(p.part == name for item in accounts for p in item.parts)]
    columns = ["student", *(SHORT_LABELS[name] for name in names), "fouls and order", "together"]
    rows = [Row(_cells(context, item, names), tags(item.bowler)) for item in accounts]
    caption = "Pins per game against the class (80 %)"
    if accounts:
        caption += f", whose average bowler scores {wording.plain(accounts[0].expected.mean)}"
    return Table("ledger-students", caption, columns, rows, order=columns[-1])


def _cells(context: ReportContext, account: LedgerAccount, names: list[str]) -> list[Cell]:
    parts = {part.part: part.pins for part in account.parts}
    rest = sum(pins.mean for name, pins in parts.items() if name not in SHORT_LABELS)
    apart = account.scored - account.expected.mean
    average = f"{wording.plain(account.scored)} in {wording.count(account.games)} complete games"
    return [
        Cell(context.name(account.bowler), context.name(account.bowler), note=average),
        *(_part(parts[name]) if name in parts else Cell("0.0", 0.0) for name in names),
        Cell(wording.signed(rest), rest),
        Cell(wording.signed(apart), apart),
    ]


def _part(pins: Estimate) -> Cell:
    """Left to wrap, so that a page of paper holds all columns."""
    return Cell(wording.signed(pins.mean), pins.mean, note=spread(pins))
