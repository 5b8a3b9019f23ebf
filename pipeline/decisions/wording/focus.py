"""Practice focus in words."""

from __future__ import annotations

from pipeline.decisions.records import PracticeFocus
from pipeline.decisions.wording.terms import percent, pins_a_game, plural

_AIMS = {
    "pocket": "hitting the pocket",
    "carry": "carry from the pocket",
    "single-pin spares": "shooting single-pin spares",
    "multi-pin spares": "shooting spares of two pins and more",
    "accuracy at the arrows": "accuracy at the arrows",
    "accuracy at the pocket": "a tighter spread at the pocket",
    "versatility": "bowling on the weakest pattern class",
}


def focus_sentence(focus: PracticeFocus, stands_out: bool) -> str:
    """The skill worth most and what it is worth; ``stands_out``: whether that is enough to be called a focus."""
    value = focus.pins_if_class_best
    odds = f"{plural(focus.shots, 'shot')}, {percent(focus.p_best)} likely worth more than any other"
    at = f"at the level of the class's best quarter (80 % interval {value.lo80:.0f} to {value.hi80:.0f}, {odds})"
    aim = _AIMS[focus.skill]
    if stands_out:
        return f"Biggest gain: {aim}, {pins_a_game(value.mean)} {at}."
    return f"Nothing stands out: {aim} would add most, {pins_a_game(value.mean, 1)} {at}."
