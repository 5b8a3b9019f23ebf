"""Every decision of one season, in the order the report tells them."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.decisions.advice.next_shots import next_shots
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.arsenal.overlap import gaps, redundant_pairs
from pipeline.decisions.arsenal.strength_ladder import strength_ladder
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.checks.model_checks import model_checks
from pipeline.decisions.plan.block_plan import default_plans
from pipeline.decisions.records import Decisions
from pipeline.decisions.rules_of_thumb.trials import maxims
from pipeline.decisions.season.entry import entry_points
from pipeline.decisions.season.leaves import leave_shares
from pipeline.decisions.season.summary import summarise_season
from pipeline.decisions.students.comparison import students
from pipeline.decisions.transition.ball_changes import ball_changes
from pipeline.decisions.transition.curves import transition
from pipeline.decisions.transition.line_moves import line_moves
from pipeline.models.fits import Fits
from pipeline.store.season import Season

Progress = Callable[[str, float], None]


def decide(season: Season, fits: Fits, title: str, progress: Progress | None = None) -> Decisions:
    """Answer everything; ``progress`` is told each part and the share of the whole done before it.

    Raises:
        EmptySeasonError: no delivery was loaded.
    """
    tell = progress or (lambda _text, _share: None)
    tell("season", 0.0)
    summary = summarise_season(season, fits)
    tell("playbook", 0.05)
    combos, advice = playbook(season, fits)
    tell("transition", 0.2)
    curves, crossings = transition(season, fits)
    moves = line_moves(season, fits)
    tell("arsenal", 0.35)
    balls, pairs, holes = arsenal(season, fits), redundant_pairs(season, fits), gaps(season, fits)
    ladder = strength_ladder(season, fits)
    changes, changes_in_all = ball_changes(season, fits)
    tell("students", 0.5)
    skills, comparisons, focus = students(season, fits)
    tell("rules of thumb", 0.6)
    trials = maxims(season, fits)
    tell("plans", 0.7)
    plans, questions = default_plans(season, fits), next_shots(season, fits)
    tell("leaves and entry", 0.8)
    leaves, entry = leave_shares(season, fits), entry_points(season, fits)
    tell("checks of the models", 0.85)
    checks, calibration, sensitivity = model_checks(season, fits)
    return Decisions(
        title=title,
        summary=summary,
        combos=combos,
        playbook=advice,
        curves=curves,
        crossings=crossings,
        line_moves=moves,
        arsenal=balls,
        redundant=pairs,
        gaps=holes,
        ladder=ladder,
        changes=changes,
        changes_in_all=changes_in_all,
        skills=skills,
        comparisons=comparisons,
        focus=focus,
        maxims=trials,
        plans=plans,
        next_shots=questions,
        leaves=leaves,
        entry=entry,
        calibration=calibration,
        checks=checks,
        sensitivity=sensitivity,
    )
