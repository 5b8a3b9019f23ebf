"""A step into the next phase in words: a change of ball, a move of the line, or staying."""

from __future__ import annotations

from typing import Literal

from pipeline.decisions.records import Estimate, NextStep
from pipeline.decisions.wording.terms import direction, interval, percent, pins_a_game, plural, the_line, with_ball

Move = Literal["move", "stay"]


def move_sentence(step: NextStep, move: Move) -> str:
    """The advice to move to another line with the same ball, or to stay on the one in hand."""
    if move == "move":
        what, over = f"move {direction(step.over_line, step.line)} to {the_line(step.line)}", "staying"
    else:
        what, over = f"stay on {the_line(step.line)}", "moving"
    return f"From game {step.from_game}, {what}: {pins_a_game(step.gain.mean)} over {over} ({_evidence(step)})."


def change_sentence(step: NextStep, over_name: str, worth: Estimate | None) -> str:
    """The advice to change the ball.

    ``over_name``: the ball in hand. ``worth``: of the ball advised against the bowler's average, if the one in hand has
    too few shots so late to be compared; else None.
    """
    what = f"From game {step.from_game}, change to {with_ball(step.ball_name, step.line)}: "
    if worth is None:
        return f"{what}{pins_a_game(step.gain.mean)} ({_evidence(step)})."
    return (
        f"{what}{pins_a_game(worth.mean)} against your average ({plural(step.shots, 'shot')}). Too few shots "
        f"with the {over_name} were logged so late to compare it."
    )


def _evidence(step: NextStep) -> str:
    return f"{interval(step.gain)}, {plural(step.shots, 'shot')} there, {percent(step.probability)} likely better"
