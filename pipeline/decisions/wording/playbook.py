"""The playbook in words: what to throw in a cell and how sure, and why nothing is advised for the next phase."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.decisions.records import ComboWorth, Settledness
from pipeline.decisions.wording.terms import (
    in_phase,
    interval,
    on_pattern,
    percent,
    pins_a_game,
    plural,
    sentence,
    shots_in_words,
    with_ball,
)
from pipeline.settings import BlockPhases


@dataclass(frozen=True)
class Ranking:
    """How the choices of one cell compare.

    Attributes:
        verdict: how settled the choice is.
        shots_needed: about how many more shots settle it, or let a first or a second choice be ranked.
        best: the first of those ranked.
        rivals: those ranked behind it that may still be the best; ``shots_needed`` is split between them and ``best``.
        nearest: the unranked choice that needs the fewest shots; None if nothing else was thrown.
        above: an unranked choice priced above ``best``; None if there is none.
    """

    verdict: Settledness
    shots_needed: int
    best: ComboWorth | None = None
    rivals: Sequence[ComboWorth] = ()
    nearest: ComboWorth | None = None
    above: ComboWorth | None = None


def advice_sentence(pattern_class: str, phase: str, limits: BlockPhases, ranking: Ranking) -> str:
    """The whole advice for a cell."""
    cell = sentence(f"{on_pattern(pattern_class)} {in_phase(phase, limits)}")
    return f"{cell}, {_compared(ranking)}"


def _compared(ranking: Ranking) -> str:
    best = ranking.best
    if best is None:
        return f"no ball and line has enough shots yet.{_next_ranked(ranking.nearest)}"
    if ranking.verdict == "not compared":
        nothing = ranking.nearest is None
        why = "Nothing else was thrown." if nothing else "Nothing else has enough shots to compare it with."
        return f"{_worth(best)}. {why}{_next_ranked(ranking.nearest)}"
    better = "" if ranking.above is None else f" {_looks_better(ranking.above)}"
    if ranking.verdict == "settled":
        return f"{_worth(best)}.{better}"
    return f"{_worth(best)}. {_not_settled(best, ranking.rivals, ranking.shots_needed)}{better}"


def _worth(best: ComboWorth) -> str:
    likely = "" if best.p_best is None else f", {percent(best.p_best)} likely the best"
    evidence = f"({interval(best.worth)}, {plural(best.shots, 'shot')}{likely})"
    return f"{with_ball(best.ball_name, best.line)} was worth {pins_a_game(best.worth.mean)} {evidence}"


def _not_settled(best: ComboWorth, rivals: Sequence[ComboWorth], more: int) -> str:
    second = rivals[0]
    ahead = round(best.worth.mean - second.worth.mean)
    behind = f"only {plural(ahead, 'pin')} behind" if ahead > 0 else "level with it"
    sharing = "the two" if len(rivals) == 1 else f"the {1 + len(rivals)} leading choices"
    more_shots = sentence(f"{shots_in_words(more)}, split between {sharing},")
    tells = f"{more_shots} would settle it or show no practical difference."
    tells = tells if more else "Knowing which is better would gain less than a pin per game."
    return f"Not settled: {with_ball(second.ball_name, second.line)} is {behind}. {tells}"


def _looks_better(above: ComboWorth) -> str:
    return (
        f"{sentence(with_ball(above.ball_name, above.line))} may be better still ({pins_a_game(above.worth.mean)} on "
        f"{plural(above.shots, 'shot')}). {sentence(shots_in_words(above.shots_needed))} would allow a comparison."
    )


def why_neither(phase: str, limits: BlockPhases, compared: bool, nearest: ComboWorth | None) -> str:
    """Why neither a move nor a change is advised into ``phase``, and what shots there would help.

    ``compared``: whether another choice is ranked there; ``nearest`` as in ``Ranking``.
    """
    when = sentence(in_phase(phase, limits))
    if compared:
        return f"{when} stay: no move and no change is likely enough to gain."
    return f"{when} nothing else has enough shots to be compared.{_next_ranked(nearest)}"


def _next_ranked(nearest: ComboWorth | None) -> str:
    if nearest is None:
        return ""
    more = sentence(shots_in_words(nearest.shots_needed))
    return f" {more} with {with_ball(nearest.ball_name, nearest.line)} would allow a comparison."
