"""A waterfall of bars: each row's bar begins where the row before ended, from the expected score to the actual one."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from pipeline.decisions.records import Estimate
from reports.html.strips import HEIGHT, WIDTH, Scale

_THICK, _THIN = 10.0, 1.6


def scale_of(start: float, steps: Sequence[Estimate]) -> Scale:
    """A scale that holds every bar with its 80 % interval; the mark is the start."""
    at, ends = start, [start]
    for step in steps:
        ends += [at + step.lo80, at + step.hi80, at + step.mean]
        at += step.mean
    room = max((max(ends) - min(ends)) * 0.06, 0.5)
    return Scale(min(ends) - room, max(ends) + room, start)


def bar(at: float, step: Estimate, scale: Scale, tip: str) -> Markup:
    """One step from ``at``: a bar to where it ends, and a thin line over its 80 % interval."""
    side = "flat" if step.lo80 <= 0 <= step.hi80 else "better" if step.mean > 0 else "worse"
    low, high = sorted((at, at + step.mean))
    parts = [
        _rect("i95", scale.place(at + step.lo80), scale.place(at + step.hi80), _THIN),
        _rect("i50", scale.place(low), scale.place(high), _THICK),
    ]
    return _drawing(side, parts, scale, tip)


def total(value: float, scale: Scale, tip: str) -> Markup:
    """A whole: a bar from the scale's low end."""
    return _drawing("flat", [_rect("i50", scale.place(scale.low), scale.place(value), _THICK)], scale, tip)


def _drawing(side: str, parts: list[str], scale: Scale, tip: str) -> Markup:
    x = scale.place(scale.mark or 0.0)
    mark = f'<line class="strip-mark" x1="{x:.1f}" x2="{x:.1f}" y1="0" y2="{HEIGHT:g}"/>'
    return Markup(
        '<svg class="strip {}" viewBox="0 0 {} {}" aria-hidden="true" focusable="false" data-tip="{}">{}</svg>'
    ).format(side, f"{WIDTH:g}", f"{HEIGHT:g}", tip, Markup(mark + "".join(parts)))


def _rect(name: str, low: float, high: float, thick: float) -> str:
    return (
        f'<rect class="{name}" x="{low:.1f}" y="{HEIGHT / 2 - thick / 2:g}" '
        f'width="{max(high - low, 0.8):.1f}" height="{thick:g}"/>'
    )
