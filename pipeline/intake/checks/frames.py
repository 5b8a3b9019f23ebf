"""What the deliveries of one frame may be, given the ones before them.

A delivery is kept only if every earlier delivery of its frame is kept, because only they tell the pins it faced. Source
of the order of deliveries, of fouls and of the tenth frame: the playing rules of the sport.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.intake.checks.dates import joined_by_slashes, leave_from_date, looks_like_a_date
from pipeline.sport.leaves import FULL_RACK, LeaveError, format_leave, mirror, parse_leave

_FOUL_WORD = "f"


@dataclass(frozen=True)
class Mark:
    """What was logged of one delivery: the leave as written, and whether it was a foul."""

    text: str
    foul: bool


class SetAside:
    """A delivery whose row was already set aside for a fault of its own."""


@dataclass(frozen=True)
class Outcome:
    """A delivery that can be kept; masks are those of pins as the bowler's own hand sees them."""

    facing: int
    standing: int
    first_ball: bool
    foul: bool
    repaired: bool


@dataclass(frozen=True)
class RowFault:
    """Why a delivery cannot be kept, in which column, and how to mend it."""

    column: str
    reason: str
    mend: str


@dataclass
class _Rack:
    """The state of a frame before its next delivery."""

    standing: int = FULL_RACK
    fresh: bool = True


def check_frame(
    marks: Sequence[Mark | SetAside | None], *, tenth: bool, left_handed: bool
) -> list[Outcome | RowFault | None]:
    """Check the three possible deliveries of one frame in order.

    Args:
        marks: what was logged of deliveries 1, 2 and 3; None if there is no such row.
        tenth: whether it is the tenth frame.
        left_handed: whether leaves are mirrored.

    Returns:
        For each delivery its outcome, its fault, or None if not checked.
    """
    outcomes: list[Outcome | RowFault | None] = []
    rack: _Rack | RowFault = _Rack()
    for number, mark in enumerate(marks, start=1):
        if mark is None or isinstance(mark, SetAside):
            outcomes.append(None)
            rack = rack if isinstance(rack, RowFault) else _broken(number, missing=mark is None)
            continue
        if isinstance(rack, RowFault):
            outcomes.append(rack)
            continue
        result = _check_delivery(mark, rack, number)
        outcomes.append(_mirrored(result) if left_handed and isinstance(result, Outcome) else result)
        rack = _next_rack(result, number, tenth=tenth)
    return outcomes


def _broken(number: int, *, missing: bool) -> RowFault:
    if missing:
        return RowFault(
            "delivery",
            f"delivery {number} of this frame is missing",
            f"Add the row of delivery {number}, or correct this.",
        )
    return RowFault(
        "delivery",
        f"delivery {number} of this frame was set aside, so the pins this one faced are unknown",
        f"Mend the row of delivery {number}; this one is then read again.",
    )


def _check_delivery(mark: Mark, rack: _Rack, number: int) -> Outcome | RowFault:
    word = mark.text.strip().removeprefix("'").lower()
    foul = mark.foul or word == _FOUL_WORD
    if foul and word in {"", _FOUL_WORD}:
        return Outcome(rack.standing, rack.standing, rack.fresh, True, False)
    misplaced = _misplaced_sign(word, rack, number)
    if misplaced is not None:
        return misplaced
    read = _read_leave(mark.text, rack.standing)
    if isinstance(read, RowFault):
        return read
    standing, repaired = read
    risen = standing & ~rack.standing
    if risen:
        pins = format_leave(risen)
        return RowFault(
            "leave",
            f"pin {pins} was already down before this delivery (standing: {format_leave(rack.standing)})",
            "Correct this leave, or that of the delivery before; a leave names the pins that stand, not how many fell.",
        )
    return Outcome(rack.standing, rack.standing if foul else standing, rack.fresh, foul, repaired and not foul)


def _misplaced_sign(word: str, rack: _Rack, number: int) -> RowFault | None:
    if word in {"/", "spare"} and rack.fresh:
        return RowFault(
            "leave", f"delivery {number} was thrown at a new rack, so it cannot be a spare", "Write X for a strike."
        )
    if word in {"x", "strike"} and not rack.fresh:
        return RowFault(
            "leave", f"delivery {number} was not thrown at a new rack, so it cannot be a strike", "Write / for a spare."
        )
    return None


def _read_leave(text: str, facing: int) -> tuple[int, bool] | RowFault:
    if looks_like_a_date(text):
        mask = leave_from_date(text, facing)
        if mask is not None:
            return mask, True
        return RowFault(
            "leave",
            "a spreadsheet turned this leave into a date, and no single legal leave can be read from it",
            "Write the pins again, such as 7-10, in a column formatted as text.",
        )
    try:
        return parse_leave(text, facing), joined_by_slashes(text)
    except LeaveError as error:
        return RowFault("leave", error.what, error.mend)


def _next_rack(result: Outcome | RowFault, number: int, *, tenth: bool) -> _Rack | RowFault:
    """What the next delivery faces, or why there can be none."""
    if isinstance(result, RowFault):
        return _broken(number, missing=False)
    down = result.standing == 0
    if not tenth and down and number == 1:
        return RowFault(
            "delivery", "the frame ended with its strike", "Remove this row, or correct the frame or leave."
        )
    if not tenth and number == 2:
        return RowFault("delivery", "only the tenth frame has a third delivery", "Correct the frame or the delivery.")
    if tenth and down:
        return _Rack()
    if tenth and number == 2 and not result.first_ball:
        return RowFault(
            "delivery",
            "a third delivery in the tenth must be earned by a strike or a spare",
            "Remove this row, or correct the leaves before it.",
        )
    return _Rack(result.standing, False)


def _mirrored(outcome: Outcome) -> Outcome:
    return Outcome(mirror(outcome.facing), mirror(outcome.standing), outcome.first_ball, outcome.foul, outcome.repaired)
