"""Practice focus in words."""

from __future__ import annotations

from pipeline.decisions.records import PracticeFocus
from pipeline.decisions.wording.terms import interval, percent, pins_a_game, plural

_AIMS = {
    "pocket": "hitting the pocket",
    "carry": "carrying pocket hits",
    "single-pin spares": "single-pin spares",
    "multi-pin spares": "spares of two or more pins",
    "accuracy at the arrows": "hitting one board at the arrows",
    "accuracy at the pocket": "hitting one board at the pocket",
    "versatility": "bowling on the weakest pattern class",
}


def aim(skill: str) -> str:
    """What to practise for a skill, as it follows "practise": ``hitting the pocket``."""
    return _AIMS.get(skill, skill)


def focus_sentence(focus: PracticeFocus, stands_out: bool) -> str:
    """The skill worth most and what it is worth; ``stands_out``: whether that is enough to be called a focus."""
    value = focus.pins_if_class_best
    first = f"Biggest gain: {aim(focus.skill)}."
    if not stands_out:
        first = f"Nothing stands out; {aim(focus.skill)} would add most."
    odds = f"{plural(focus.shots, 'shot')}, {percent(focus.p_best)} likely to add most"
    worth = pins_a_game(value.mean, 0 if stands_out else 1)
    return f"{first} Reaching the class's best quarter is worth {worth} ({interval(value)}, {odds})."
