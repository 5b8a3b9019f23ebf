"""Every decision of one season, in the order the report tells them.

The ledger and the checks ask nothing of the other questions, so a second process may answer them meanwhile. The answers
are the same to the digit whoever gives them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from pydantic import ValidationError

from pipeline.decisions.advice.next_shots import next_shots
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.advice.practice import practice
from pipeline.decisions.arsenal.overlap import gaps, redundant_pairs
from pipeline.decisions.arsenal.strength_ladder import strength_ladder
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.arsenal.work_list import work_list
from pipeline.decisions.beside.changes import season_beside
from pipeline.decisions.checks.held_out_gain import held_out_gain
from pipeline.decisions.checks.model_checks import model_checks
from pipeline.decisions.guard import Answers
from pipeline.decisions.ledger.accounts import ledger
from pipeline.decisions.ledger.blocks import block_ledgers
from pipeline.decisions.ledger.habits import costly_habits
from pipeline.decisions.plan.block_plan import default_plans
from pipeline.decisions.records import Decisions, LeftOut
from pipeline.decisions.rules_of_thumb.trials import maxims
from pipeline.decisions.season.entry import entry_points
from pipeline.decisions.season.leaves import leave_shares
from pipeline.decisions.season.summary import summarise_season
from pipeline.decisions.students.comparison import students
from pipeline.decisions.transition.ball_changes import ball_changes
from pipeline.decisions.transition.curves import transition
from pipeline.decisions.transition.lane_paths import lane_paths
from pipeline.decisions.transition.leads import leads
from pipeline.decisions.transition.line_moves import line_moves
from pipeline.decisions.wording.names import Names, named
from pipeline.decisions.wording.questions import Stage, stage_text
from pipeline.models.fitted import Fitted
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store.shelf import Shelf


@dataclass(frozen=True)
class Answered:
    """Answers by the field of ``Decisions`` they belong to, and the questions that had none."""

    fields: Mapping[str, Any]
    left_out: list[LeftOut]


def decide(fitted: Fitted, title: str, progress: Progress | None = None) -> Decisions:
    """Answer everything, with real names; arguments and errors as in ``answers``."""
    return named(answers(fitted, title, progress), names_of(fitted))


def names_of(fitted: Fitted) -> Names:
    """The real names of everybody and everything loaded."""
    return Names.of(fitted.everybody().season)


def answers(fitted: Fitted, title: str, progress: Progress | None = None) -> Decisions:
    """Answer everything, names left to be put in; ``progress`` is called with each part and the share done before it.

    A question whose numbers cannot be computed is left out with its reason, and the others stand. What is decided about
    everybody and all nights is kept with the fits. If ``fitted`` says so, a second process answers
    ``ledger_and_checks``, which is waited for at the end.

    Raises:
        EmptySeasonError: no delivery was loaded.
    """
    shelf = fitted.fits.shelf
    if shelf is None:
        return _answered(fitted, title, progress)
    name = _name(fitted.fits.settings)
    kept, text = shelf.take(name)
    decided = _read(text) if kept else None
    if decided is None:
        decided = _answered(fitted, title, progress)
        if not decided.left_out:
            shelf.later[name] = partial(_text_of, decided)
    return decided.model_copy(update={"title": title})


def decisions_are_kept(shelf: Shelf, settings: Settings) -> bool:
    """Whether what is decided about everybody and all nights was kept with the fits of this shelf."""
    return shelf.holds(_name(settings))


def _name(settings: Settings) -> str:
    # Fits kept serve whatever a report is about, decisions do not: all settings are in the name.
    return f"decisions, {hashlib.sha256(settings.model_dump_json().encode()).hexdigest()}"


def _text_of(decided: Decisions) -> str | None:
    """The decisions as text, None if they would not be the same when read again."""
    text = decided.model_dump_json()
    return text if _read(text) == decided else None


def _read(text: str) -> Decisions | None:
    try:
        return Decisions.model_validate_json(text)
    except ValidationError:
        return None


def _answered(fitted: Fitted, title: str, progress: Progress | None) -> Decisions:
    first = _first_answers(fitted, progress)
    rest = ledger_and_checks(fitted) if fitted.beside is None else fitted.beside()
    return Decisions(title=title, left_out=[*first.left_out, *rest.left_out], **first.fields, **rest.fields)


def ledger_and_checks(fitted: Fitted) -> Answered:
    """Where the pins went, and how far the models hold: what no other question asks for."""
    asked = Answers()
    ask = asked.ask
    accounts = ask("ledger", lambda: ledger(fitted), [])
    blocks = ask("block_levels", lambda: block_ledgers(fitted), [])
    habits = ask("habits", lambda: costly_habits(fitted), [])
    checks, calibration, sensitivity = model_checks(fitted, asked)
    gained = ask("held_out", lambda: held_out_gain(fitted), [])
    fields = {
        "ledger": accounts,
        "ledger_blocks": blocks,
        "habits": habits,
        "calibration": calibration,
        "checks": checks,
        "sensitivity": sensitivity,
        "held_out": gained,
    }
    return Answered(fields, asked.left_out)


def _first_answers(fitted: Fitted, progress: Progress | None) -> Answered:
    def tell(stage: Stage, share: float) -> None:
        if progress is not None:
            progress(stage_text(stage), share)

    asked = Answers()
    ask = asked.ask
    tell("season", 0.0)
    summary = summarise_season(fitted)
    tell("choices", 0.05)
    combos, advice = ask("playbook", lambda: playbook(fitted), ([], []))
    tell("transition", 0.2)
    curves, crossings = ask("curves", lambda: transition(fitted), ([], []))
    led = ask("leads", lambda: leads(fitted), [])
    moves = ask("line_moves", lambda: line_moves(fitted), [])
    paths = ask("paths", lambda: lane_paths(fitted), [])
    tell("arsenal", 0.35)
    balls = ask("arsenal", lambda: arsenal(fitted), [])
    tasks = ask("work_list", lambda: work_list(fitted), [])
    pairs = ask("redundant", lambda: redundant_pairs(fitted), [])
    holes = ask("gaps", lambda: gaps(fitted), [])
    ladder = ask("ladder", lambda: strength_ladder(fitted), [])
    changes, changes_in_all = ask("ball_changes", lambda: ball_changes(fitted), ([], []))
    tell("students", 0.5)
    skills, comparisons, focus = ask("skills", lambda: students(fitted), ([], [], []))
    tell("rules_of_thumb", 0.6)
    beside = ask("season_beside", lambda: season_beside(fitted), [])
    trials = ask("rules_of_thumb", lambda: maxims(fitted), [])
    tell("plans", 0.7)
    plans = ask("plans", lambda: default_plans(fitted), [])
    questions = ask("next_shots", lambda: next_shots(fitted), [])
    sessions = ask("practice", lambda: practice(fitted), [])
    tell("leaves_and_entry", 0.8)
    leaves = ask("leaves", lambda: leave_shares(fitted), [])
    entry = ask("entry", lambda: entry_points(fitted), [])
    tell("ledger_and_checks", 0.85)
    fields = {
        "summary": summary,
        "combos": combos,
        "playbook": advice,
        "leads": led,
        "curves": curves,
        "crossings": crossings,
        "line_moves": moves,
        "paths": paths,
        "arsenal": balls,
        "arsenal_tasks": tasks,
        "redundant": pairs,
        "gaps": holes,
        "ladder": ladder,
        "changes": changes,
        "changes_in_all": changes_in_all,
        "skills": skills,
        "comparisons": comparisons,
        "focus": focus,
        "season_beside": beside,
        "maxims": trials,
        "plans": plans,
        "next_shots": questions,
        "practice": sessions,
        "leaves": leaves,
        "entry": entry,
    }
    return Answered(fields, asked.left_out)
