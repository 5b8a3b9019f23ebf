"""Care of balls in words: verdicts, tasks of the work list, and grits."""

from __future__ import annotations

from typing import Literal

from pipeline.decisions.records import (
    WITHHELD,
    ArsenalTask,
    BallVerdict,
    CareAct,
    CareOption,
    DueBy,
    GritEvidence,
    StandIn,
)
from pipeline.decisions.wording.terms import interval, percent, plural, sentence, shots_in_words, signed
from pipeline.inference.sample_size import MOST_SHOTS

NoGrit = Literal["alike", "not compared"]
"""Why no grit is named: those tried carried alike, or no ball was thrown enough at two."""

_NO_GRIT: dict[NoGrit, str] = {
    "alike": "No evidence: the grits tried carried alike, as far as the shots tell.",
    "not compared": "No evidence: no two grits were thrown enough on the same ball.",
}
_NO_SHOTS_TELL = "more shots on this surface would hardly settle it; shots after a resurfacing might"
_ACTS: dict[CareAct, str] = {
    "keep": "Keeping it as it is",
    "clean": "Cleaning",
    "resurface": "Resurfacing",
    "retire": "Retiring it",
}


def what_settles(needed: int) -> str:
    """What would settle a verdict: about how many more shots, or that shots with the ball as it is would not."""
    return f"{shots_in_words(needed)} would settle it" if needed < MOST_SHOTS else _NO_SHOTS_TELL


def verdict_sentence(verdict: BallVerdict, best: CareAct) -> str:
    """The verdict on a ball and its worth; ``best`` looks best, whether it may be called or not."""
    name, sure = verdict.ball_name, percent(verdict.probability)
    gain = f"{signed(verdict.at_stake.mean, 1)} pins per game after its cost"
    spread = interval(verdict.at_stake, 1)
    if verdict.verdict in WITHHELD:
        start = "watch" if verdict.verdict == "watch" else "not enough shots to say"
        looks = f"{_ACTS[best]} looks best so far ({sure} likely{'' if best == 'keep' else f', {gain}, {spread}'})"
        return f"{name}: {start}. {looks}. {sentence(what_settles(verdict.shots_needed))}."
    chance = f"{sure} likely to be the best of the four options"
    if verdict.verdict == "keep":
        return f"{name}: keep as it is, {chance}."
    retire = verdict.verdict == "retire"
    act = "retire, and replace with a ball of its class" if retire else str(verdict.verdict)
    return f"{name}: {act}, {chance}; worth {gain} ({spread})."


def task_sentence(task: ArsenalTask) -> str:
    """What to do, to which grit, by when and how sure; or what would settle it."""
    gain = _gain(next(option for option in task.options if option.act == task.looks_best))
    if task.do in WITHHELD:
        looks = f"{_ACTS[task.looks_best]} looks best so far ({gain})"
        return f"{task.ball_name}: {task.do}. {looks}. {sentence(task.settles)}."
    if task.do == "keep":
        return f"{task.ball_name}: keep as it is ({gain}). {_next(task.due)}"
    if task.do == "resurface":
        return f"{task.ball_name}: resurface{_to(task.grit)} {_by(task.due)} ({gain}).{_no_better_grit(task.grit)}"
    if task.do == "retire":
        return f"{task.ball_name}: retire ({gain}); a new ball of its class takes its place{_or(task.stand_in)}."
    return f"{task.ball_name}: clean now ({gain})."


def _gain(best: CareOption) -> str:
    if best.p_gain is None:
        return f"{percent(best.p_best)} likely to be the best"
    pins = f"{signed(best.gain.mean, 1)} pins per game after its cost"
    return f"{pins}, {interval(best.gain, 1)}, {percent(best.p_gain)} likely to gain"


def _by(due: DueBy) -> str:
    if not due.games:
        return "now"
    day = "" if due.date is None else f", by {due.date.isoformat()} at your pace"
    return f"within {plural(round(due.games), 'game')} with it{day}"


def _next(due: DueBy) -> str:
    if due.games is None:
        return "No resurfacing is in sight."
    return f"A resurfacing is due {_by(due)}."


def grit_in_words(grit: GritEvidence) -> str:
    """``2000 grit``, ``the same 2000 grit`` for the one it has, or empty if the log has none."""
    if grit.grit is not None:
        return f"{grit.grit} grit"
    return "" if grit.now is None else f"the same {grit.now} grit"


def _to(grit: GritEvidence) -> str:
    named = grit_in_words(grit)
    return f" to {named}" if named else ""


def _no_better_grit(grit: GritEvidence) -> str:
    if grit.grit is not None:
        return ""
    return " There is no evidence on the grit." if grit.now is None else " No better grit is known."


def _or(stand_in: StandIn | None) -> str:
    if stand_in is None:
        return ""
    gain = stand_in.gain
    return f", or the {stand_in.ball_name} ({signed(gain.mean, 1)} pins per game, {interval(gain, 1)})"


def grit_sentence(grit: GritEvidence, why_none: NoGrit) -> str:
    """Which grit carried best, or why none is named."""
    over = grit.over_others
    if grit.grit is None or grit.probability is None or over is None:
        return _NO_GRIT[why_none]
    whose = "on this ball" if grit.of == "this ball" else "on balls of its class"
    return (
        f"{grit.grit} grit carried best {whose} ({percent(grit.probability)} likely, {signed(over.mean, 1)} pins per "
        f"game over other grits, {interval(over, 1)}, {plural(grit.shots, 'shot')})."
    )
