"""What the bowler throws now on patterns of a class: balls and shares, which a plan's gain is counted from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from pipeline.decisions.candidates import ChoiceRow, candidates
from pipeline.decisions.plan.choices import OwnMix, choices
from pipeline.decisions.records import PHASES
from pipeline.models.fitted import Fitted


def own_mix(fitted: Fitted, bowler: str, pattern_class: str, compared: list[ChoiceRow]) -> OwnMix:
    """The mix in the period reported; of a phase without a shot in it, that of the whole log, else of the class.

    On a class that the bowler never bowled on, the mix is of the lines ``compared``, thrown on other classes.
    """
    options = candidates(fitted)
    in_cells: dict[str, list[ChoiceRow]] = {
        phase: [options.choices[int(i)] for i in options.places[bowler, pattern_class, phase]]
        for phase in PHASES
        if (bowler, pattern_class, phase) in options.places
    }
    counts = {phase: _shots(rows, "shots_now") or _shots(rows, "shots") for phase, rows in in_cells.items()}
    if not any(counts.values()):
        counts = {phase: _thrown(compared, phase) for phase in PHASES}
    balls = {row["ball"] for row in compared}
    more = frozenset(ball for of_phase in counts.values() for ball in of_phase) - balls
    return OwnMix(
        _shares(counts),
        {
            phase: {
                str(options.choices[int(i)]["ball"]): options.drawn_in_by(int(i), line_kept=False)
                for i in options.places[bowler, pattern_class, phase]
            }
            for phase in in_cells
        },
        choices(fitted, bowler, pattern_class, more) if more else [],
    )


def _shots(rows: list[ChoiceRow], counted: str) -> Counter[str]:
    counts: Counter[str] = Counter()
    for row in rows:
        counts[str(row["ball"])] += int(row[counted])
    return +counts


def _thrown(rows: list[ChoiceRow], phase: str) -> Counter[str]:
    counts: Counter[str] = Counter()
    for row in rows:
        counts[str(row["ball"])] += int(row["in_phase"][phase])
    return +counts


def _shares(counts: Mapping[str, Counter[str]]) -> dict[str, dict[str, float]]:
    """Shares by phase; a phase without a shot has those of all phases together."""
    in_all: Counter[str] = sum(counts.values(), Counter())
    of_phase = {phase: counts.get(phase) or in_all for phase in PHASES}
    return {phase: {ball: n / balls.total() for ball, n in balls.items()} for phase, balls in of_phase.items()}
