"""The kinds of chart, described with Altair: their axes, bands, lines and points.

Each takes the ends of its axes, and leaves its rows to be filled in by name. Only the drawing engine reads this.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import altair as alt

from reports.style.palette import DASHES, LIGHT, SERIES, SHAPES

WIDTH = 296
HEIGHT = 176
_SIGNED = "(datum.value > 0 ? '+' : '') + format(datum.value, '.0f')"
_SALTIRE = "M-1,-1L1,1M1,-1L-1,1"
_BEYOND = {"above": "M-1,0.6L0,-0.8L1,0.6", "below": "M-1,-0.6L0,0.8L1,-0.6"}
_CROSS: dict[str, Any] = {"size": 30, "filled": False, "strokeWidth": 1.5, "opacity": 0.8, "clip": True}
_ROOM = 5  # pixels beyond the ends of an axis, so that no mark on them is cut
_PADDING = {"left": 47, "right": 12, "top": 8, "bottom": 38}
_LOOKS = [str(look) for look in range(len(SERIES))]
Description = dict[str, Any]


def worth(low: float, high: float, x_title: str, first: float, last: float) -> Description:
    """Worth in pins per game, ``low`` to ``high``, over something.

    Rows of ``points``, ``known``, ``level``, and of ``above`` and ``below``: unadjusted averages off the axis, drawn as
    arrows at its edge.
    """
    ends = _ends(low, high)
    guide = alt.Axis(title="pins per game against own average", tickCount=5, labelExpr=_SIGNED)
    level = alt.Chart(alt.NamedData(name="level")).mark_rule(color=LIGHT["zero"], strokeWidth=1.4, aria=False)
    x = _x(x_title, first, last)
    raw = alt.Y("raw:Q", scale=ends, axis=guide)
    beyond = [
        alt.Chart(alt.NamedData(name=side)).mark_point(shape=shape, aria=False, **_CROSS)
        for side, shape in _BEYOND.items()
    ]
    return described(
        [
            level.encode(y=alt.Y("mean:Q", scale=ends, axis=guide)),
            *_bands(x, ends, guide, crosses_have_tips=False),
            *(arrow.encode(x=x, y=raw, color=_colour(), description="tip:N") for arrow in beyond),
        ]
    )


def share(x_title: str, first: float, last: float, top: float) -> Description:
    """Strikes by something; rows of ``points``, and of ``marks`` (vertical lines) and ``known``, which may be empty."""
    x = _x(x_title, first, last)
    ends = _ends(0, top)
    guide = alt.Axis(title="strikes per first ball", format=".0%", tickCount=5)
    marks = alt.Chart(alt.NamedData(name="marks")).encode(x=x)
    rule = marks.mark_rule(color=LIGHT["loss"], strokeDash=[4, 3], strokeWidth=1.6, aria=False)
    drop = marks.mark_point(shape="triangle-down", filled=True, size=70, color=LIGHT["loss"], aria=False)
    return described([*_bands(x, ends, guide), rule, drop.encode(y=alt.value(4))])


def calibration(low: float, high: float) -> Description:
    """Observed against predicted strikes; rows of ``points`` and ``equal``."""
    ends = _ends(low, high)
    x = alt.X("x:Q", scale=ends, axis=alt.Axis(title="predicted strikes", format=".0%", tickCount=6))
    guide = alt.Axis(title="observed strikes", format=".0%", tickCount=5)
    equal = alt.Chart(alt.NamedData(name="equal")).mark_line(color=LIGHT["zero"], strokeDash=[3, 3], aria=False)
    return described([equal.encode(x=x, y=alt.Y("mean:Q", scale=ends, axis=guide)), *_lines(x, ends, guide)])


def scores(low: float, high: float, top: float) -> Description:
    """Probability of scores, in bars over the tens; rows of ``low`` (under 200) and ``high``."""
    x = alt.X(
        "x:Q", scale=alt.Scale(domain=[low, high], nice=False), axis=alt.Axis(title="score of one game", tickCount=5)
    )
    guide = alt.Axis(title="share of games", format=".0%", tickCount=4)
    y = alt.Y("mean:Q", scale=alt.Scale(domain=[0, top], nice=False, padding=0), axis=guide)
    bars = [
        alt.Chart(alt.NamedData(name=name))
        .mark_bar(color=LIGHT["series1"], opacity=opacity, xOffset=0.5, x2Offset=-0.5)
        .encode(x=x, x2="end:Q", y=y, y2=alt.datum(0), description="tip:N")
        for name, opacity in (("low", 0.35), ("high", 0.85))
    ]
    return described(bars)


def _bands(x: alt.X, ends: alt.Scale, guide: alt.Axis, crosses_have_tips: bool = True) -> list[alt.Chart]:
    """Band, line, points and crosses; rows have x, mean, low, high, raw, look and tip.

    Crosses have tips unless those of the points include them.
    """
    band = alt.Chart(alt.NamedData(name="points")).mark_area(opacity=0.16, aria=False, clip=True)
    low = alt.Y("low:Q", scale=ends, axis=guide)
    cross = alt.Chart(alt.NamedData(name="known")).mark_point(shape=_SALTIRE, aria=crosses_have_tips, **_CROSS)
    raw = alt.Y("raw:Q", scale=ends, axis=guide)
    return [
        band.encode(x=x, y=low, y2="high:Q", color=_colour()),
        *_lines(x, ends, guide),
        cross.encode(x=x, y=raw, color=_colour(), description="tip:N"),
    ]


def _lines(x: alt.X, ends: alt.Scale, guide: alt.Axis) -> list[alt.Chart]:
    base = alt.Chart(alt.NamedData(name="points"))
    y = alt.Y("mean:Q", scale=ends, axis=guide)
    dash = alt.StrokeDash("look:N", legend=None, scale=alt.Scale(domain=_LOOKS, range=[list(d) for d in DASHES]))
    shape = alt.Shape("look:N", legend=None, scale=alt.Scale(domain=_LOOKS, range=list(SHAPES)))
    line = base.mark_line(strokeWidth=2.2, aria=False, clip=True).encode(x=x, y=y, color=_colour(), strokeDash=dash)
    points = base.mark_point(size=44, filled=True, opacity=1, clip=True)
    return [line, points.encode(x=x, y=y, color=_colour(), shape=shape, description="tip:N")]


def _ends(low: float, high: float) -> alt.Scale:
    return alt.Scale(domain=[low, high], nice=False, padding=_ROOM)


def _colour() -> alt.Color:
    scale = alt.Scale(domain=_LOOKS, range=[LIGHT[name] for name in SERIES])
    return alt.Color("look:N", legend=None, scale=scale)


def _x(title: str, first: float, last: float) -> alt.X:
    axis = alt.Axis(title=title, format=".1~f", tickCount=6)
    return alt.X("x:Q", scale=alt.Scale(domain=[first, last], nice=False, padding=8), axis=axis)


def described(layers: Sequence[alt.Chart]) -> Description:
    """Layers as one chart of the usual size and look."""
    chart = (
        alt.layer(*layers)
        .properties(width=WIDTH, height=HEIGHT, padding=_PADDING, autosize=alt.AutoSizeParams(type="none"))
        .configure(background="white", font="sans-serif")
        .configure_view(stroke=None)
        .configure_axis(
            gridColor=LIGHT["grid"],
            domainColor=LIGHT["zero"],
            tickColor=LIGHT["zero"],
            labelColor=LIGHT["quiet"],
            titleColor=LIGHT["quiet"],
            labelFontSize=11,
            titleFontSize=11,
            titleFontWeight="normal",
            titlePadding=6,
        )
    )
    described: Description = chart.to_dict(validate=False)  # our own few kinds, which tests draw
    return described


KINDS: dict[str, Callable[..., Description]] = {
    "worth": worth,
    "share": share,
    "calibration": calibration,
    "scores": scores,
}
