"""Leaves: the pins still standing, as numbers, as text and as types.

A leave is a bitmask in which bit ``p - 1`` is set where pin ``p`` stands, so 0 is nothing left (a strike or a spare)
and 1023 is the full rack. Pins are numbered as in the rule books: 1 is the head pin, 7 to 10 the back row.
"""

from __future__ import annotations

import re
from functools import cache

import pandas as pd

FULL_RACK = 1023
HEAD_PIN = 1
PIN_ROWS = ((7, 8, 9, 10), (4, 5, 6), (2, 3), (1,))
"""Pins as the bowler sees them, the back row first."""

# (column, row): a column is half the 12 inch spacing, to the right of the head pin; row 0 is the head pin.
PIN_PLACES: dict[int, tuple[int, int]] = {
    1: (0, 0),
    2: (-1, 1),
    3: (1, 1),
    4: (-2, 2),
    5: (0, 2),
    6: (2, 2),
    7: (-3, 3),
    8: (-1, 3),
    9: (1, 3),
    10: (3, 3),
}
LEAVE_TYPES: tuple[str, ...] = (
    "strike",
    "corner pin",
    "other single pin",
    "bucket",
    "split, two pins",
    "split, three or more pins",
    "washout",
    "head pin",
    "cluster",
    "full rack",
)
_AT = {place: pin for pin, place in PIN_PLACES.items()}
_MIRROR = {pin: _AT[-column, row] for pin, (column, row) in PIN_PLACES.items()}
_STEPS = ((2, 0), (1, 1), (-1, 1))  # to the three neighbours right of and behind a pin
_BUCKETS = ((2, 4, 5, 8), (3, 5, 6, 9))


class LeaveError(ValueError):
    """A leave that cannot be read.

    Attributes:
        what: what is wrong, in one clause.
        mend: how to put it right, in one sentence.
    """

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(f"{what}. {mend}")
        self.what = what
        self.mend = mend


def _bit(pin: int) -> int:
    return 1 << (pin - 1)


def from_pins(standing: list[int] | tuple[int, ...]) -> int:
    """Bitmask of pin numbers; duplicates count once."""
    mask = 0
    for pin in standing:
        mask |= _bit(pin)
    return mask


def pins(mask: int) -> tuple[int, ...]:
    """Pin numbers standing in ``mask`` (0..1023), ascending.

    Raises:
        LeaveError: ``mask`` is no leave.
    """
    if not 0 <= mask <= FULL_RACK:
        raise LeaveError(f"{mask} is not a set of ten pins", "Use a number from 0 (none standing) to 1023 (all).")
    return tuple(pin for pin in PIN_PLACES if mask & _bit(pin))


_FRAME_SIGNS = ("/", "-", "\u2010", "\u2011", "\u2012", "\u2013", "\u2014", "\u2015", "\u2212")
"""A leave that begins or ends in one of these reads like a frame on a score sheet: 6/, 9- or -9."""


def parse_leave(text: str, facing: int = FULL_RACK) -> int:
    """Read the pins standing after a delivery.

    Understood, in either case: pin numbers joined by a hyphen or dash, comma, semicolon, slash, plus sign or space
    (``10``, ``4-7``, ``3,6,10``), with or without ``pin`` behind (``7 pins`` is refused: it may mean seven felled) or
    ``s`` for a split in front; ``10.0`` and ``#10`` for ``10``; ``X``, ``strike``, ``/``, ``spare`` or ``0`` for none
    standing; ``-`` alone for a delivery that felled nothing, which leaves ``facing``; ``b`` and ten digits, one per pin
    from pin 1 on (``b0000000001`` is the 10 pin). An apostrophe in front, which spreadsheets put before a text, is left
    out. An empty text is refused, because it may as well
    mean a strike as a leave that nobody wrote down; so are ``6/`` and ``9-``, which write a whole frame by pins felled.

    Args:
        text: what was written.
        facing: pins standing before the delivery, a bitmask.

    Returns:
        The bitmask of pins standing.

    Raises:
        LeaveError: the text is empty or is no leave.
    """
    word = re.sub(r"\bpins?$", "", text.strip().removeprefix("'").lower()).strip()
    word = re.sub(r"^(?:s|split)[\s:]*(?=\d)|#|(?<=\d)\.0+$", "", word)
    if not word:
        raise LeaveError("the leave is empty", "Write the pins still standing, or X or / where none stands.")
    if word in {"x", "strike", "/", "spare", "0"}:
        return 0
    if re.fullmatch("[-\u2010-\u2015\u2212]+", word):
        return facing
    if re.fullmatch("b[01]{10}", word):
        return from_pins([pin for pin, digit in enumerate(word[1:], start=1) if digit == "1"])
    if word.startswith(_FRAME_SIGNS) or word.endswith(_FRAME_SIGNS):
        mend = "Write the pins still standing after each delivery on a row of its own, and / alone for a spare."
        raise LeaveError(f"{_quoted(text)} looks like a whole frame, not a leave", mend)
    return _parse_pin_numbers(text, word)


def _quoted(text: str) -> str:
    return repr(text) if len(text) <= 40 else f"{text[:40]!r}..."


