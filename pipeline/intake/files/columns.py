"""The columns of every kind of file: the values allowed, and how to mend others.

Limits are facts of the lane and common practice: 39 boards lie between the gutters (0 and 40 stand for the channel
edges), and no delivery is slower than 5 or faster than 30 mph or turns faster than 700 rpm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.sport import oil

ColumnType = Literal["text", "whole", "number", "flag", "date", "choice"]


@dataclass(frozen=True)
class Column:
    """One column of a CSV.

    ``low`` and ``high`` bound numbers (inclusive); ``default`` replaces an empty value of a column not required.
    """

    name: str
    type: ColumnType = "text"
    required: bool = False
    low: float = 0
    high: float = 0
    choices: tuple[str, ...] = ()
    default: object = None

    def expected(self) -> str:
        """The values allowed, as the end of a sentence."""
        if self.type == "choice":
            return "one of " + ", ".join(self.choices)
        if self.type in {"whole", "number"}:
            number = "a whole number" if self.type == "whole" else "a number"
            return f"{number} from {self.low:g} to {self.high:g}"
        return {
            "flag": "yes or no",
            "date": "a date from 1950 to 2100, such as 2026-10-07 (10/07/2026 could be two days)",
        }.get(self.type, "a text")

    def mend(self) -> str:
        """How to put a value right that is not as expected."""
        return "Correct the value." if self.required else "Correct the value, or leave it empty."


def _board(name: str, low: float, high: float) -> Column:
    return Column(name, "number", low=low, high=high)


SHOTS: tuple[Column, ...] = (
    Column("date", "date", required=True),
    Column("block", required=True),
    Column("bowler", required=True),
    Column("lane", "whole", required=True, low=1, high=500),
    Column("game", "whole", required=True, low=1, high=60),
    Column("frame", "whole", required=True, low=1, high=10),
    Column("delivery", "whole", required=True, low=1, high=3),
    Column("ball", required=True),
    _board("laydown_board", 0, 40),
    _board("arrow_board", 1, 39),
    _board("breakpoint_board", 0, 40),
    _board("breakpoint_ft", 10, 60),
    _board("entry_board", 0, 40),
    _board("entry_angle_deg", -2, 12),
    _board("speed_mph", 5, 30),
    _board("rev_rpm", 0, 700),
    Column("leave", required=True),
    Column("foul", "flag"),
    Column("note"),
)

REFERENCES: dict[str, tuple[Column, ...]] = {
    "bowlers": (
        Column("bowler", required=True),
        Column("name"),
        Column("hand", "choice", required=True, choices=("right", "left")),
        Column("style", "choice", choices=("one-handed", "two-handed"), default="one-handed"),
        Column("coach"),
        Column("birth_year", "whole", low=1900, high=2100),
    ),
    "balls": (
        Column("ball", required=True),
        Column("bowler", required=True),
        Column("name"),
        Column("cover", "choice", required=True, choices=("polyester", "urethane", "pearl", "hybrid", "solid")),
        Column("core", "choice", required=True, choices=("symmetric", "asymmetric")),
        Column("rg_in", "number", low=2.4, high=2.9),
        Column("diff_in", "number", low=0, high=0.1),
        Column("int_diff_in", "number", low=0, high=0.1),
        Column("layout"),
        Column("surface_grit", "whole", low=80, high=15000),
        Column("benchmark", "flag", default=False),
        Column("spare_ball", "flag", default=False),
        Column("games_before", "number", low=0, high=100000, default=0.0),
    ),
    "patterns": (
        Column("pattern", required=True),
        Column("name"),
        Column("length_ft", "number", low=oil.LENGTH_FT[0], high=oil.LENGTH_FT[1]),
        Column("volume_ml", "number", low=oil.VOLUME_ML[0], high=oil.VOLUME_ML[1]),
        Column("ratio", "number", low=oil.RATIO[0], high=oil.RATIO[1]),
    ),
    "blocks": (
        Column("block", required=True),
        Column("date", "date", required=True),
        Column("pattern"),
        Column("event"),
        Column("centre"),
    ),
    "maintenance": (
        Column("date", "date", required=True),
        Column("ball", required=True),
        Column("action", "choice", required=True, choices=("clean", "surface", "resurface", "oil extraction")),
        Column("grit", "whole", low=80, high=15000),
        Column("note"),
    ),
}
"""Kinds of reference file in the order they are checked: each may only name rows of those before it."""

SPEED_IN_KMH = frozenset(
    {"speed_kmh", "speed_km/h", "speed_kph", "speed_(km/h)", "speed_(kmh)", "speed_(kph)", "km/h", "kmh", "kph"}
)
"""Other names of ``speed_mph`` for speeds in km/h; further names need a column map."""


def columns_of(kind: str) -> tuple[Column, ...]:
    """Columns of a kind of file, ``shots`` or a key of ``REFERENCES``."""
    return SHOTS if kind == "shots" else REFERENCES[kind]
