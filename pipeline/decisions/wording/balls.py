"""A ball's catalogue numbers in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd


def catalogue(ball: Mapping[str, Any]) -> str:
    """Cover, core, RG, differential and surface of a row of ``cells/ball_states``; numbers not given are left out."""
    core = "" if ball["cover"] == "polyester" else f", {ball['core']} core"
    parts = [f"{ball['cover']} cover{core}"]
    for column, text in (
        ("rg_in", "RG {:.3f} in"),
        ("diff_in", "differential {:.3f} in"),
        ("int_diff_in", "intermediate differential {:.3f} in"),
        ("surface_grit", "surface {:.0f} grit"),
    ):
        value = ball[column]
        if value is not None and not pd.isna(value) and float(value) > 0:
            parts.append(text.format(float(value)))
    return ", ".join(parts)
