"""What to throw: choices with their worth, the advice for a phase with its policy and gain, what to log next."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Phase, Record

Settledness = Literal["settled", "leaning", "not compared", "not enough shots"]


class ComboWorth(Record):
    """One ball on one line in one phase on one pattern class, for one bowler."""

    bowler: str
    pattern_class: str = Field(description="short, medium, long, or unposted")
    phase: Phase
    ball: str = Field(description="ball id")
    ball_name: str
    ball_class: str
    line: str = Field(description="line by the nearest arrow, e.g. 'third arrow'")
    shots: int = Field(description="first deliveries logged on exactly this combination")
    worth: Estimate = Field(
        description="pins per game against the bowler's own season average, adjusted, for this ball on this line, "
        "kept whatever the lane does: the mean over nights"
    )
    worth_following: Estimate = Field(
        description="the same for the ball with the line following the lane as the bowler moves it; alike for all "
        "lines of the ball"
    )
    raw_worth: float = Field(description="the same from unadjusted averages, for comparison")
    strike: Estimate = Field(description="probability of a strike on the first delivery, adjusted")
    p_best: float | None = Field(
        description="probability that this is the best of the cell's ranked combinations; 0 if it is not ranked, "
        "None if it alone is"
    )
    p_200: float = Field(description="probability that a game at this level reaches 200")
    ranked: bool = Field(description="enough shots and narrow enough to be ranked")
    shots_needed: int = Field(description="about how many more shots until it is ranked; 0 if it is")


class NextStep(Record):
    """What to do as the next phase begins: to go on to another ball or line, or to stay."""

    from_game: int = Field(description="first game of the next phase the bowler logged")
    ball: str = Field(description="ball id of what is advised")
    ball_name: str
    line: str = Field(description="line of what is advised")
    over_ball: str = Field(description="ball id it is compared with")
    over_line: str = Field(
        description="line it is compared with: the one in hand for a move, the best other for staying, the "
        "one to keep or to start on with the ball in hand for a change of ball"
    )
    gain: Estimate = Field(description="pins per game of what is advised over the other")
    probability: float = Field(description="probability that what is advised is better than the other")
    shots: int = Field(description="first deliveries logged on what is advised in the next phase")
    sentence: str


class Policy(Record):
    """How to play a cell: a ball, where to start, and whether to move with the lane or to stay on one line."""

    ball: str
    ball_name: str
    keeps_line: bool = Field(description="true if staying on one line is likely better than moving with the lane")
    line: str | None = Field(description="the line to stay on; None if the line follows the lane")
    start_board: float | None = Field(
        description="board at the arrows where this ball is usually played then; None if staying or not logged"
    )
    boards_a_game: float | None = Field(description="boards the usual line moves in from one game to the next")
    boards_for_one_high: float | None = Field(
        description="boards inward at the arrows that correct one board high at the pins, as this log shows; None "
        "if it does not"
    )
    worth: Estimate = Field(description="pins per game against the bowler's own season average, played in this way")
    p_best: float | None = Field(
        description="probability that no other ball compared there is better in that phase alone; None with one ball"
    )
    shots: int = Field(description="first deliveries logged there with the ball, on its line if it is kept there")
    sentence: str


class GainOverNow(Record):
    """The advised way to play a cell against the bowler's own mix of balls there, at the same games and oil."""

    gain: Estimate = Field(
        description="pins per game of the policy over the bowler's own mix in the cell; lines follow the lane, but for "
        "a policy to stay"
    )
    p_gain: float = Field(description="probability that it gains")
    share_now: float = Field(
        description="share of the cell's first deliveries already played so: with the ball, or on the line to stay on"
    )
    games: int = Field(description="games logged in the cell")
    pins_a_season: float = Field(description="mean gain times those games")
    instead_of_ball: str | None = Field(
        description="ball id of the ball thrown instead that costs most, weighted by its share; None if there is none"
    )
    instead_of_line: str | None = Field(description="its most thrown line")
    sentence: str


