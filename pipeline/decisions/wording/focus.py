"""Practice focus in words."""

from __future__ import annotations

from pipeline.decisions.records import PracticeFocus
from pipeline.decisions.wording.terms import interval, percent, pins_a_game, plural

_NAMES = {
    "pocket": "hitting the pocket",
    "carry": "carry from the pocket",
    "versatility": "the weakest pattern class",
}


def skill_name(skill: str) -> str:
    """The one name of a skill wherever people read it; it also follows "practise": ``hitting the pocket``."""
    return _NAMES.get(skill, skill)


def focus_sentence(focus: PracticeFocus, stands_out: bool) -> str:
    """The skill worth most and what it is worth; ``stands_out``: whether that is enough to be called a focus."""
    value = focus.pins_if_class_best
    first = f"Biggest gain: {skill_name(focus.skill)}."
    if not stands_out:
        first = f"Nothing stands out; {skill_name(focus.skill)} would add most."
    odds = f"{plural(focus.shots, 'shot')}, {percent(focus.p_best)} likely to add most"
    worth = pins_a_game(value.mean, 0 if stands_out else 1)
    return f"{first} Reaching the class's best quarter is worth {worth} ({interval(value)}, {odds})."
