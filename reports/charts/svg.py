"""Chart descriptions to static SVG that needs no script, no font file and no style attribute."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from reports.charts import worker

_ROLES = re.compile(r' (?:role|aria-roledescription|aria-hidden|pointer-events|xmlns:xlink|version)="[^"]*"')
_STYLES = re.compile(r' style="[^"]*"')
_FONTS = re.compile(r' font-family="[^"]*"')
_MARK_LABELS = re.compile(r'(<path|<rect|<circle)([^>]*?) aria-label="')
_OTHER_LABELS = re.compile(r' aria-label="[^"]*"')
_EMPTY = re.compile(r'<path class="(?:background|foreground)"[^>]*d="(?:|M0,0h0v0h0Z)"[^>]*/>')
_CLASSES = re.compile(r' class="(?:mark-|role-|background|foreground)[^"]*"')
_FIXED_SIZE = re.compile(r'^<svg ([^>]*?) ?width="([\d.]+)" height="([\d.]+)"')
_BACKDROP = re.compile(r'(<svg[^>]*>)<rect [^>]*fill="white"/>')


Rows = list[dict[str, Any]]


@dataclass(frozen=True, eq=False)
class Compiled:
    """A kind of chart: its axes drawn, its marks waiting for rows."""

    axes: str
    marks: dict[str, Any]


def compile_chart(description: dict[str, Any]) -> Compiled:
    """Compile a Vega-Lite description whose data are named, whose ends are given and whose size is fixed.

    Drawing text takes most of the time of a chart, so the axes are drawn here, once.
    """
    vega = worker.work("compile", description)
    empty = [item if "source" in item else item | {"values": []} for item in vega["data"]]
    axes = clean(worker.work("draw", vega | {"marks": [], "data": empty}))
    return Compiled(axes, vega | {"axes": []})


def to_svg(chart: Compiled, rows: dict[str, Rows]) -> Markup:
    """A chart with its rows, as an SVG that scales to its place and suits a strict policy.

    Labels of marks become ``data-tip``, which the report's own script shows on hover, touch and arrow keys; the
    drawing itself is hidden from screen readers, because the words and the table beside it say the same.

    Raises:
        KeyError: rows are missing for one of the chart's names.
    """
    data = [item if "source" in item else item | {"values": rows[item["name"]]} for item in chart.marks["data"]]
    marks = clean(worker.work("draw", chart.marks | {"data": data}))
    return Markup(chart.axes.removesuffix("</svg>") + marks[marks.index(">") + 1 :])


def clean(text: str) -> str:
    """Strip what a strict policy refuses or a reader does not need from a rendered chart."""
    text = _BACKDROP.sub(r"\1", text)
    text = _EMPTY.sub("", text)
    text = _MARK_LABELS.sub(r'\1\2 data-tip="', text)
    for pattern in (_OTHER_LABELS, _ROLES, _STYLES, _FONTS, _CLASSES):
        text = pattern.sub("", text)
    return _FIXED_SIZE.sub(r'<svg \1 aria-hidden="true" focusable="false"', text, count=1)
