"""Chart descriptions to static SVG that needs no script, no font file and no style attribute."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import vl_convert
from markupsafe import Markup

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
    """A chart compiled without its rows, and the names its rows go by."""

    description: dict[str, Any]
    names: frozenset[str]


def compile_chart(description: dict[str, Any]) -> Compiled:
    """Compile a Vega-Lite description whose data are named, not given."""
    vega = vl_convert.vegalite_to_vega(description)
    return Compiled(vega, frozenset(item["name"] for item in vega["data"] if not _derived(item)))


def to_svg(chart: Compiled, rows: dict[str, Rows]) -> Markup:
    """Render a compiled chart with its rows to an SVG that scales to its place and suits a strict policy.

    Labels of marks become ``data-tip``, which the report's own script shows on hover, touch and arrow keys; the
    drawing itself is hidden from screen readers, for the words and the table beside it say the same.

    Raises:
        KeyError: rows are missing for one of the chart's names.
    """
    data = [item if _derived(item) else item | {"values": rows[item["name"]]} for item in chart.description["data"]]
    return Markup(clean(vl_convert.vega_to_svg(chart.description | {"data": data})))


def _derived(item: dict[str, Any]) -> bool:
    return "source" in item or "values" in item


def clean(text: str) -> str:
    """Strip what a strict policy refuses or a reader does not need from a rendered chart."""
    text = _BACKDROP.sub(r"\1", text)
    text = _EMPTY.sub("", text)
    text = _MARK_LABELS.sub(r'\1\2 data-tip="', text)
    for pattern in (_OTHER_LABELS, _ROLES, _STYLES, _FONTS, _CLASSES):
        text = pattern.sub("", text)
    return _FIXED_SIZE.sub(r'<svg \1 aria-hidden="true" focusable="false"', text, count=1)
