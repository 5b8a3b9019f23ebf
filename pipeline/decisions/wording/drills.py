"""A drill for each skill, in words: common practice of coaching, with shots few enough for one session."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.sport.leaves import format_leave, mirror, parse_leave

_DRILLS = {
    "pocket": "Ten shots at one arrow from one stance; move your feet only after two misses to the same side.",
    "carry": "One line, ten shots each slower, as usual and faster; keep the speed that carried best.",
    "single-pin spares": "Five shots each at the {leaves}, moving the feet and keeping the swing.",
    "multi-pin spares": "Name the first pin to hit before each shot; five shots each at the {leaves}.",
    "accuracy at the arrows": "Choose one board at the arrows; count hits within a board of it, in sets of ten.",
    "accuracy at the pocket": "Ten shots on one line, calling the entry board before looking; note every miss by side.",
    "versatility": "One ball, four lines: five shots each over the first to the fourth arrow, matching speed to line.",
}


_SHORT = {
    "pocket": "10 shots at one arrow, one stance",
    "carry": "10 shots each slower, usual, faster",
    "single-pin spares": "5 shots each at {leaves}",
    "multi-pin spares": "5 shots each at {leaves}",
    "accuracy at the arrows": "sets of 10 at one board",
    "accuracy at the pocket": "10 shots, call the entry board",
    "versatility": "5 shots each over arrows 1 to 4",
}


_USUAL = {"single-pin spares": "7, 10 and 3", "multi-pin spares": "three leaves you have most"}
"""What to practise spares at if no leaves are known."""


def drill(skill: str, leaves: Sequence[str] = (), left_handed: bool = False) -> str:
    """The drill for a skill; empty for a skill without one.

    Args:
        skill: the skill to practise.
        leaves: the leaves to practise for a spare skill, the costliest first, as seen by a right-hander.
        left_handed: whether to name them as a left-hander sees them, by real pin numbers.
    """
    text = _DRILLS.get(skill, "")
    if "{leaves}" not in text:
        return text
    named = _named(leaves, left_handed)
    if not named:
        return text.format(leaves=_USUAL[skill])
    listed = named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
    return text.format(leaves=f"{listed} (real pin numbers)" if left_handed else listed)


def short_drill(skill: str, leaves: Sequence[str] = (), left_handed: bool = False) -> str:
    """The drill in a few words, for one line of a table; takes what ``drill`` takes."""
    named = _named(leaves, left_handed)
    said = ", ".join(named) if named else _USUAL.get(skill, "")
    return _SHORT.get(skill, "").format(leaves=f"{said} (real pins)" if left_handed and named else said)


def _named(leaves: Sequence[str], left_handed: bool) -> list[str]:
    return [_as_they_stand(leave) for leave in leaves] if left_handed else list(leaves)


def _as_they_stand(leave: str) -> str:
    return format_leave(mirror(parse_leave(leave)))
