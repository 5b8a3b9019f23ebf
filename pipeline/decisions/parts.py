"""The questions of a report in parts, each answered by one process, in the order of the report.

A part asks for nothing that another computes: questions that share a costly step, if only a large library, stand
in one part, or in parts of one process. What both need is cheap, or kept with the fits. So answers are identical to the
digit, whichever process gives them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pipeline.decisions.advice.next_shots import next_shots
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.advice.practice import practice
from pipeline.decisions.arsenal.overlap import gaps, redundant_pairs
from pipeline.decisions.arsenal.strength_ladder import strength_ladder
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.arsenal.work_list import work_list
from pipeline.decisions.checks.held_out_gain import held_out_gain
from pipeline.decisions.checks.model_checks import checks_on_new_blocks, other_checks, second_way
from pipeline.decisions.last_season.changes import season_beside
from pipeline.decisions.ledger.accounts import ledger
from pipeline.decisions.ledger.blocks import block_ledgers
from pipeline.decisions.ledger.habits import costly_habits
from pipeline.decisions.left_out import Questions
from pipeline.decisions.plan.block_plan import default_plans
from pipeline.decisions.records import LeftOut
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
from pipeline.decisions.wording.questions import Stage
from pipeline.models.fitted import Fitted

Who = Literal["first", "second", "either"]
"""Which process answers: the first, the second if there is one, or whichever comes to it first."""
Fields = dict[str, Any]


@dataclass(frozen=True)
class Answered:
    """Answers by field of ``Decisions``, and the questions left out."""

    fields: Mapping[str, Any]
    left_out: list[LeftOut]

    @classmethod
    def joined(cls, several: Iterable[Answered]) -> Answered:
        """The answers of several parts; lists of the same field are concatenated."""
        fields: Fields = {}
        left_out: list[LeftOut] = []
        for one in several:
            for name, value in one.fields.items():
                fields[name] = [*fields[name], *value] if name in fields else value
            left_out += one.left_out
        return cls(fields, left_out)


@dataclass(frozen=True)
class Part:
    """Questions answered together; ``stage`` is shown meanwhile."""

    stage: Stage
    who: Who
    answer: Callable[[Fitted, Questions], Fields]

    def answered(self, fitted: Fitted) -> Answered:
        """The answers."""
        asked = Questions()
        fields = self.answer(fitted, asked)
        return Answered(fields, asked.left_out)


def _season(fitted: Fitted, asked: Questions) -> Fields:
    return {"summary": summarise_season(fitted)}


def _choices(fitted: Fitted, asked: Questions) -> Fields:
    combos, advice = asked.ask("playbook", lambda: playbook(fitted), ([], []))
    return {"combos": combos, "playbook": advice}


def _transition(fitted: Fitted, asked: Questions) -> Fields:
    curves, crossings = asked.ask("curves", lambda: transition(fitted), ([], []))
    return {"leads": asked.ask("leads", lambda: leads(fitted), []), "curves": curves, "crossings": crossings}


def _lane(fitted: Fitted, asked: Questions) -> Fields:
    moves = asked.ask("line_moves", lambda: line_moves(fitted), [])
    return {"line_moves": moves, "paths": asked.ask("paths", lambda: lane_paths(fitted), [])}


def _arsenal(fitted: Fitted, asked: Questions) -> Fields:
    ask = asked.ask
    return {
        "arsenal": ask("arsenal", lambda: arsenal(fitted), []),
        "arsenal_tasks": ask("work_list", lambda: work_list(fitted), []),
        "redundant": ask("redundant", lambda: redundant_pairs(fitted), []),
        "gaps": ask("gaps", lambda: gaps(fitted), []),
    }


def _ladder(fitted: Fitted, asked: Questions) -> Fields:
    return {"ladder": asked.ask("ladder", lambda: strength_ladder(fitted), [])}


def _ball_changes(fitted: Fitted, asked: Questions) -> Fields:
    changes, in_all = asked.ask("ball_changes", lambda: ball_changes(fitted), ([], []))
    return {"changes": changes, "changes_in_all": in_all}


def _students(fitted: Fitted, asked: Questions) -> Fields:
    skills, comparisons, focus = asked.ask("skills", lambda: students(fitted), ([], [], []))
    beside = asked.ask("season_beside", lambda: season_beside(fitted), [])
    return {"skills": skills, "comparisons": comparisons, "focus": focus, "season_beside": beside}


def _rules_of_thumb(fitted: Fitted, asked: Questions) -> Fields:
    return {"maxims": asked.ask("rules_of_thumb", lambda: maxims(fitted), [])}


def _plans(fitted: Fitted, asked: Questions) -> Fields:
    ask = asked.ask
    return {
        "plans": ask("plans", lambda: default_plans(fitted), []),
        "next_shots": ask("next_shots", lambda: next_shots(fitted), []),
        "practice": ask("practice", lambda: practice(fitted), []),
    }


def _leaves_and_entry(fitted: Fitted, asked: Questions) -> Fields:
    leaves = asked.ask("leaves", lambda: leave_shares(fitted), [])
    return {"leaves": leaves, "entry": asked.ask("entry", lambda: entry_points(fitted), [])}


def _ledger(fitted: Fitted, asked: Questions) -> Fields:
    ask = asked.ask
    return {
        "ledger": ask("ledger", lambda: ledger(fitted), []),
        "ledger_blocks": ask("block_levels", lambda: block_ledgers(fitted), []),
        "habits": ask("habits", lambda: costly_habits(fitted), []),
    }


def _new_blocks(fitted: Fitted, asked: Questions) -> Fields:
    checks, calibration = checks_on_new_blocks(fitted, asked)
    gained = asked.ask("held_out", lambda: held_out_gain(fitted), [])
    sensitivity = asked.ask("second_way", lambda: second_way(fitted), [])
    return {"checks": checks, "calibration": calibration, "held_out": gained, "sensitivity": sensitivity}


def _other_checks(fitted: Fitted, asked: Questions) -> Fields:
    return {"checks": other_checks(fitted, asked)}


PARTS: tuple[Part, ...] = (
    Part("season", "first", _season),
    Part("choices", "first", _choices),
    Part("transition", "first", _transition),
    Part("transition", "either", _lane),
    Part("arsenal", "first", _arsenal),
    Part("arsenal", "either", _ladder),
    Part("transition", "either", _ball_changes),
    Part("students", "first", _students),
    Part("rules_of_thumb", "first", _rules_of_thumb),
    Part("plans", "first", _plans),
    Part("leaves_and_entry", "either", _leaves_and_entry),
    Part("ledger_and_checks", "second", _ledger),
    Part("ledger_and_checks", "either", _new_blocks),
    Part("ledger_and_checks", "either", _other_checks),
)
"""All parts, in the order the report tells them."""
_LONGEST_FIRST = (_new_blocks, _ball_changes, _other_checks, _leaves_and_entry, _ladder, _lane)
EITHER: tuple[int, ...] = tuple(sorted(
    (place for place, part in enumerate(PARTS) if part.who == "either"),
    key=lambda place: _LONGEST_FIRST.index(PARTS[place].answer),
))  # fmt: skip
"""Places in ``PARTS`` of those for either process, longest first, so that both end at about the same time."""
