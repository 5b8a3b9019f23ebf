"""What the bowler throws now on patterns of a class: balls and shares, which a plan's gain is counted from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from pipeline.decisions.candidates import CellKey, ChoiceRow, candidates
from pipeline.decisions.plan.choices import OwnMix, choices
from pipeline.decisions.records import PHASES
from pipeline.models.fitted import Fitted


def own_mix(fitted: Fitted, bowler: str, pattern_class: str, compared: list[ChoiceRow]) -> OwnMix:
    """The mix in the period reported; of a phase without a shot in it, that of the whole log, else of the class.

    On a class that the bowler never bowled on, the mix is of the lines ``compared``, thrown on other classes.
    """
    options = candidates(fitted)
    cells: dict[str, CellKey] = {
        phase: cell for phase in PHASES if (cell := (bowler, pattern_class, phase)) in options.places
    }
    balls = {phase: [str(options.choices[i]["ball"]) for i in options.places[cell]] for phase, cell in cells.items()}
    counts = {phase: _counted(balls[phase], options.shots_thrown(cell)) for phase, cell in cells.items()}
    if not any(counts.values()):
        names = [str(row["ball"]) for row in compared]
        counts = {phase: _counted(names, (row["in_phase"][phase] for row in compared)) for phase in PHASES}
    drawn_in = {
        phase: {
            ball: options.drawn_in_by(int(i), line_kept=False)
            for ball, i in zip(balls[phase], options.places[cell], strict=True)
        }
        for phase, cell in cells.items()
    }
    more = frozenset[str]().union(*counts.values()) - {row["ball"] for row in compared}
    return OwnMix(_shares(counts), drawn_in, choices(fitted, bowler, pattern_class, more) if more else [])


def _counted(balls: Iterable[str], shots: Iterable[int]) -> Counter[str]:
    """Shots by ball, of those with any."""
    counts: Counter[str] = Counter()
    for ball, number in zip(balls, shots, strict=True):
        counts[ball] += int(number)
    return +counts


def _shares(counts: Mapping[str, Counter[str]]) -> dict[str, dict[str, float]]:
    """Shares by phase; a phase without a shot has those of all phases together."""
    in_all: Counter[str] = sum(counts.values(), Counter())
    of_phase = {phase: counts.get(phase) or in_all for phase in PHASES}
    return {phase: {ball: n / balls.total() for ball, n in balls.items()} for phase, balls in of_phase.items()}
