"""A drill for each skill, in words: common practice of coaching, with shots few enough for one session."""

from __future__ import annotations

_DRILLS = {
    "pocket": "Ten shots at one arrow from one stance; move your feet only after two misses to the same side.",
    "carry": "One line, ten shots each slower, as usual and faster; keep the speed that carried best.",
    "single-pin spares": "Five shots each at the 7, the 10 and the 3 pins, moving the feet and keeping the swing.",
    "multi-pin spares": "Name the first pin to hit before each shot; five shots each at your three commonest leaves.",
    "accuracy at the arrows": "Choose one board at the arrows; count hits within a board of it, in sets of ten.",
    "accuracy at the pocket": "Ten shots on one line, calling the entry board before looking; note every miss by side.",
    "versatility": "One ball, four lines: five shots each over the first to the fourth arrow, matching speed to line.",
}


def drill(skill: str) -> str:
    """The drill for a skill; empty for a skill without one."""
    return _DRILLS.get(skill, "")
