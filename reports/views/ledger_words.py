"""Parts of the ledger in the words of the tables, and their intervals."""

from __future__ import annotations

from pipeline.decisions.records import Estimate
from pipeline.validation.ledger_record import ledger_record
from reports.style import wording

PART_LABELS: dict[str, str] = {
    "lane": "lanes: pattern and games",
    "ball": "ball chosen",
    "line": "line played",
    "entry": "where it went in",
    "carry": "carry from there",
    "entry and carry": "entry and carry together, no board logged",
    "leave": "what it left",
    "spare": "spares",
    "foul": "fouls",
    "order": "luck of the order",
}
"""The same words as rows of a bowler's ledger."""
PART_ORDER = tuple(PART_LABELS)

SHORT_LABELS: dict[str, str] = {
    "lane": "lanes",
    "ball": "ball",
    "line": "line",
    "entry": "entry",
    "carry": "carry",
    "entry and carry": "entry and carry, no board",
    "leave": "leaves",
    "spare": "spares",
}
"""The same for narrow columns; fouls and the order share one there."""


def roughness(part: str) -> str:
    """``rough`` for a part whose interval was too narrow in some simulated seasons; nothing for others."""
    held = ledger_record().get(part)
    return "rough" if held is not None and held.rough else ""


def spread(pins: Estimate) -> str:
    """The 80 % interval; nothing for what is known to the digit shown."""
    return "" if wording.signed(pins.lo80) == wording.signed(pins.hi80) else wording.interval(pins)
