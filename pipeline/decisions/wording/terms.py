"""How numbers, patterns, phases and lines are put into the sentences of the decisions."""

from __future__ import annotations

from pipeline.decisions.records import Estimate
from pipeline.inference.sample_size import MOST_SHOTS
from pipeline.settings import BlockPhases
from pipeline.sport.lane import LINES, NO_LINE


def signed(value: float, digits: int = 0) -> str:
    """A number with its sign, ``+9`` or ``-3``; zero is never ``-0``."""
    text = f"{value:+.{digits}f}"
    return text if float(text) != 0 else f"{0:.{digits}f}"


def pins_a_game(value: float, digits: int = 0) -> str:
    """``+9 pins per game``."""
    text = signed(value, digits)
    return f"{text} pin per game" if abs(float(text)) == 1 else f"{text} pins per game"


def percent(probability: float) -> str:
    """A probability in whole per cent; never 0 or 100, which no finite log can show."""
    whole = round(100 * probability)
    if whole >= 100:
        return "over 99 %"
    return "under 1 %" if whole <= 0 else f"{whole} %"


def interval(value: Estimate, digits: int = 0) -> str:
    """The 80 % interval in words."""
    return f"80 % interval {signed(value.lo80, digits)} to {signed(value.hi80, digits)}"


def plural(count: int, noun: str) -> str:
    """``1 shot``, ``2 shots``."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def shots_in_words(shots: int) -> str:
    """``about 1,200 more shots``, or that more are needed than anybody logs."""
    if shots >= MOST_SHOTS:
        return f"more than {MOST_SHOTS:,} more shots"
    return f"about {shots:,} more {'shot' if shots == 1 else 'shots'}"


def on_pattern(pattern_class: str) -> str:
    """``on long patterns``."""
    return f"on {pattern_class} patterns"


def in_phase(phase: str, limits: BlockPhases) -> str:
    """The phase by its games, e.g. ``after game 4``."""
    fresh, transition = limits.fresh_to_game, limits.transition_to_game
    if phase == "fresh":
        return "in game 1" if fresh == 1 else f"in games 1 to {fresh}"
    if phase == "transition":
        first = fresh + 1
        return f"in game {first}" if first == transition else f"in games {first} to {transition}"
    return f"after game {transition}"


def with_ball(ball_name: str, line: str) -> str:
    """``the Blue Heron from the third arrow``; the line is left out if it was not logged."""
    return f"the {ball_name}" if line == NO_LINE else f"the {ball_name} from {the_line(line)}"


def the_line(line: str) -> str:
    """The line with its article."""
    return f"the {line}" if line.endswith("arrow") and line[0] not in "oi" else line


def direction(old: str, new: str) -> str:
    """``in`` toward the head pin, ``out`` toward the gutter; empty if either line was not logged."""
    if old not in LINES or new not in LINES or old == new:
        return ""
    return "in" if LINES.index(new) > LINES.index(old) else "out"


def sentence(text: str) -> str:
    """Text with a capital at its start."""
    return text[:1].upper() + text[1:]
