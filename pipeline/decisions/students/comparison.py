"""Students compared: adjusted skills, who is better at what, and the one focus worth most pins."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from pipeline.arrays import Draws
from pipeline.decisions.candidates import Candidates, some_at_a_time
from pipeline.decisions.estimates import estimate, estimates
from pipeline.decisions.records import Estimate, PracticeFocus, SkillComparison, SkillEstimate
from pipeline.decisions.students.focus import focus_of, win_back
from pipeline.decisions.students.overall_rates import whole_skills
from pipeline.models.fitted import Fitted, once
from pipeline.models.skills.accuracy import accuracy, step_table
from pipeline.models.skills.skill import SkillDraws, carry_rate, pocket_cells, pocket_rate, spare_cells, spare_rate
from pipeline.store.period import nights


@dataclass(frozen=True)
class _SkillKind:
    unit: str
    higher_is_better: bool
    scale: float  # from the draws' unit to the unit shown


KINDS: dict[str, _SkillKind] = {
    "strikes": _SkillKind("%", True, 100),
    "pocket": _SkillKind("%", True, 100),
    "carry": _SkillKind("%", True, 100),
    "spares": _SkillKind("%", True, 100),
    "single-pin spares": _SkillKind("%", True, 100),
    "multi-pin spares": _SkillKind("%", True, 100),
    "accuracy at the arrows": _SkillKind("boards", False, 1),
    "accuracy at the pocket": _SkillKind("boards", False, 1),
    "versatility": _SkillKind("pins", True, 1),
}


def students(fitted: Fitted) -> tuple[list[SkillEstimate], list[SkillComparison], list[PracticeFocus]]:
    """Skills, pairwise comparisons, and the practice focus of every bowler.

    A skill appears for the bowlers who logged what it needs: pocket, carry and accuracy need boards, versatility needs
    two pattern classes. Versatility is the worth of the bowler's worst pattern class against the own average. The class
    is everybody, whoever is reported.
    """
    skills, reported = skill_draws(fitted), frozenset(fitted.fits.mix.shots)
    gains = win_back(fitted, skills)
    drawn = skills | wholes_of_nights(fitted, nights(fitted.season.period))
    shown = {skill: drawn[skill] for skill in KINDS if skill in drawn}
    row_dicts = [record for skill, draws in shown.items() for record in _records(skill, draws, reported, gains)]
    compared = [record for skill, draws in shown.items() for record in _comparisons(skill, draws, reported)]
    return row_dicts, compared, focus_of(gains, skills)


def skill_draws(fitted: Fitted) -> dict[str, SkillDraws]:
    """Posterior draws of every skill that can be measured, in the season's period."""
    return skills_of_nights(fitted, nights(fitted.season.period))


@once(of=Fitted.everybody)
def skills_of_nights(fitted: Fitted, _nights: str) -> dict[str, SkillDraws]:
    """Everybody's skills; ``_nights`` names the nights they are kept for."""
    drawn = rates_and_spreads(fitted)
    versatile = _versatility_of_all(fitted)
    return drawn if versatile is None else drawn | {"versatility": versatile}


@once(of=Fitted.everybody)
def wholes_of_nights(fitted: Fitted, _nights: str) -> dict[str, SkillDraws]:
    """Everybody's strikes and spares as a whole; ``_nights`` as in ``skills_of_nights``."""
    return whole_skills(fitted, skills_of_nights(fitted, _nights))


def rates_and_spreads(fitted: Fitted) -> dict[str, SkillDraws]:
    """Draws of the skills that change over the thirds of ``season_thirds``, fitted now."""
    n = fitted.fits.n_draws
    pockets, spares, steps = pocket_cells(fitted.season), spare_cells(fitted.season), step_table(fitted.season)
    drawn = {
        "pocket": pocket_rate(pockets, n, fitted.fits.generator("skill pocket")),
        "carry": carry_rate(pockets, n, fitted.fits.generator("skill carry")),
        "single-pin spares": spare_rate(spares[spares["single"]], n, fitted.fits.generator("skill single")),
        "multi-pin spares": spare_rate(spares[~spares["single"]], n, fitted.fits.generator("skill multi")),
        "accuracy at the arrows": accuracy(steps, "arrow", n, fitted.fits.generator("skill arrow")),
        "accuracy at the pocket": accuracy(steps, "entry", n, fitted.fits.generator("skill entry")),
    }
    return {skill: draws for skill, draws in drawn.items() if draws is not None}


