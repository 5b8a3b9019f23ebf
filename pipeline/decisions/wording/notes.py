"""Notes of a report in words: what the models lacked, and what the report covers."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.decisions.wording.terms import plural
from pipeline.models.notes import Note, NoteKind


def note_text(note: Note) -> str:
    """The note in one or two sentences."""
    return _NOTES[note.kind](note)


def _of_first_deliveries(words: str) -> Callable[[Note], str]:
    return lambda note: f"{_share(max(note.share, 0.001))} of first deliveries {words}."


def _share(share: float) -> str:
    return f"{100 * share:.1f} %"


_NOTES: dict[NoteKind, Callable[[Note], str]] = {
    "no_arrow_board": _of_first_deliveries("have no arrow board; they count as a line of their own, 'line not logged'"),
    "ball_not_listed": _of_first_deliveries(
        "were thrown with a ball that balls.csv does not list; they count as a ball class of their own"
    ),
    "pattern_not_posted": _of_first_deliveries(
        "were bowled on an unposted pattern; they count as a pattern class of their own"
    ),
    "layout_not_read": lambda note: (
        f"The layout of {plural(note.count, 'ball')} does not say how far the pin lies from the axis, "
        "so it says nothing about the hook."
    ),
    "no_entry_board": lambda _: (
        "No entry board is logged, so the report cannot say where balls entered; it uses ball, line and game instead."
    ),
    "some_entry_boards": lambda note: (
        f"{_share(note.share)} of first deliveries have no entry board. They count with a level of their own; "
        "the curve by entry board rests on the others."
    ),
    "no_spare_attempt": lambda _: "No spare attempt is logged, so spare rates are the weak prior of each leave type.",
    "rare_leaves_merged": lambda note: (
        f"Leave types with under {note.count} shots were fitted as one group and split by overall shares: "
        f"{', '.join(note.names)}."
    ),
    "learned_from_some": lambda note: (
        f"Carry by ball, line and game was learned from all {note.of:,} bowlers. "
        f"Entry boards, leaves and spares were learned from {note.count:,} of them: those reported here and others "
        "picked at random."
    ),
    "about_everybody": lambda _: "Statements about all first deliveries cover everyone loaded.",
    "most_logged": lambda note: (
        f"{note.of:,} bowlers are logged; this report covers the {note.count} with the most first "
        "deliveries. Name others with --about ID (repeat it for more), or everyone with --about all."
    ),
    "compared_with_some": lambda note: (
        f"How balls age and what a class can do was learned from {note.count:,} of the {note.of:,} bowlers: those "
        "reported here and others picked at random. Versatility is compared, and rules of thumb are tried, only among "
        "those reported."
    ),
    "period": lambda note: f"This report covers {note.names[0]}; the models learn from every night loaded.",
}
