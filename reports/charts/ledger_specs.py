"""The chart of a season, described with Altair: scores over the calendar, with the expected score and the level."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import altair as alt

from reports.charts.pattern_shapes import PATTERN_LOOKS
from reports.charts.specs import described
from reports.style.palette import LIGHT, SHAPES

_A_MONTH = "utcFormat(datum.value * 86400000, '%b')"  # days since 1970 as the engine's milliseconds


def season(first: float, last: float, low: float, high: float) -> dict[str, Any]:
    """Scores over days since 1970; rows of ``level``, ``expected``, ``scores`` and ``marks`` (vertical lines)."""
    axis = alt.Axis(title="month", values=_month_starts(first, last), labelExpr=_A_MONTH)
    x = alt.X("x:Q", scale=alt.Scale(domain=[first, last], nice=False, padding=8), axis=axis)
    ends, guide = alt.Scale(domain=[low, high], nice=False), alt.Axis(title="score per game", tickCount=5)
    y = alt.Y("mean:Q", scale=ends, axis=guide)
    level = alt.Chart(alt.NamedData(name="level"))
    band = level.mark_area(opacity=0.2, color=LIGHT["series1"], aria=False, clip=True)
    line = level.mark_line(strokeWidth=2.2, color=LIGHT["series1"], aria=False, clip=True)
    expected = alt.Chart(alt.NamedData(name="expected")).mark_line(
        strokeWidth=1.4, strokeDash=[3, 3], color=LIGHT["quiet"], aria=False, clip=True
    )
    marks = alt.Chart(alt.NamedData(name="marks")).encode(x=x)
    rule = marks.mark_rule(color=LIGHT["loss"], strokeDash=[4, 3], strokeWidth=1.2, aria=False)
    drop = marks.mark_point(shape="triangle-down", filled=True, size=50, color=LIGHT["loss"], aria=False)
    looks = [str(look) for look in range(len(PATTERN_LOOKS))]
    shape = alt.Shape("look:N", legend=None, scale=alt.Scale(domain=looks, range=[*SHAPES, "diamond"]))
    dots = alt.Chart(alt.NamedData(name="scores")).mark_point(
        size=38, filled=True, opacity=1, color=LIGHT["series2"], clip=True
    )
    return described(
        [
            rule,
            drop.encode(y=alt.value(4)),
            band.encode(x=x, y=alt.Y("low:Q", scale=ends, axis=guide), y2="high:Q"),
            expected.encode(x=x, y=y),
            line.encode(x=x, y=y),
            dots.encode(x=x, y=y, shape=shape, description="tip:N"),
        ]
    )


def _month_starts(first: float, last: float) -> list[int]:
    """The first day of every month in between, every second one if there are more than eight."""
    epoch = dt.date(1970, 1, 1)
    day = (epoch + dt.timedelta(days=int(first))).replace(day=1)
    starts = []
    while (number := (day - epoch).days) <= last:
        if number >= first:
            starts.append(number)
        day = (day + dt.timedelta(days=31)).replace(day=1)
    return starts if len(starts) <= 8 else starts[::2]


LEDGER_KINDS: dict[str, Callable[..., dict[str, Any]]] = {"season": season}
