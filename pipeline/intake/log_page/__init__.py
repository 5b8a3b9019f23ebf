"""The log page: one offline page for a phone, on which deliveries are entered and saved as our CSV files.

Its parts are the files beside this one, joined when the page is written. ``frame_rules.js`` holds the
rules as pure functions, ``log_files.js`` the CSV files, ``log_state.js`` what the phone keeps, and ``log_entry.js``,
``log_mend.js``, ``log_touch.js``, ``log_session.js`` and ``log_forms.js`` the screens.
"""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from pipeline.intake.files.columns import REFERENCES, columns_of

_HERE = Path(__file__).parent
_SCRIPTS = ("frame_rules", "log_files", "log_state", "log_entry", "log_mend", "log_touch", "log_session", "log_forms")
_KINDS = ("shots", *(kind for kind in REFERENCES if kind != "maintenance"))


def log_page_html() -> str:
    """The page as text: one style, one script, and a policy that allows these two by hash and no connection at all."""
    style = _read("log_page.css")
    script = "\n".join(_read(f"{name}.js").removeprefix('"use strict";\n') for name in _SCRIPTS)
    script = f'"use strict";\n{script}'
    rules = {
        "default-src": "'none'",
        "script-src": _hash(script),
        "style-src": _hash(style),
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    environment = Environment(
        loader=FileSystemLoader(_HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.get_template("page.html.j2").render(
        policy=Markup("; ".join(f"{name} {value}" for name, value in rules.items())),
        style=Markup(style),
        script=Markup(script),
        columns=json.dumps({kind: [asdict(column) for column in columns_of(kind)] for kind in _KINDS}),
    )


def _read(name: str) -> str:
    return (_HERE / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii") + "'"
