"""Sentences about the ledger."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.decisions.records import CostlyHabit, Estimate, LedgerPart
from pipeline.decisions.wording.terms import percent, signed, the_line

PART_WORDS: dict[str, str] = {
    "lane": "lanes",
    "ball": "ball choice",
    "line": "line",
    "entry": "entry",
    "carry": "carry",
    "entry and carry": "entry and carry",
    "leave": "leaves",
    "spare": "spares",
    "foul": "fouls",
    "order": "luck of the order",
}
"""Parts as sentences name them."""
_LEAST = 0.5  # pins per game that a part must come to before a sentence names it
_MOST = 3  # parts a sentence names


def block_sentence(
    scored: float, expected: float, parts: Sequence[LedgerPart], level: Estimate, percentile: float
) -> str:
    """A block's score, its sources, and how much of it was luck."""
    return f"{where_it_came_from(scored, expected, parts)} {_luck(level, percentile)}"


def where_it_came_from(scored: float, expected: float, parts: Sequence[LedgerPart]) -> str:
    """A block's score against the expected one, by its largest parts."""
    apart = round(scored) - round(expected)
    over = f"{expected:.0f} expected" if apart == 0 else f"{abs(apart)} {'over' if apart > 0 else 'under'} expectation"
    named = sorted((part for part in parts if abs(part.pins.mean) >= _LEAST), key=lambda part: -abs(part.pins.mean))
    pieces = [f"{signed(part.pins.mean)} {PART_WORDS[part.part]}" for part in named[:_MOST]]
    rest = apart - sum(round(part.pins.mean) for part in named[:_MOST])
    if pieces and rest:
        pieces.append(f"{signed(rest)} the rest")
    return f"{scored:.0f} per game, {over}{': ' + ', '.join(pieces) if pieces else ''}."


def _luck(level: Estimate, percentile: float) -> str:
    shots = f"The same shots score {level.mean:.0f} on average ({level.lo80:.0f} to {level.hi80:.0f})"
    if percentile >= 0.5:
        return f"{shots}, and less than this {percent(percentile)} of the time."
    return f"{shots}, and more than this {percent(1 - percentile)} of the time."


def habit_sentence(habit: CostlyHabit) -> str:
    """A habit and its cost."""
    return f"{_what(habit)} cost about {-habit.pins.mean:.1f} pins per game over the season, {_beside(habit)}."


def _what(habit: CostlyHabit) -> str:
    where = f"on {habit.pattern_class} patterns ({habit.phase})"
    if habit.part == "ball":
        return f"Throwing {habit.ball_name} {where}"
    if habit.part == "line":
        return f"Playing {the_line(habit.line or '')} {where}"
    if habit.part == "entry":
        return "The entry into the pins"
    return f"Missed spares ({habit.leave_type})"


def _beside(habit: CostlyHabit) -> str:
    if habit.against == "class":
        return "compared with the class's average bowler"
    return "compared with your usual choices there"
