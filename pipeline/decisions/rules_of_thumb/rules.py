"""The rules of thumb put on trial, each as what keeps to it, what breaks it, and where it is said to hold.

All are common practice without a published source; the rule of 31 is from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.sport.lane import LINES

Mask = NDArray[np.bool_]
Rule = Callable[[pd.DataFrame], Mask]

SOURCE = "common practice"
FROM_MEMORY = "common practice, from memory"
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
        text: the rule in words.
        where: rows the rule speaks of.
        keeps: rows that keep to it.
        breaks: rows that do not.
        within: columns held alike in the comparison.
        table: ``choices`` (the priced choices) or ``oil`` (the model of oil volume and ball numbers).
        phase: only in this phase, where given.
        less_phase: the gain in ``phase`` is set against that in this phase.
        rev_dominant_only: for bowlers with more revs for their speed than most.
        source: where the rule comes from.
    """

    text: str
    where: Rule
    keeps: Rule
    breaks: Rule
    within: tuple[str, ...]
    table: str = "choices"
    phase: str = ""
    less_phase: str = ""
    rev_dominant_only: bool = False
    source: str = SOURCE


_LONG, _SHORT = column("pattern_class", "long"), column("pattern_class", "short")
_POSTED = column("pattern_class", "short", "medium", "long")
_HEAVY, _LIGHT = column("volume_class", "heavy"), column("volume_class", "light")
_DIFF = column("diff_class", "medium", "high")

MAXIMS: tuple[Maxim, ...] = (
    Maxim(
        "On long patterns a higher RG with enough differential beats a low RG.",
        _LONG,
        both(column("rg_class", "medium", "high"), _DIFF),
        column("rg_class", "low"),
        _SAME_LINE,
    ),
    Maxim(
        "On long patterns play closer to the head pin.",
        _LONG,
        column("line", *_INNER),
        column("line", *_OUTER),
        _SAME_BALL,
    ),
    Maxim(
        "On short patterns play nearer the gutter.",
        _SHORT,
        column("line", *_OUTER),
        column("line", *_INNER),
        _SAME_BALL,
    ),
    Maxim(
        "On short patterns leave the very high RG in the bag.",
        _SHORT,
        column("rg_class", "low", "medium"),
        column("rg_class", "high"),
        _SAME_LINE,
    ),
    Maxim(
        "On heavy oil use a low RG.", _HEAVY, column("rg_class", "low"), column("rg_class", "high"), _SAME_OIL, "oil"
    ),
    Maxim(
        "On heavy oil use a high differential.",
        _HEAVY,
        column("diff_class", "high"),
        column("diff_class", "low", "medium"),
        _SAME_OIL,
        "oil",
    ),
    Maxim(
        "On heavy oil use more surface.",
        _HEAVY,
        column("surface_class", "dull"),
        column("surface_class", "polished"),
        _SAME_OIL,
        "oil",
    ),
    Maxim(
        "On light oil use a high RG.", _LIGHT, column("rg_class", "high"), column("rg_class", "low"), _SAME_OIL, "oil"
    ),
    Maxim(
        "On light oil use a low differential.",
        _LIGHT,
        column("diff_class", "low"),
        column("diff_class", "medium", "high"),
        _SAME_OIL,
        "oil",
    ),
    Maxim(
        "On light oil use less surface.",
        _LIGHT,
        column("surface_class", "polished"),
        column("surface_class", "dull"),
        _SAME_OIL,
        "oil",
    ),
    Maxim("A solid cover beats a pearl on heavy oil.", _HEAVY, cover("solid"), cover("pearl"), _SAME_OIL, "oil"),
    Maxim(
        "Urethane gives a rev-dominant bowler control on the fresh.",
        _POSTED,
        URETHANE,
        REACTIVE,
        _SAME_PHASE,
        phase="fresh",
        rev_dominant_only=True,
    ),
    Maxim(
        "Urethane gives a rev-dominant bowler control on short patterns.",
        _SHORT,
        URETHANE,
        REACTIVE,
        _SAME_PHASE,
        rev_dominant_only=True,
    ),
    Maxim(
        "A medium to high RG gives a rev-dominant bowler control on the fresh.",
        _POSTED,
        column("rg_class", "medium", "high"),
        column("rg_class", "low"),
        _SAME_LINE,
        phase="fresh",
        rev_dominant_only=True,
    ),
    Maxim("Leave urethane on long patterns.", _LONG, REACTIVE, URETHANE, _SAME_PHASE),
    Maxim(
        "Urethane loses carry as the pattern breaks down.",
        _POSTED,
        REACTIVE,
        URETHANE,
        ("pattern_class",),
        phase="late",
        less_phase="fresh",
    ),
    Maxim("Start on the benchmark ball.", _POSTED, benchmark(True), benchmark(False), _SAME_PHASE, phase="fresh"),
    Maxim(
        "Ball down to a weaker cover as the pattern breaks down.",
        _POSTED,
        cover("pearl"),
        cover("solid"),
        ("pattern_class",),
        phase="late",
        less_phase="fresh",
    ),
    Maxim(
        "Move in as the pattern breaks down.",
        _POSTED,
        column("line", *_INNER),
        column("line", *_OUTER),
        ("pattern_class", "ball"),
        phase="late",
        less_phase="fresh",
    ),
    Maxim(
        "Rule of 31: leave the pattern near the board of its length minus 31.",
        _POSTED,
        column("exit_band", "near"),
        column("exit_band", "inside", "outside"),
        ("pattern_class", "ball"),
        "oil",
        source=FROM_MEMORY,
    ),
)
