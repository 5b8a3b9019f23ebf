"""Charts: one look, one scale of worth, colours by role from the palette.

Each kind of chart is described once with Altair and compiled once, its ends fixed so that all charts of a kind can
be compared by eye; its axes are drawn once, and every chart of the kind is those axes with its own rows on top.
Names of bowlers and balls never enter a drawing: they stand in the HTML around it, where they wrap and are escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import altair as alt
import numpy as np
from markupsafe import Markup

from pipeline.decisions.results import AgePoint, BlockPlan, CalibrationBin, CurvePoint, EntryPoint
from reports import words
from reports.palette import DASHES, LIGHT, SERIES, SHAPES
from reports.svg import Compiled, Rows, compile_chart, to_svg

WIDTH = 296
HEIGHT = 176
_SIGNED = "(datum.value > 0 ? '+' : '') + format(datum.value, '.0f')"
_SALTIRE = "M-1,-1L1,1M1,-1L-1,1"
Span = tuple[float, float]
"""The ends of an axis."""
_PADDING = {"left": 47, "right": 12, "top": 8, "bottom": 38}
_LOOKS = [str(look) for look in range(len(SERIES))]


@dataclass(frozen=True)
class WorthScale:
    """The one scale of worth, in pins per game, that every chart of a run shares."""

    low: float
    high: float


def shared_worth_scale(points: Sequence[CurvePoint]) -> WorthScale:
    """A scale round nought that holds all means and nearly all 80 % bands; outliers are cut, never squeezed in."""
    if not points:
        return WorthScale(-10.0, 10.0)
    ends = [value for point in points for value in (point.worth.lo80, point.worth.hi80)]
    means = [point.worth.mean for point in points]
    low = min(float(np.quantile(ends, 0.02)), min(means), -5.0)
    high = max(float(np.quantile(ends, 0.98)), max(means), 5.0)
    return WorthScale(5 * (low // 5), -5 * (-high // 5))


def worth_curves(series: Sequence[Sequence[CurvePoint]], scale: WorthScale, x_title: str, span: Span) -> Markup:
    """Worth over the block: bands of 80 %, means as lines, unadjusted averages as crosses."""
    rows = [_curve_row(point) | {"look": str(look)} for look, points in enumerate(series) for point in points]
    return to_svg(_worth_kind(scale, x_title, span), {"points": rows, "known": _known(rows), "level": [{"mean": 0.0}]})


def carry_by_entry(points: Sequence[EntryPoint], span: Span) -> Markup:
    """Strike probability by entry board, with the unadjusted rate as crosses."""
    rows = [
        {
            "x": point.entry_board,
            "mean": point.strike.mean,
            "low": point.strike.lo80,
            "high": point.strike.hi80,
            "raw": point.raw,
            "look": "0",
            "tip": f"board {point.entry_board:g}: {words.percent(point.strike.mean)}"
            f" (80 %: {words.percent_interval(point.strike)}); {words.shots(point.shots)}",
        }
        for point in points
    ]
    return to_svg(_share_kind("entry board", span, 1.0), {"points": rows, "known": _known(rows), "marks": []})


def carry_by_age(points: Sequence[AgePoint], resurfaced_at: Sequence[float], span: Span, top: float) -> Markup:
    """Strike probability by games since the last resurfacing; upright lines where it was resurfaced."""
    rows = [
        {
            "x": point.games,
            "mean": point.carry.mean,
            "low": point.carry.lo80,
            "high": point.carry.hi80,
            "raw": None,
            "look": "0",
            "tip": f"{words.games(point.games)}: {words.percent(point.carry.mean)}"
            f" (80 %: {words.percent_interval(point.carry)}); {words.shots(point.shots)}",
        }
        for point in points
    ]
    marks = [{"x": games} for games in resurfaced_at]
    return to_svg(_share_kind("games since resurfacing", span, top), {"points": rows, "known": [], "marks": marks})


def calibration(bins: Sequence[CalibrationBin]) -> Markup:
    """Observed against predicted strike rate on held-out blocks, model and challenger."""
    looks = {"model": "0", "challenger": "1"}
    rows = [
        {
            "x": item.predicted,
            "mean": item.observed,
            "look": looks[item.source],
            "tip": f"{item.source}: predicted {words.percent(item.predicted)}, observed {words.percent(item.observed)};"
            f" {words.shots(item.shots)}",
        }
        for item in bins
    ]
    low = min(0.2, *(min(item.predicted, item.observed) for item in bins))
    high = max(0.8, *(max(item.predicted, item.observed) for item in bins))
    equal = [{"x": low, "mean": low}, {"x": high, "mean": high}]
    return to_svg(_calibration_kind(low, high), {"points": rows, "equal": equal})


def likely_scores(plans: Sequence[BlockPlan]) -> Span:
    """The scores worth drawing: those with at least a five-hundredth of the likeliest one's chance, in any plan."""
    likely = [
        score
        for plan in plans
        for score, chance in enumerate(plan.score_histogram)
        if chance > max(plan.score_histogram) / 500
    ]
    return (20 * (min(likely) // 20), min(300, 20 * (max(likely) // 20 + 1))) if likely else (0, 300)


def score_shape(plan: BlockPlan, span: Span, top: float) -> Markup:
    """Probability of each score for one game of a plan, with the part from 200 up in full colour."""
    chances = plan.score_histogram
    rows = [{"x": score, "mean": chances[score]} for score in range(int(span[0]), int(span[1]) + 1)]
    stops = [row | {"tip": f"score {row['x']}: {words.percent(row['mean'], 2)}"} for row in rows if row["x"] % 5 == 0]
    below = [row for row in rows if row["x"] <= 200]
    above = [row for row in rows if row["x"] >= 200]
    return to_svg(_score_kind(span, top), {"below": below, "above": above, "stops": stops})


def _curve_row(point: CurvePoint) -> dict[str, Any]:
    raw = f"; unadjusted {words.signed(point.raw)}" if point.raw is not None else ""
    return {
        "x": point.x,
        "mean": point.worth.mean,
        "low": point.worth.lo80,
        "high": point.worth.hi80,
        "raw": point.raw,
        "tip": f"at {point.x:g}: {words.signed(point.worth.mean)} pins per game"
        f" (80 %: {words.interval(point.worth)}); {words.shots(point.shots)}{raw}",
    }


def _known(rows: Rows) -> Rows:
    return [row for row in rows if row["raw"] is not None]


@lru_cache
def _worth_kind(scale: WorthScale, x_title: str, span: Span) -> Compiled:
    ends = alt.Scale(domain=[scale.low, scale.high], nice=False)
    guide = alt.Axis(title="pins per game against own average", tickCount=5, labelExpr=_SIGNED)
    level = alt.Chart(alt.NamedData(name="level")).mark_rule(color=LIGHT["zero"], strokeWidth=1.4, aria=False)
    return _compile([level.encode(y=alt.Y("mean:Q", scale=ends, axis=guide)), *_bands(_x(x_title, span), ends, guide)])


@lru_cache
def _share_kind(x_title: str, span: Span, top: float) -> Compiled:
    """Strikes by something, with upright marks; the rows of ``marks`` and ``known`` may be empty."""
    x = _x(x_title, span)
    ends = alt.Scale(domain=[0, top], nice=False)
    guide = alt.Axis(title="strikes per first ball", format=".0%", tickCount=5)
    marks = alt.Chart(alt.NamedData(name="marks")).encode(x=x)
    rule = marks.mark_rule(color=LIGHT["loss"], strokeDash=[4, 3], strokeWidth=1.6, aria=False)
    drop = marks.mark_point(shape="triangle-down", filled=True, size=70, color=LIGHT["loss"], aria=False)
    return _compile([*_bands(x, ends, guide), rule, drop.encode(y=alt.value(4))])


@lru_cache
def _calibration_kind(low: float, high: float) -> Compiled:
    ends = alt.Scale(domain=[low, high], nice=False)
    x = alt.X("x:Q", scale=ends, axis=alt.Axis(title="predicted strikes", format=".0%", tickCount=6))
    guide = alt.Axis(title="observed strikes", format=".0%", tickCount=5)
    equal = alt.Chart(alt.NamedData(name="equal")).mark_line(color=LIGHT["zero"], strokeDash=[3, 3], aria=False)
    return _compile([equal.encode(x=x, y=alt.Y("mean:Q", scale=ends, axis=guide)), *_lines(x, ends, guide)])


@lru_cache
def _score_kind(span: Span, top: float) -> Compiled:
    across = alt.Scale(domain=list(span), nice=False)
    x = alt.X("x:Q", scale=across, axis=alt.Axis(title="score of one game", tickCount=6, labelFlush=False))
    up = alt.Scale(domain=[0, top], nice=False)
    y = alt.Y("mean:Q", scale=up, axis=alt.Axis(title="probability", format=".1%", tickCount=4))
    colour = LIGHT["series1"]
    areas = [
        alt.Chart(alt.NamedData(name=part)).mark_area(color=colour, opacity=opacity, aria=False).encode(x=x, y=y)
        for part, opacity in (("below", 0.25), ("above", 0.75))
    ]
    dots = alt.Chart(alt.NamedData(name="stops")).mark_point(size=14, filled=True, color=colour, opacity=0)
    return _compile([*areas, dots.encode(x=x, y=y, description="tip:N")])


def _bands(x: alt.X, ends: alt.Scale, guide: alt.Axis) -> list[alt.Chart]:
    """Band, line, points and crosses; rows have x, mean, low, high, raw, look and tip."""
    band = alt.Chart(alt.NamedData(name="points")).mark_area(opacity=0.16, aria=False, clip=True)
    low = alt.Y("low:Q", scale=ends, axis=guide)
    cross = alt.Chart(alt.NamedData(name="known")).mark_point(
        shape=_SALTIRE, size=30, filled=False, strokeWidth=1.5, opacity=0.8, aria=False, clip=True
    )
    raw = alt.Y("raw:Q", scale=ends, axis=guide)
    return [
        band.encode(x=x, y=low, y2="high:Q", color=_colour()),
        *_lines(x, ends, guide),
        cross.encode(x=x, y=raw, color=_colour()),
    ]


def _lines(x: alt.X, ends: alt.Scale, guide: alt.Axis) -> list[alt.Chart]:
    base = alt.Chart(alt.NamedData(name="points"))
    y = alt.Y("mean:Q", scale=ends, axis=guide)
    dash = alt.StrokeDash("look:N", legend=None, scale=alt.Scale(domain=_LOOKS, range=[list(d) for d in DASHES]))
    shape = alt.Shape("look:N", legend=None, scale=alt.Scale(domain=_LOOKS, range=list(SHAPES)))
    line = base.mark_line(strokeWidth=2.2, aria=False, clip=True).encode(x=x, y=y, color=_colour(), strokeDash=dash)
    points = base.mark_point(size=44, filled=True, opacity=1, clip=True)
    return [line, points.encode(x=x, y=y, color=_colour(), shape=shape, description="tip:N")]


def _colour() -> alt.Color:
    scale = alt.Scale(domain=_LOOKS, range=[LIGHT[name] for name in SERIES])
    return alt.Color("look:N", legend=None, scale=scale)


def _x(title: str, span: Span) -> alt.X:
    axis = alt.Axis(title=title, format=".1~f", tickCount=6)
    return alt.X("x:Q", scale=alt.Scale(domain=list(span), nice=False, padding=8), axis=axis)


def _compile(layers: Sequence[alt.Chart]) -> Compiled:
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
    return compile_chart(chart.to_dict(validate=False))  # our own few kinds, which tests draw
