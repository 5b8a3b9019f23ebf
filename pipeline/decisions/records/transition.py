"""What changes over a block: the worth of choices, the line, and when the ball was changed."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Phase, Record

Timing = Literal["early", "on time", "late", "not called for", "cannot tell"]
TIMINGS: tuple[Timing, ...] = ("early", "on time", "late", "not called for", "cannot tell")


class Lead(Record):
    """One ball in one game of a block on one pattern class, played as it is best played in that phase."""

    bowler: str
    pattern_class: str
    game: int = Field(description="game of the block: 1, 2, ...")
    phase: Phase
    ball: str
    ball_name: str
    keeps_line: bool = Field(description="true if it is priced kept on one line; else moving with the lane")
    line: str | None = Field(description="the line kept; None if it moves with the lane")
    advised: bool = Field(description="whether it is the ball that the advice by phase names for that game")
    worth: Estimate = Field(description="pins per game against the bowler's own season average in that game")
    p_best: float | None = Field(description="probability that no other ball compared is better in that game")
    shots: int = Field(description="first deliveries logged with it in the phase, on its line if it is kept there")


class CurvePoint(Record):
    """One point of a worth curve."""

    x: float = Field(description="games into the block (1, 2, ...) or deliveries on the pair")
    worth: Estimate
    shots: int = Field(description="first deliveries logged near this point")
    raw: float | None = Field(description="unadjusted average at this point; None without shots")
    p_best: float | None = Field(
        default=None, description="probability that it is the best of the panel's kept lines there; None if it is alone"
    )


class TransitionCurve(Record):
    """Worth of one ball and line as the block goes on, the line kept whatever the lane does."""

    bowler: str
    pattern_class: str
    axis: Literal["games into the block", "deliveries on the pair"]
    ball: str
    ball_name: str
    line: str
    points: list[CurvePoint]


class Crossing(Record):
    """Where another line becomes better for one who keeps lines: both are kept whatever the lane does."""

    bowler: str
    pattern_class: str
    axis: Literal["games into the block", "deliveries on the pair"]
    leader: str = Field(description="ball and line that leads first, in words")
    challenger: str = Field(description="ball and line that overtakes, in words")
    at: Estimate | None = Field(description="where it happens, given that it happens in the range; None if rare")
    probability: float = Field(description="probability that it happens inside the range logged")
    shots: int = Field(description="first deliveries on the less thrown of the two")
    sentence: str


class LanePath(Record):
    """Where the ball went down the lane, on average, for one ball and line of one phase."""

    bowler: str
    pattern_class: str
    phase: Phase
    ball: str
    ball_name: str
    line: str
    laydown: float | None = Field(description="mean board at the foul line; boards count from the bowler's own side")
    arrow: float = Field(description="mean board at the arrows")
    breakpoint: float | None = Field(description="mean board where the ball was farthest out")
    breakpoint_ft: float | None = Field(description="mean distance of that place from the foul line, in feet")
    entry: float | None = Field(description="mean board at the pins")
    shots: int


class LineMove(Record):
    """How the line moved through the block."""

    bowler: str
    pattern_class: str
    target: Literal["laydown", "arrow", "breakpoint"]
    boards_per_game: Estimate = Field(
        description="positive is toward the centre of the lane (for a right-hander: left)"
    )
    best_games_boards_per_game: Estimate | None = Field(description="the same in the best-scoring third of the games")
    shots: int


class BallChange(Record):
    """One change of ball inside a block."""

    bowler: str
    date: dt.date
    block: str
    pattern_class: str
    game: int
    from_ball: str
    to_ball: str
    shots_before: int
    shots_after: int
    strike_before: float
    strike_after: float
    expected_had_stayed: Estimate = Field(
        description="strike probability the model expects of the old ball from the change to the next change of ball"
    )
    expected_after: Estimate = Field(description="the same for the new ball")
    gain: Estimate = Field(
        description="pins per game gained (+) or lost (-) by changing, over those games; each ball is priced "
        "on the better of the two lines, before or after the change"
    )
    timing: Timing = Field(
        description="against the best moment with the old ball in hand; not called for if the new ball is worth "
        "more in no game left of the block"
    )
    timing_probability: float = Field(description="of the timing named, or of the most likely one if it is unclear")
    games_late: Estimate | None = Field(
        description="games after (+) or before (-) the best moment; None if there likely is none"
    )


class ChangesInAll(Record):
    """All changes of ball of one bowler together."""

    bowler: str
    changes: int = Field(description="changes of ball inside blocks")
    gain: Estimate = Field(description="pins per game gained (+) or lost (-) by a change, on average over all changes")
    p_gain: float = Field(description="probability that changing gained on average")
    shots: int = Field(description="first deliveries looked at on either side of the changes")
