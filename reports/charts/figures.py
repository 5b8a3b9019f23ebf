"""Charts: one look, one scale of worth, colours by role from the palette.

Each kind of chart is described once (``specs.py``) and compiled once, its ends fixed so that all charts of a kind can
be compared by eye; its axes are drawn once, and every chart of the kind is those axes with its own rows on top.
Names of bowlers and balls never enter a drawing: they stand in the HTML around it, where they wrap and are escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from markupsafe import Markup

from pipeline.decisions.records import AgePoint, BlockPlan, CalibrationBin, CurvePoint, EntryPoint, LifePoint
from reports.charts import worker
from reports.charts.svg import Compiled, Rows, compile_chart, to_svg
from reports.style import wording

Span = tuple[float, float]
"""The ends of an axis."""
Ten = tuple[int, int, float]
"""First and last score of a ten, and its probability in one game."""


@dataclass(frozen=True)
class WorthScale:
    """The one scale of worth, in pins per game, that every chart of a run shares."""

    low: float
    high: float


def shared_worth_scale(points: Sequence[CurvePoint]) -> WorthScale:
    """A scale around zero that holds all means and nearly all 80 % bands; outliers are cut, never squeezed in."""
    if not points:
        return WorthScale(-10.0, 10.0)
    ends = [value for point in points for value in (point.worth.lo80, point.worth.hi80)]
    means = [point.worth.mean for point in points]
    low = min(float(np.quantile(ends, 0.02)), min(means), -5.0)
    high = max(float(np.quantile(ends, 0.98)), max(means), 5.0)
    return WorthScale(5 * (low // 5), -5 * (-high // 5))


def worth_curves(series: Sequence[Sequence[CurvePoint]], scale: WorthScale, x_title: str, span: Span) -> Markup:
    """Worth over the block: 80 % bands, means as lines, unadjusted averages as crosses, or arrows off the scale."""
    rows = [_curve_row(point) | {"look": str(look)} for look, points in enumerate(series) for point in points]
    logged = _known(rows)
    return to_svg(
        kind("worth", scale.low, scale.high, x_title, *span),
        {
            "points": rows,
            "known": [row for row in logged if scale.low <= row["raw"] <= scale.high],
            "above": [row | {"raw": scale.high} for row in logged if row["raw"] > scale.high],
            "below": [row | {"raw": scale.low} for row in logged if row["raw"] < scale.low],
            "level": [{"mean": 0.0}],
        },
    )


def strikes_by_entry(points: Sequence[EntryPoint], span: Span) -> Markup:
    """Strike probability by entry board, with the unadjusted rate as crosses."""
    rows = [
        {
            "x": point.entry_board,
            "mean": point.strike.mean,
            "low": point.strike.lo80,
            "high": point.strike.hi80,
            "look": "0",
            "tip": f"board {point.entry_board:g}: {wording.percent(point.strike.mean)}"
            f" (80 %: {wording.percent_interval(point.strike)}); {wording.shots(point.shots)}",
        }
        for point in points
    ]
    known = [
        {
            "x": point.entry_board,
            "raw": point.raw,
            "look": "0",
            "tip": f"board {point.entry_board:g}, as logged:"
            f" {wording.percent(point.raw)}; {wording.shots(point.shots)}",
        }
        for point in points
        if point.raw is not None
    ]
    return to_svg(kind("share", "entry board", *span, 1.0), {"points": rows, "known": known, "marks": []})


def ball_life(
    curve: Sequence[AgePoint], life: Sequence[LifePoint], resurfaced_at: Sequence[float], span: Span, top: float
) -> Markup:
    """Strike probability by games on the ball: the present surface's curve, raw points, and resurfacings."""
    rows = [
        {
            "x": point.games,
            "mean": point.carry.mean,
            "low": point.carry.lo80,
            "high": point.carry.hi80,
            "look": "0",
            "tip": f"{wording.games(point.games)} on it: {wording.percent(point.carry.mean)}"
            f" (80 %: {wording.percent_interval(point.carry)}); {wording.shots(point.shots)}",
        }
        for point in curve
    ]
    known = [
        {
            "x": point.games_total,
            "raw": point.strikes / point.shots,
            "look": "0",
            "tip": f"{wording.games(point.games_total)} on it, as logged:"
            f" {wording.percent(point.strikes / point.shots)}; {wording.shots(point.shots)}",
        }
        for point in life
        if point.shots
    ]
    marks = [{"x": games} for games in resurfaced_at]
    return to_svg(kind("share", "games on the ball", *span, top), {"points": rows, "known": known, "marks": marks})


def calibration(bins: Sequence[CalibrationBin]) -> Markup:
    """Observed against predicted strike rate on held-out blocks, model and challenger."""
    looks = {"model": "0", "challenger": "1"}
    rows = [
        {
            "x": item.predicted,
            "mean": item.observed,
            "look": looks[item.source],
            "tip": f"{item.source}: predicted {wording.percent(item.predicted)}, "
            f"observed {wording.percent(item.observed)}; {wording.shots(item.shots)}",
        }
        for item in bins
    ]
    low = min(0.2, *(min(item.predicted, item.observed) for item in bins))
    high = max(0.8, *(max(item.predicted, item.observed) for item in bins))
    equal = [{"x": low, "mean": low}, {"x": high, "mean": high}]
    return to_svg(kind("calibration", low, high), {"points": rows, "equal": equal})


def score_bars(tens: Sequence[Ten], span: Span, top: float) -> Markup:
    """Probability of each ten of scores within ``span`` in one game, up to ``top``; those from 200 up stand out."""
    sides: dict[str, Rows] = {"low": [], "high": []}
    for low, high, chance in tens:
        if span[0] <= low < span[1]:
            tip = f"{low} to {high}: {wording.percent(chance, 1)} of games"
            row = {"x": low, "end": low + 10, "mean": chance, "tip": tip}
            sides["low" if low < 200 else "high"].append(row)
    return to_svg(kind("scores", *span, top), sides)


def likely_scores(plans: Sequence[BlockPlan]) -> Span:
    """The scores worth drawing: those with at least a five-hundredth of the most likely score's chance, in any plan."""
    likely = []
    for plan in plans:
        least = max(plan.score_histogram) / 500
        likely += [score for score, chance in enumerate(plan.score_histogram) if chance > least]
    return (20 * (min(likely) // 20), min(300, 20 * (max(likely) // 20 + 1))) if likely else (0, 300)


def score_tens(plan: BlockPlan) -> list[Ten]:
    """First and last score of each ten, and its probability in one game; 300 goes with the last."""
    chances = plan.score_histogram
    return [
        (low, high, sum(chances[low : high + 1]))
        for low, high in [*((low, low + 9) for low in range(0, 290, 10)), (290, 300)]
    ]


def _curve_row(point: CurvePoint) -> dict[str, Any]:
    raw = f"; unadjusted {wording.signed(point.raw)}" if point.raw is not None else ""
    return {
        "x": point.x,
        "mean": point.worth.mean,
        "low": point.worth.lo80,
        "high": point.worth.hi80,
        "raw": point.raw,
        "tip": f"at {point.x:g}: {wording.signed(point.worth.mean)} pins per game"
        f" (80 %: {wording.interval(point.worth)}); {wording.shots(point.shots)}{raw}",
    }


def _known(rows: Rows) -> Rows:
    return [row for row in rows if row["raw"] is not None]


@lru_cache
def kind(name: str, *given: float | str) -> Compiled:
    """A kind of chart with these values in order, compiled."""
    return compile_chart(worker.work("describe", {"kind": name, "given": given}))
