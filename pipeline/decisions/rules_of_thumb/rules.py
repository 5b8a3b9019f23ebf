"""The rules of thumb put on trial, each as the shots that keep to it, those that break it, and where it should hold.

All are common practice without a published source; the rule of 31 is from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.decisions.wording.rules_of_thumb import RuleName
from pipeline.sport.lane import LINES

Mask = NDArray[np.bool_]
Rule = Callable[[pd.DataFrame], Mask]

_INNER = LINES[LINES.index("third arrow") :]
_OUTER = LINES[: LINES.index("third arrow")]


def column(name: str, *values: str) -> Rule:
    """Rows whose column is one of the values."""
    return lambda rows: rows[name].isin(values).to_numpy()


def both(*rules: Rule) -> Rule:
    """Rows that meet every rule."""
    return lambda rows: np.logical_and.reduce([rule(rows) for rule in rules])


def cover(*words: str) -> Rule:
    """Rows whose ball class ends in one of the cover words."""
    return lambda rows: rows["ball_class"].str.split().str[-1].isin(words).to_numpy()


def benchmark(is_one: bool) -> Rule:
    """Rows thrown with the benchmark ball, or with another that is no spare ball."""
    return lambda rows: ((rows["benchmark"] == is_one) & ~rows["spare_ball"].astype(bool)).to_numpy()


REACTIVE = cover("pearl", "hybrid", "solid")
URETHANE = cover("urethane")
_SAME_LINE = ("pattern_class", "phase", "line")
_SAME_BALL = ("pattern_class", "phase", "ball")
_SAME_PHASE = ("pattern_class", "phase")
_SAME_OIL = ("volume_class", "phase")


@dataclass(frozen=True)
class Maxim:
    """One rule of thumb.

    Attributes:
        name: its id.
        where: rows that the rule is about.
        keeps: rows that keep to it.
        breaks: rows that do not.
        within: columns held alike in the comparison.
        table: ``choices`` (the priced choices) or ``oil`` (the model of oil volume and ball numbers).
        phase: only in this phase, if given.
        less_phase: the gain in ``phase`` is compared with that in this phase.
        rev_dominant_only: for bowlers with more revs for their speed than most.
        from_memory: whether its wording is from memory.
    """

    name: RuleName
    where: Rule
    keeps: Rule
    breaks: Rule
    within: tuple[str, ...]
    table: str = "choices"
    phase: str = ""
    less_phase: str = ""
    rev_dominant_only: bool = False
    from_memory: bool = False


_LONG, _SHORT = column("pattern_class", "long"), column("pattern_class", "short")
_POSTED = column("pattern_class", "short", "medium", "long")
_HEAVY, _LIGHT = column("volume_class", "heavy"), column("volume_class", "light")
_DIFF = column("diff_class", "medium", "high")

MAXIMS: tuple[Maxim, ...] = (
    Maxim(
        "long_higher_rg",
        _LONG,
        both(column("rg_class", "medium", "high"), _DIFF),
        column("rg_class", "low"),
        _SAME_LINE,
    ),
    Maxim(
        "long_inside",
        _LONG,
        column("line", *_INNER),
        column("line", *_OUTER),
        _SAME_BALL,
    ),
    Maxim(
        "short_outside",
        _SHORT,
        column("line", *_OUTER),
        column("line", *_INNER),
        _SAME_BALL,
    ),
    Maxim(
        "short_no_high_rg",
        _SHORT,
        column("rg_class", "low", "medium"),
        column("rg_class", "high"),
        _SAME_LINE,
    ),
    Maxim("heavy_low_rg", _HEAVY, column("rg_class", "low"), column("rg_class", "high"), _SAME_OIL, "oil"),
    Maxim(
        "heavy_high_differential",
        _HEAVY,
        column("diff_class", "high"),
        column("diff_class", "low", "medium"),
        _SAME_OIL,
        "oil",
    ),
    Maxim(
        "heavy_dull",
        _HEAVY,
        column("surface_class", "dull"),
        column("surface_class", "polished"),
        _SAME_OIL,
        "oil",
    ),
    Maxim("light_high_rg", _LIGHT, column("rg_class", "high"), column("rg_class", "low"), _SAME_OIL, "oil"),
    Maxim(
        "light_low_differential",
        _LIGHT,
        column("diff_class", "low"),
        column("diff_class", "medium", "high"),
        _SAME_OIL,
        "oil",
    ),
    Maxim(
        "light_polished",
        _LIGHT,
        column("surface_class", "polished"),
        column("surface_class", "dull"),
        _SAME_OIL,
        "oil",
    ),
    Maxim("heavy_solid", _HEAVY, cover("solid"), cover("pearl"), _SAME_OIL, "oil"),
    Maxim(
        "fresh_urethane",
        _POSTED,
        URETHANE,
        REACTIVE,
        _SAME_PHASE,
        phase="fresh",
        rev_dominant_only=True,
    ),
    Maxim(
        "short_urethane",
        _SHORT,
        URETHANE,
        REACTIVE,
        _SAME_PHASE,
        rev_dominant_only=True,
    ),
    Maxim(
        "fresh_higher_rg",
        _POSTED,
        column("rg_class", "medium", "high"),
        column("rg_class", "low"),
        _SAME_LINE,
        phase="fresh",
        rev_dominant_only=True,
    ),
    Maxim("long_no_urethane", _LONG, REACTIVE, URETHANE, _SAME_PHASE),
    Maxim(
        "urethane_fades",
        _POSTED,
        REACTIVE,
        URETHANE,
        ("pattern_class",),
        phase="late",
        less_phase="fresh",
    ),
    Maxim("fresh_benchmark", _POSTED, benchmark(True), benchmark(False), _SAME_PHASE, phase="fresh"),
    Maxim(
        "late_weaker_cover",
        _POSTED,
        cover("pearl"),
        cover("solid"),
        ("pattern_class",),
        phase="late",
        less_phase="fresh",
    ),
    Maxim(
        "late_inside",
        _POSTED,
        column("line", *_INNER),
        column("line", *_OUTER),
        ("pattern_class", "ball"),
        phase="late",
        less_phase="fresh",
    ),
    Maxim(
        "rule_of_31",
        _POSTED,
        column("exit_band", "near"),
        column("exit_band", "inside", "outside"),
        ("pattern_class", "ball"),
        "oil",
        from_memory=True,
    ),
)
