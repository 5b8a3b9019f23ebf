"""What the worth model notes of the log it was fitted to: what was not logged, and for how many shots."""

from __future__ import annotations

import pandas as pd

from pipeline.models.balls.ball_strength import BallStrength
from pipeline.models.notes import Note, NoteKind
from pipeline.sport.lane import NO_LINE

NO_BALL_CLASS = "ball not listed"


def share_notes(cells: pd.DataFrame) -> list[Note]:
    """One note per item that some shots lack, with their share."""
    shots = cells["shots"].sum()
    notes = []
    missing: tuple[tuple[str, str, NoteKind], ...] = (
        ("line", NO_LINE, "no_arrow_board"),
        ("ball_class", NO_BALL_CLASS, "ball_not_listed"),
        ("pattern_class", "unposted", "pattern_not_posted"),
    )
    for column, label, kind in missing:
        share = float(cells.loc[cells[column] == label, "shots"].sum() / shots)
        if share > 0:
            notes.append(Note(kind, share=share))
    return notes


def layout_notes(strength: BallStrength | None) -> list[Note]:
    """A note if layouts are written that do not say where the pin is."""
    return [Note("layout_not_read", count=int(strength.unread))] if strength is not None and strength.unread else []
