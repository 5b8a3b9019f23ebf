"""Overlap in the bag in words: balls that do the same job, and where nothing works."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.decisions.records import ArsenalGap
from pipeline.decisions.wording.terms import in_phase, interval, on_pattern, percent, plural
from pipeline.settings import BlockPhases
from pipeline.sport.classes import PATTERN_CLASSES


def pair_sentence(balls: tuple[str, str], p_same: float, likely: bool, within: float, shared: Sequence[str]) -> str:
    """That two balls likely do the same job, or that no two do and these come closest.

    ``p_same``: probability that they differ by under ``within`` pins per game on the pattern classes ``shared``.
    """
    both = f"{balls[0]} and {balls[1]}"
    closest = f"No two balls likely do the same job; {both} come closest"
    what = f"{both} likely do the same job" if likely else closest
    return (
        f"{what}. They differ by under {within:.0f} pins per game on {_classes(shared)} patterns "
        f"with probability {percent(p_same)}."
    )


def gap_sentence(gap: ArsenalGap, limits: BlockPhases) -> str:
    """That nothing in the bag may work in a cell, and how sure."""
    return (
        f"Perhaps nothing in the bag works {on_pattern(gap.pattern_class)} {in_phase(gap.phase, limits)}. "
        f"The best choice is below the bowler's own average with probability {percent(gap.probability)} "
        f"({interval(gap.best_worth)} pins per game, {plural(gap.shots, 'shot')})."
    )


def _classes(kinds: Sequence[str]) -> str:
    """Pattern classes in words, short to long, then what was not posted."""
    known = [kind for kind in PATTERN_CLASSES if kind in kinds]
    names = known + [kind for kind in kinds if kind not in known]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
