"""The chart of a bowler's season: every block's score, the expected score on those lanes, and the true level."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from markupsafe import Markup

from pipeline.decisions.records import BlockLedger
from reports.charts.figures import Span, kind
from reports.charts.pattern_shapes import PATTERN_LOOKS
from reports.charts.svg import Rows, to_svg
from reports.style import wording

_EPOCH = dt.date(1970, 1, 1)
_UNPOSTED = "unposted"


def block_scores(blocks: Sequence[BlockLedger], resurfaced: Sequence[dt.date], days: Span, scores: Span) -> Markup:
    """Scores as points shaped by pattern class, the level as a line with its 80 % band, and resurfacings."""
    level: Rows = [
        {"x": day_number(item.date), "mean": item.level.mean, "low": item.level.lo80, "high": item.level.hi80}
        for item in blocks
    ]
    expected: Rows = [{"x": day_number(item.date), "mean": item.expected_there} for item in blocks]
    points: Rows = [
        {"x": day_number(item.date), "mean": item.scored, "look": str(_look(item.pattern_class)), "tip": _tip(item)}
        for item in blocks
    ]
    marks: Rows = [{"x": day_number(date)} for date in resurfaced]
    rows = {"level": level, "expected": expected, "scores": points, "marks": marks}
    return to_svg(kind("season", *days, *scores), rows)


def day_number(date: dt.date) -> int:
    """Days since 1970."""
    return (date - _EPOCH).days


def _look(pattern_class: str) -> int:
    return PATTERN_LOOKS.index(pattern_class if pattern_class in PATTERN_LOOKS else _UNPOSTED)


def _tip(item: BlockLedger) -> str:
    return (
        f"{item.date.isoformat()}, {item.pattern_class}: {item.scored:.0f} a game over {wording.games(item.games)}; "
        f"expected {item.expected_there:.0f}; level {item.level.mean:.0f}"
        f" (80 %: {wording.plain_interval(item.level, 0)})"
    )