def _versatility_of_all(fitted: Fitted) -> SkillDraws | None:
    parts = [part for part in map(versatility, some_at_a_time(fitted)) if part is not None]
    if not parts:
        return None
    bowlers = [bowler for part in parts for bowler in part.bowlers]
    shots = {bowler: count for part in parts for bowler, count in part.shots.items()}
    return SkillDraws(bowlers, np.column_stack([part.value for part in parts]), {}, shots)


def versatility(options: Candidates) -> SkillDraws | None:
    """Worth of each bowler's worst pattern class, at the bowler's own mix there; None if nobody has two classes."""
    rows = options.rows[(options.rows["shots"] > 0) & (options.rows["pattern_class"] != "unposted")]
    bowlers, columns, shots = [], [], {}
    for bowler, bowler_rows in rows.groupby("bowler", sort=True):
        classes = [group for _, group in bowler_rows.groupby("pattern_class")]
        if len(classes) < 2:
            continue
        worth = [_class_worth(options.priced.pins, group) for group in classes]
        columns.append(np.min(worth, axis=0))
        bowlers.append(str(bowler))
        shots[str(bowler)] = int(bowler_rows["shots"].sum())
    return SkillDraws(bowlers, np.column_stack(columns), {}, shots) if bowlers else None


def _class_worth(pins: Draws, group: pd.DataFrame) -> Draws:
    weight = group["shots"].to_numpy(dtype=float)
    result: Draws = pins[:, group.index.to_numpy()] @ (weight / weight.sum())
    return result


def _records(
    skill: str, draws: SkillDraws, reported: frozenset[str], gains: dict[str, dict[str, Draws]]
) -> list[SkillEstimate]:
    kind = KINDS[skill]
    values = draws.value * kind.scale
    average = values.mean(axis=1)
    better = (values > average[:, None]) if kind.higher_is_better else (values < average[:, None])
    alone = len(draws.bowlers) == 1
    changes = [change.mean() * kind.scale for change in draws.progress.values()]
    return [
        SkillEstimate.model_validate(
            {
                "bowler": bowler,
                "skill": skill,
                "unit": kind.unit,
                "higher_is_better": kind.higher_is_better,
                "value": value,
                "class_average": float(average.mean()),
                "p_above_average": 0.5 if alone else float(better[:, k].mean()),
                "progress": estimate(draws.progress[bowler] * kind.scale) if bowler in draws.progress else None,
                "class_progress": float(np.mean(changes)) if changes else None,
                **_won_back(gains.get(bowler, {}).get(skill)),
                "shots": draws.shots[bowler],
            }
        )
        for k, (bowler, value) in enumerate(zip(draws.bowlers, estimates(values), strict=True))
        if bowler in reported
    ]


def _won_back(gains: Draws | None) -> dict[str, Estimate | float | None]:
    """Pins of reaching the class's upper quartile, and how likely the bowler is below it."""
    if gains is None:
        return {"pins_to_win_back": None, "p_win_back": None}
    return {"pins_to_win_back": estimate(gains), "p_win_back": float((gains > 0).mean())}


def _comparisons(skill: str, draws: SkillDraws, reported: frozenset[str]) -> list[SkillComparison]:
    kind = KINDS[skill]
    values = draws.value * kind.scale * (1 if kind.higher_is_better else -1)
    result = []
    for a, b in combinations([k for k, bowler in enumerate(draws.bowlers) if bowler in reported], 2):
        difference = values[:, a] - values[:, b]
        better, other = (a, b) if (difference > 0).mean() >= 0.5 else (b, a)
        in_favour = values[:, better] - values[:, other]
        result.append(
            SkillComparison(
                skill=skill,
                better=draws.bowlers[better],
                other=draws.bowlers[other],
                difference=estimate(in_favour),
                probability=float((in_favour > 0).mean()),
                shots=min(draws.shots[draws.bowlers[better]], draws.shots[draws.bowlers[other]]),
            )
        )
    return result
