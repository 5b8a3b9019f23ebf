"""Balls: their care, their life, and the place of each in the bag."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Phase, Record

CareAct = Literal["keep", "clean", "resurface", "retire"]
CareVerdict = Literal["keep", "clean", "resurface", "retire", "watch", "not enough shots"]
WITHHELD: tuple[CareVerdict, ...] = ("watch", "not enough shots")
"""Verdicts that call no act."""


class AgePoint(Record):
    """Carry of one ball at one age."""

    games: float = Field(description="games since the last resurfacing")
    carry: Estimate = Field(description="probability of a strike at the bowler's usual mix")
    shots: int


class LifePoint(Record):
    """What one ball did over five games of its life, unadjusted."""

    games_total: float = Field(description="games on the ball, at the middle of the stretch")
    surface_number: int = Field(description="resurfacings logged before it: the count since then starts again at each")
    shots: int
    strikes: int = Field(description="strikes among those shots")


class CareEffect(Record):
    """What one logged act of care did."""

    date: dt.date
    action: str
    games_at: float = Field(description="games since the previous resurfacing when it was done")
    recovery: Estimate = Field(description="pins per game regained")
    shots_before: int
    shots_after: int


class BallVerdict(Record):
    """Keep, clean, resurface or retire."""

    bowler: str
    ball: str
    ball_name: str
    ball_class: str
    catalogue: str = Field(description="cover, core, RG, differential and surface in one line")
    shots: int
    games_total: float
    games_since_resurface: float
    carry: Estimate
    against_class: Estimate = Field(description="strike probability minus the mean of its own class, in points of 1")
    drift_per_10_games: Estimate | None = Field(description="entry board change per 10 games since resurfacing")
    missed_hook_per_10_games: Estimate | None = Field(
        description="change in the share of light or missed-pocket shots per 10 games since resurfacing"
    )
    drift_so_far: Estimate | None = Field(description="entry board change since the last resurfacing")
    loss_per_10_games: Estimate = Field(description="pins per game lost per 10 games since resurfacing")
    lost_in_all: Estimate = Field(
        description="pins per game lost to all the games on it, against the same ball new; what a resurfacing brought "
        "back is not in it"
    )
    curve: list[AgePoint]
    care: list[CareEffect]
    life: list[LifePoint] = Field(default=[], description="its strikes as logged, by five games on the ball")
    verdict: CareVerdict
    probability: float = Field(description="probability that the verdict is the action with the highest utility")
    utilities: dict[str, Estimate] = Field(description="action -> net pins per game after its cost")
    at_stake: Estimate = Field(description="pins per game of the verdict over keeping as it is")
    shots_needed: int
    sentence: str


class GritEvidence(Record):
    """Which grit carried best, for one ball or those of its class, compared within balls thrown at two grits."""

    grit: int | None = Field(description="None if there is no evidence")
    over_others: Estimate | None = Field(description="pins per game over the other grits of the same balls")
    probability: float | None = Field(description="probability that no other grit tried carries better")
    of: Literal["this ball", "its class", "no evidence"]
    shots: int = Field(description="first deliveries at that grit on the balls compared")
    now: int | None = Field(
        default=None,
        description="grit the ball's present surface was made with; None if not logged or changed since",
    )
    sentence: str


class DueBy(Record):
    """By when a ball is due for a resurfacing, at the pace its bowler throws it."""

    games: float | None = Field(description="median games with the ball until then; None if later than looked ahead")
    lo80: float = Field(description="lower end of the 80 % interval of those games, at most three times games_ahead")
    hi80: float | None = Field(description="upper end; None if later than three times games_ahead")
    date: dt.date | None = Field(description="day of the median at that pace; None if it or the pace is not known")


class CareOption(Record):
    """One thing that can be done with a ball, against keeping it as it is."""

    act: CareAct
    gain: Estimate = Field(
        description="pins per game with the ball over the games ahead, more than keeping it brings, after its cost; "
        "0 for keep"
    )
    p_gain: float | None = Field(description="probability that it gains; None for keep")
    p_best: float = Field(description="probability that it is the best of the four")


class StandIn(Record):
    """The ball of the bag that would take a ball's place."""

    ball: str
    ball_name: str
    gain: Estimate = Field(
        description="pins per game over the ball, where that was thrown, both as worn on average, lines following"
    )
    p_gain: float


class ArsenalTask(Record):
    """One ball on the work list: what to do with it, to which grit, by when, and what else could be done."""

    bowler: str
    ball: str
    ball_name: str
    do: CareVerdict = Field(description="the ball's verdict: an act only if the evidence lets it be called")
    looks_best: CareAct = Field(description="the act of highest expected gain, whether it may be called or not")
    probability: float = Field(description="probability that what looks best is the best of the four")
    pins_a_season: float = Field(description="mean gain of what looks best over keeping, times games_a_season")
    games_a_season: float = Field(description="games thrown with the ball in the nights reported")
    grit: GritEvidence
    due: DueBy = Field(description="by when to resurface; games 0 if due now")
    options: list[CareOption] = Field(description="keep, clean, resurface and retire")
    stand_in: StandIn | None = Field(description="what the bag has in its place; None without another ball there")
    settles: str = Field(description="what would settle it, if nothing is called; else empty")
    shots: int
    sentence: str


class RedundantPair(Record):
    """Two balls that do the same job, or of the bowler's bag the two that come closest to it."""

    bowler: str
    ball_a: str
    ball_b: str
    p_same_job: float = Field(
        description="probability that they differ by under 5 pins per game on every pattern class"
    )
    apart: Estimate = Field(description="pins per game of the first over the second, mean over the pattern classes")
    shots: int
    sentence: str


class ArsenalGap(Record):
    """A pattern class and phase where nothing in the bag works."""

    bowler: str
    pattern_class: str
    phase: Phase
    best_worth: Estimate
    probability: float = Field(description="probability that even the best choice is below the bowler's average")
    shots: int
    sentence: str


class LadderRung(Record):
    """One ball on the personal strength ladder, measured around the benchmark ball."""

    bowler: str
    ball: str
    ball_name: str
    benchmark: bool
    boards_of_hook: Estimate = Field(description="boards more (+) or fewer (-) of hook than the benchmark ball")
    rank: int = Field(description="1 is the strongest")
    catalogue: str
    shots: int
    ball_up: str | None = Field(description="id of the next stronger ball")
    ball_down: str | None = Field(description="id of the next weaker ball")