def _parse_pin_numbers(text: str, word: str) -> int:
    parts = [part for part in re.split("[-\u2010-\u2015\u2212,;/+\\s]+", word) if part]
    mend = "Write pin numbers from 1 to 10 joined by hyphens, such as 3-6-10; X or / if none stands."
    if not parts or not all(re.fullmatch("[0-9]{1,2}", part) for part in parts):
        raise LeaveError(f"expected a leave, not {_quoted(text)}", mend)
    numbers = [int(part) for part in parts]
    if len(numbers) == 1 and text.strip().lower().endswith("pins"):
        raise LeaveError(f"{_quoted(text)} may as well mean pins felled as a pin standing", mend)
    wrong = [number for number in numbers if number not in PIN_PLACES]
    if wrong:
        raise LeaveError(f"there is no pin {wrong[0]} (read from {_quoted(text)})", mend)
    if len(set(numbers)) < len(numbers):
        raise LeaveError(f"a pin is named twice in {_quoted(text)}", "Name each standing pin once.")
    return from_pins(numbers)


def format_leave(mask: int) -> str:
    """The leave as text, such as ``3-10``; ``X`` where no pin stands."""
    return "-".join(str(pin) for pin in pins(mask)) or "X"


def mirror(mask: int) -> int:
    """The leave as seen in a mirror (the 7 pin becomes the 10 pin); its own inverse."""
    return from_pins([_MIRROR[pin] for pin in pins(mask)])


def is_split(mask: int) -> bool:
    """Whether the leave is a split by the rule book.

    The head pin is down and at least one pin is down (a) between two or more standing pins, such as 7-9 or 3-10, or
    (b) immediately ahead of two or more standing pins, such as 5-6 (playing rules of the sport's governing body,
    rule 2h, as quoted by others). "Between" is read as: on the straight row of pins from one standing pin to the
    other, or in the gap that parts the standing pins into groups that do not touch.
    """
    standing = pins(mask)
    if len(standing) < 2 or HEAD_PIN in standing:
        return False
    return len(_groups(standing)) > 1 or _gap_in_a_row(standing) or _down_ahead_of_two(standing)


def _gap_in_a_row(standing: tuple[int, ...]) -> bool:
    """A fallen pin on one of the three straight rows between two standing pins."""
    for pin in standing:
        for step_column, step_row in _STEPS:
            column, row = PIN_PLACES[pin]
            gap = False
            while (column + step_column, row + step_row) in _AT:
                column, row = column + step_column, row + step_row
                if _AT[column, row] not in standing:
                    gap = True
                elif gap:
                    return True
    return False


def _down_ahead_of_two(standing: tuple[int, ...]) -> bool:
    """A fallen pin immediately ahead of two standing neighbours of one row."""
    for pin, (column, row) in PIN_PLACES.items():
        behind = (_AT.get((column - 1, row + 1)), _AT.get((column + 1, row + 1)))
        if pin not in standing and behind[0] in standing and behind[1] in standing:
            return True
    return False


def _groups(standing: tuple[int, ...]) -> list[set[int]]:
    """Groups of pins that touch: next to each other, or one straight behind the other with no room between."""
    groups: list[set[int]] = []
    for pin in standing:
        near = [group for group in groups if any(_touch(pin, other) for other in group)]
        groups = [group for group in groups if group not in near] + [{pin}.union(*near)]
    return groups


def _touch(one: int, other: int) -> bool:
    columns = abs(PIN_PLACES[one][0] - PIN_PLACES[other][0])
    rows = abs(PIN_PLACES[one][1] - PIN_PLACES[other][1])
    return (columns, rows) in {(2, 0), (1, 1), (0, 2)}


@cache
def leave_type(mask: int) -> str:
    """The one type of a leave (0..1023), out of ``LEAVE_TYPES``.

    Singles, corner pin, bucket, washout and cluster are common practice; split is the rule book's (see ``is_split``).
    A bucket is 2-4-5-8 or 3-5-6-9, or three of them with the front pin. A washout is the head pin standing with pins
    that do not touch it or each other; ``head pin`` is any other leave with the head pin, itself alone included.
    """
    standing = pins(mask)
    if mask in (0, FULL_RACK):
        return "full rack" if mask else "strike"
    if HEAD_PIN in standing:
        return "washout" if len(_groups(standing)) > 1 else "head pin"
    if len(standing) == 1:
        return "corner pin" if standing[0] in (7, 10) else "other single pin"
    if is_split(mask):
        return "split, two pins" if len(standing) == 2 else "split, three or more pins"
    return "bucket" if _is_bucket(standing) else "cluster"


def _is_bucket(standing: tuple[int, ...]) -> bool:
    return any(bucket[0] in standing and len(standing) >= 3 and set(standing) <= set(bucket) for bucket in _BUCKETS)


def leave_table() -> pd.DataFrame:
    """All 1,024 leaves: columns standing (bitmask), leave (text) and leave_type."""
    masks = range(FULL_RACK + 1)
    return pd.DataFrame(
        {
            "standing": list(masks),
            "leave": [format_leave(mask) for mask in masks],
            "leave_type": [leave_type(mask) for mask in masks],
        }
    )
