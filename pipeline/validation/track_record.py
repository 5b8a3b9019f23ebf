"""How often the tool was right in whole simulated seasons, whose truth is known: one row per simulated world.

The numbers come from the recovery study (``tests/recovery``), which writes the file beside this one.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, fields
from pathlib import Path

FILE = Path(__file__).with_name("track_record.csv")


@dataclass(frozen=True)
class TrackRecord:
    """One simulated world: what was stated and what was true. Shares are of 1, gains in pins per game."""

    world: str
    seasons: int
    held_80: float
    """Share of 80 % intervals of a ball's worth that held the truth, its line followed as the bowler does now."""
    kept_80: float
    """The same of a ball on one line, kept all night."""
    margins_80: float
    """The same of the margin of the first-ranked line kept over each other of its cell."""
    gain_stated: float
    """Gain of the advice over the bowler's own throwing, each ball played as advised, from the board named."""
    gain_true: float
    gain_possible: float
    """The most that any ball could gain, its line following the lane."""
    items_true: float
    """What the first three things to do on the lanes truly gain, as a share of what was stated."""
    best_said: float
    """Mean stated probability that the first-ranked line is the best one to keep."""
    best_right: float
    settled_right: float
    """Share of choices called settled that were truly the best."""


def track_record() -> list[TrackRecord]:
    """All worlds, in the order of the file."""
    with FILE.open(encoding="utf-8", newline="") as file:
        return [_typed(row) for row in csv.DictReader(file)]


def _typed(row: dict[str, str]) -> TrackRecord:
    numbers = {item.name: float(row[item.name]) for item in fields(TrackRecord)[2:]}
    return TrackRecord(row["world"], int(row["seasons"]), **numbers)
