"""Plans for a posted pattern, and the bag for an event."""

from __future__ import annotations

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record


class PlanStep(Record):
    """One stretch of games in a plan."""

    from_game: int
    to_game: int
    ball: str
    ball_name: str
    line: str = Field(description="the line to keep, or the one to start on if it moves with the lane")
    keeps_line: bool = Field(description="true if staying on the line is advised; else the line follows the lane")
    start_board: float | None = Field(
        description="board at the arrows where the ball is usually played in the step's first game; None if staying "
        "or not logged"
    )
    boards_a_game: float | None = Field(
        description="boards the usual line moves in from one game to the next; None if staying, not logged or in a "
        "step of one game"
    )
    worth: Estimate = Field(
        description="pins per game against the bowler's own season average, in one block to come with its luck: wider "
        "than the same choice in the advice by phase"
    )
    p_best: float | None = Field(
        description="probability that it is the best of those tried then; None if nothing else was"
    )
    shots: int = Field(description="first deliveries logged with it on the plan's pattern class")
    shots_elsewhere: int = Field(
        description="first deliveries logged with it on other pattern classes: the only evidence if there are none on "
        "the plan's own"
    )
    trigger: str = Field(description="what to watch for before going on to the next step")
    p_going_on: float | None = Field(
        description="probability that the next step's ball beats this one in its first game; None in the last step and "
        "if the ball stays"
    )


class BlockPlan(Record):
    """A plan for a posted pattern."""

    bowler: str
    pattern: str | None = Field(description="name of the pattern; None if it was asked for by its numbers")
    length_ft: float
    volume_ml: float | None
    ratio: float | None
    games: int
    pattern_class: str
    novelty: float = Field(description="0: like patterns logged; 1 and more: unlike any, in typical distances")
    steps: list[PlanStep]
    backup: PlanStep | None
    departs: str = Field(
        description="why the plan throws other balls than the advice by phase names for patterns of its class; empty "
        "if it throws those"
    )
    gain: Estimate = Field(
        description="pins per game of the plan over the bowler's own mix of balls on patterns of its class, in the "
        "same games on this oil, lines following the lane; on a class never bowled on, over what is thrown elsewhere"
    )
    p_gain: float = Field(description="probability that it gains")
    score: Estimate = Field(
        description="expected average of the plan's games, with the block's luck but without that of single games"
    )
    score_kept_line: Estimate = Field(
        description="the same if the planned lines are kept whatever the lane does; score is with the line following it"
    )
    average: Estimate = Field(description="average of the plan's games, with the luck of single games, too")
    score_histogram: list[float] = Field(description="P(score = k) for one game of the plan, k = 0..300")
    p_200: float
    sentence: str


class BagBall(Record):
    """A ball and what it adds to a bag."""

    ball: str
    ball_name: str
    games: int = Field(description="games of the event in which the bag's best plan throws it; 0 for a ball left out")
    adds: Estimate = Field(
        description="pins per game over the event lost without it; for a ball left out, what it would gain"
    )


class Bag(Record):
    """Which balls to take to an event."""

    take: list[BagBall] = Field(description="the balls that add most, best first")
    leave: list[BagBall] = Field(description="the other balls compared, those that would add most first")
    spare_balls: list[str] = Field(description="names of the bowler's spare balls, which come besides")
    lost: Estimate = Field(description="pins per game over the event lost to taking every ball")


class EventPlan(Record):
    """Plans for the rounds of an event, and the bag for them."""

    bowler: str
    rounds: list[BlockPlan]
    bag: Bag | None = Field(description="None if no number of balls was asked for")
