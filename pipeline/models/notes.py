"""What a model lacked, and what a report rests on, as typed notes.

``pipeline/decisions/wording/notes.py`` puts them in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

NoteKind = Literal[
    "no_arrow_board",
    "ball_not_listed",
    "pattern_not_posted",
    "layout_not_read",
    "no_entry_board",
    "some_entry_boards",
    "no_spare_attempt",
    "rare_leaves_merged",
    "learned_from_some",
    "about_everybody",
    "most_logged",
    "compared_with_some",
    "period",
]


@dataclass(frozen=True)
class Note:
    """One note.

    Attributes:
        kind: what it says.
        share: of the first deliveries concerned, 0..1.
        count: balls, bowlers or shots concerned.
        of: all balls, bowlers or shots that ``count`` is out of.
        names: what it lists.
    """

    kind: NoteKind
    share: float = 0.0
    count: int = 0
    of: int = 0
    names: tuple[str, ...] = ()
