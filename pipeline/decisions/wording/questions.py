"""The questions and the stages of a report in words, and why a question has no answer."""

from __future__ import annotations

from typing import Literal

Question = Literal[
    "playbook",
    "curves",
    "leads",
    "line_moves",
    "paths",
    "arsenal",
    "work_list",
    "redundant",
    "gaps",
    "ladder",
    "ball_changes",
    "skills",
    "season_beside",
    "rules_of_thumb",
    "plans",
    "next_shots",
    "practice",
    "leaves",
    "entry",
    "ledger",
    "block_levels",
    "habits",
    "held_out",
    "new_blocks",
    "streaks",
    "strike_runs",
    "replicated_entry",
    "replicated_leaves",
    "second_way",
]
Stage = Literal[
    "season",
    "choices",
    "transition",
    "arsenal",
    "students",
    "rules_of_thumb",
    "plans",
    "leaves_and_entry",
    "ledger_and_checks",
    "ledger",
]

_QUESTIONS: dict[Question, str] = {
    "playbook": "best choice by phase",
    "curves": "worth over the block",
    "leads": "what leads at each game",
    "line_moves": "moves of the line",
    "paths": "paths down the lane",
    "arsenal": "ball care",
    "work_list": "work list of balls",
    "redundant": "balls of one job",
    "gaps": "gaps in the bag",
    "ladder": "strength of balls",
    "ball_changes": "changes of ball",
    "skills": "skills of bowlers",
    "season_beside": "this season beside the last",
    "rules_of_thumb": "rules of thumb",
    "plans": "block plans",
    "next_shots": "what to log next",
    "practice": "practice session",
    "leaves": "leaves",
    "entry": "strikes by entry board",
    "ledger": "where the pins went",
    "block_levels": "levels and luck of blocks",
    "habits": "costly habits",
    "held_out": "gain of the choice of ball on new nights",
    "new_blocks": "check on new blocks",
    "streaks": "check for streaks",
    "strike_runs": "check of strike runs",
    "replicated_entry": "check of strikes by entry board",
    "replicated_leaves": "check of leaves",
    "second_way": "differences estimated a second way",
}
_STAGES: dict[Stage, str] = {
    "season": "season",
    "choices": "best choices",
    "transition": "transition",
    "arsenal": "arsenal",
    "students": "students",
    "rules_of_thumb": "rules of thumb",
    "plans": "plans",
    "leaves_and_entry": "leaves and entry",
    "ledger_and_checks": "where the pins went, and checks of the models",
    "ledger": "where the pins went",
}


def question_text(question: Question) -> str:
    """The question as it stands in a list after "Not in this report:"."""
    return _QUESTIONS[question]


def stage_text(stage: Stage) -> str:
    """What a progress bar says while the stage lasts."""
    return _STAGES[stage]


def too_little(error: Exception) -> str:
    """Why a question has no answer if the shots do not determine it."""
    return f"these shots do not determine it ({error})"


def unforeseen(error: BaseException) -> str:
    """Why a question has no answer if its computation failed."""
    fault = f"{type(error).__name__}: {error}"
    return f"the computation failed, which a valid log should not cause; please report it ({fault})"