class PhaseAdvice(Record):
    """What one bowler should throw: the answer for one bowler, pattern class and phase."""

    bowler: str
    pattern_class: str
    phase: Phase
    from_game: int = Field(description="first game of the phase")
    to_game: int | None = Field(description="last game of the phase; None for the last phase")
    best: ComboWorth | None = Field(
        description="the best ball and line to commit to in advance; None if nothing has enough shots"
    )
    runner_up: ComboWorth | None
    margin: Estimate | None = Field(description="best minus runner-up, pins per game")
    gain_over_now: GainOverNow | None = Field(
        description="what the policy gains over what the bowler throws there; None without a policy"
    )
    policy: Policy | None = Field(
        description="how to play the cell, as part of the best sequence of balls over the phases, less the cost of "
        "changes; None if no ball was thrown often enough"
    )
    verdict: Settledness = Field(
        description="settled or leaning if two or more are ranked, not compared if one is, else not enough shots"
    )
    shots_needed: int = Field(
        description="shots needed to settle the choice, shared by those likely to be the best; without a runner-up "
        "until a second choice is ranked; 0 if settled, if the difference is under one pin per game, or if nothing "
        "else was thrown"
    )
    move: NextStep | None = Field(
        description="when and where to move, or to stay, for a bowler who keeps the best line; None if neither is "
        "likely enough"
    )
    change: NextStep | None = Field(
        description="when to change from the policy's ball to that of the next phase; None if the ball stays"
    )
    why_neither: str = Field(
        description="if neither is advised: why, and about how many more shots would let something be compared; "
        "empty in the last phase logged and if nothing is ranked"
    )
    sentence: str = Field(description="the whole advice in one or two sentences")


class NextShots(Record):
    """What to log next so that an open question closes soonest."""

    bowler: str
    pattern_class: str
    phase: Phase
    ball: str
    ball_name: str
    line: str
    shots: int = Field(description="shots suggested")
    gain: float = Field(description="pins per game expected from choosing there with those shots known")
    pins_at_stake: float = Field(description="the same from knowing the best choice there for sure")
    share: float = Field(description="share of the bowler's shots bowled on that pattern class in that phase")
    sentence: str


class PracticeShots(Record):
    """Shots of a practice session with one ball in one phase."""

    phase: Phase
    from_game: int = Field(description="first game of the session in which they are thrown")
    to_game: int = Field(description="last game of the session in which they are thrown")
    ball: str
    ball_name: str
    line: str = Field(description="line to start on, where the ball was thrown most then; it moves with the lane")
    shots: int = Field(description="first deliveries to throw and log")
    logged: int = Field(description="first deliveries logged with the ball on that class in that phase so far")


class PracticeSession(Record):
    """The practice that teaches most about which ball to choose, or that none is worth proposing."""

    bowler: str
    games: int = Field(description="games of practice, from the settings")
    pattern_class: str | None = Field(
        default=None, description="what to practise on; None if nothing is worth proposing"
    )
    shots: list[PracticeShots] = Field(default=[], description="what to throw, in order; empty if nothing is proposed")
    gain: float = Field(
        default=0.0,
        description="pins per game on that class expected from choosing the ball of each phase with those shots known; "
        "of the best session if none is proposed",
    )
    gain_if_known: float = Field(default=0.0, description="the same if every ball's worth there were known for sure")
    share: float = Field(default=0.0, description="share of the bowler's shots bowled on that class")
    p_change: float | None = Field(
        default=None,
        description="probability that another ball is then chosen in the phase where that is most likely",
    )
    smallest_in_session: float | None = Field(
        default=None,
        description="smallest lead between two balls, pins per game, that the session's shots would probably show, "
        "shared by both",
    )
    smallest_in_season: float | None = Field(default=None, description="the same for all the shots the bowler logged")
    sentence: str
