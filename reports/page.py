"""Templates to whole pages: one file each, its style and script inside, allowed by hash and nothing else."""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from pipeline.spreadsheet import FORMULA
from reports.context import ReportContext
from reports.files import ALL, Report
from reports.html import rows, strips
from reports.style import palette, wording

_HERE = Path(__file__).parent


def render_page(report: Report, context: ReportContext, view: dict[str, Any]) -> str:
    """One report as HTML text; every value is escaped unless a drawing of our own made it."""
    style, script = style_sheet(), script_text()
    return (
        _environment()
        .get_template(f"{report.slug}.html.j2")
        .render(
            report=report,
            reports=ALL,
            context=context,
            summary=context.decisions.summary,
            title=context.decisions.title,
            style=Markup(style),
            script=Markup(script),
            policy=policy(style, script),
            **view,
        )
    )


def policy(style: str, script: str) -> str:
    """The content policy: nothing from anywhere, but this style sheet and this script."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def style_sheet() -> str:
    """Colours from the palette, then the layout."""
    return palette.style_rules() + "\n" + (_HERE / "static" / "report.css").read_text(encoding="utf-8")


@cache
def script_text() -> str:
    """The script of every report, with the rule of ``pipeline/spreadsheet.py`` for cells of a CSV."""
    script = (_HERE / "static" / "report.js").read_text(encoding="utf-8")
    return script.replace('"FORMULA"', json.dumps(FORMULA))


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["words"] = wording
    environment.filters["tidy"] = wording.tidy
    environment.globals["table_row"] = rows.table_row
    environment.globals["ticks"] = strips.ticks
    environment.globals["box_sample"] = strips.sample
    environment.globals["worth_edges"] = palette.WORTH_EDGES
    return environment


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
