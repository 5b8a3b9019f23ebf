"""What the pipeline decides, as typed records: the only thing reports read and exports write.

Pins are pins per game. ``worth`` is always against the bowler's own average over the season unless a field says
otherwise. Every estimate carries its 50, 80 and 95 % intervals; every ranking its shots and P(best).
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Phase = Literal["fresh", "transition", "late"]
PHASES: tuple[Phase, ...] = ("fresh", "transition", "late")
Timing = Literal["early", "on time", "late", "not called for", "cannot tell"]
TIMINGS: tuple[Timing, ...] = ("early", "on time", "late", "not called for", "cannot tell")
LedgerAgainst = Literal["class", "own usual"]
LedgerPartName = Literal["lane", "ball", "line", "entry", "carry", "entry and carry", "leave", "spare", "foul", "order"]
Settledness = Literal["settled", "leaning", "not compared", "not enough shots"]


class Record(BaseModel):
    """Base of every result: frozen, no unknown fields."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Estimate(Record):
    """A quantity with its central intervals, from posterior draws."""

    mean: float = Field(description="posterior mean")
    lo50: float = Field(description="lower end of the 50 % interval")
    hi50: float = Field(description="upper end of the 50 % interval")
    lo80: float = Field(description="lower end of the 80 % interval")
    hi80: float = Field(description="upper end of the 80 % interval")
    lo95: float = Field(description="lower end of the 95 % interval")
    hi95: float = Field(description="upper end of the 95 % interval")


class BowlerCard(Record):
    """One bowler of the season."""

    bowler: str = Field(description="bowler id (an alias where aliasing is on)")
    name: str = Field(description="name to show (an alias where aliasing is on)")
    hand: str = Field(description="right or left")
    style: str = Field(description="one-handed or two-handed")
    coach: str | None = Field(description="id of the bowler's coach, where there is one")
    minor: bool = Field(description="true where the birth year makes the bowler under 18 in the season's last year")
    games: int = Field(description="games logged")
    shots: int = Field(description="first deliveries logged")
    games_complete: int = Field(description="games with every frame logged, which alone have a score")
    average: float | None = Field(description="mean score of the complete games; None if no game is complete")
    strike_rate: float = Field(description="strikes per first delivery, unadjusted")


class RefusedFile(Record):
    """One file of logs that could not be used at all."""

    file: str = Field(description="the file, with its folder (an alias where aliasing is on)")
    problem: str = Field(description="what is wrong with it and how to mend it")
    rows_kept: int = Field(description="rows of an earlier version of the file that are still in use")


class SeasonSummary(Record):
    """What was logged, and what was not."""

    first_date: dt.date
    last_date: dt.date
    bowlers: list[BowlerCard]
    blocks: int
    games: int
    deliveries: int
    rows_read: int = Field(description="data rows read from shot files")
    rows_quarantined: int
    rows_repaired: int = Field(description="rows whose leave was read back from a date or from slashes")
    refused_files: list[RefusedFile] = Field(description="files whose last load refused them; their rows are missing")
    share_logged: dict[str, float] = Field(description="optional column -> share of first deliveries with a value")
    notes: list[str] = Field(description="plain sentences about fall-backs the models had to take")


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
        description="pins per game against the bowler's own season average, adjusted, for this ball on this very line, "
        "kept whatever the lane does: the mean over nights"
    )
    worth_following: Estimate = Field(
        description="the same for the ball with the line following the lane as the bowler moves it; alike for all "
        "lines of the ball"
    )
    raw_worth: float = Field(description="the same from unadjusted averages, to set beside it")
    strike: Estimate = Field(description="probability of a strike on the first delivery, adjusted")
    p_best: float | None = Field(
        description="probability that this is the best of the cell's ranked combinations; 0 where it is not ranked, "
        "None where it alone is"
    )
    p_200: float = Field(description="probability that a game at this level reaches 200")
    ranked: bool = Field(description="enough shots and narrow enough to be ranked")
    shots_needed: int = Field(description="about how many more shots until it is ranked; 0 where it is")


class NextStep(Record):
    """What to do with the best choice of a phase as the next one begins: to go on to another, or to stay."""

    from_game: int = Field(description="first game of the next phase the bowler logged")
    ball: str = Field(description="ball id of what is advised")
    ball_name: str
    line: str = Field(description="line of what is advised")
    over_ball: str = Field(description="ball id of what it is weighed against")
    over_line: str = Field(
        description="line of what it is weighed against: the one in hand for a move, the best other for staying, the "
        "best with the ball in hand for a change of ball"
    )
    gain: Estimate = Field(description="pins per game of what is advised over the other")
    probability: float = Field(description="probability that what is advised is better than the other")
    shots: int = Field(description="first deliveries logged on what is advised in the next phase")
    sentence: str


class Policy(Record):
    """How to play a cell: a ball, where to start, and whether to move with the lane or to stay on one line."""

    ball: str
    ball_name: str
    keeps_line: bool = Field(description="true where staying on one line is likely better than moving with the lane")
    line: str | None = Field(description="the line to stay on; None where the line follows the lane")
    start_board: float | None = Field(
        description="board at the arrows where this ball is usually played then; None where staying or not logged"
    )
    boards_a_game: float | None = Field(description="boards the usual line moves in from one game to the next")
    boards_for_one_high: float | None = Field(
        description="boards in at the arrows that take back one board high at the pins, as this log shows it; None "
        "where it does not tell"
    )
    worth: Estimate = Field(description="pins per game against the bowler's own season average, played in this way")
    p_best: float | None = Field(description="probability that no other ball compared is better; None with one ball")
    sentence: str


class GainOverNow(Record):
    """The advised way to play a cell against the bowler's own mix of balls there, at the same games and oil."""

    gain: Estimate = Field(
        description="pins per game of the policy over the bowler's own mix in the cell; lines follow the lane, but for "
        "a policy to stay"
    )
    p_gain: float = Field(description="probability that it gains")
    share_now: float = Field(
        description="share of the cell's first deliveries already thrown so: with the ball, or on the line to stay on"
    )
    games: int = Field(description="games logged in the cell")
    pins_a_season: float = Field(description="mean gain times those games")
    instead_of_ball: str | None = Field(description="ball id of what is thrown most instead; None if nothing else is")
    instead_of_line: str | None = Field(description="its line")
    sentence: str


class PhaseAdvice(Record):
    """What one bowler should throw: the answer for one bowler, pattern class and phase."""

    bowler: str
    pattern_class: str
    phase: Phase
    best: ComboWorth | None = Field(
        description="the best ball and line to commit to beforehand; None where nothing has enough shots"
    )
    runner_up: ComboWorth | None
    margin: Estimate | None = Field(description="best minus runner-up, pins per game")
    gain_over_now: GainOverNow | None = Field(
        description="what the policy gains over what the bowler throws there; None without a policy"
    )
    policy: Policy | None = Field(description="how to play the cell; None where nothing is ranked")
    verdict: Settledness = Field(
        description="settled or leaning where two and more are ranked, not compared where one is, else not enough shots"
    )
    shots_needed: int = Field(
        description="about how many more shots, shared by those likely to be the best, would settle which is, or that "
        "knowing it gains less than a pin a game; without a runner-up until the next one is ranked; 0 where settled, "
        "where that is so already, or where nothing else was thrown"
    )
    move: NextStep | None = Field(description="when and where to move, or to stay; None where neither is likely enough")
    change: NextStep | None = Field(description="when to change and to what; None where no change is likely enough")
    why_neither: str = Field(
        description="where neither is advised: why, and about how many more shots would let something be compared; "
        "empty in the last phase logged and where nothing is ranked"
    )
    sentence: str = Field(description="the whole advice in one or two sentences")


class CurvePoint(Record):
    """One point of a worth curve."""

    x: float = Field(description="games into the block (1, 2, ...) or deliveries on the pair")
    worth: Estimate
    shots: int = Field(description="first deliveries logged near this point")
    raw: float | None = Field(description="unadjusted average at this point; None without shots")
    p_best: float | None = Field(
        default=None, description="probability that it is the best of the panel's curves there; None if it is alone"
    )


class TransitionCurve(Record):
    """Worth of one ball and line as the block goes on."""

    bowler: str
    pattern_class: str
    axis: Literal["games into the block", "deliveries on the pair"]
    ball: str
    ball_name: str
    line: str
    points: list[CurvePoint]


class Crossing(Record):
    """Where another choice becomes better."""

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
    verdict: Literal["keep", "clean", "resurface", "retire", "not enough shots"]
    probability: float = Field(description="probability that the verdict is the action with the highest utility")
    utilities: dict[str, Estimate] = Field(description="action -> net pins per game after its cost")
    at_stake: Estimate = Field(description="pins per game of the verdict over keeping as it is")
    shots_needed: int
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
    expected_after: Estimate = Field(description="the same of the new ball")
    gain: Estimate = Field(
        description="pins per game gained (+) or lost (-) by changing, over those games; either ball on the better for "
        "it of the line left and the line gone to"
    )
    timing: Timing = Field(
        description="against the best moment with the old ball in hand; not called for where the new ball is worth "
        "more in no game left of the block"
    )
    timing_probability: float = Field(description="of the timing named, or of the most likely one if it cannot be told")
    games_late: Estimate | None = Field(
        description="games after (+) or before (-) the best moment; None where there likely is none"
    )


class ChangesInAll(Record):
    """All changes of ball of one bowler together."""

    bowler: str
    changes: int = Field(description="changes of ball inside blocks")
    gain: Estimate = Field(description="pins per game gained (+) or lost (-) by a change, on average over all changes")
    p_gain: float = Field(description="probability that changing gained on average")
    shots: int = Field(description="first deliveries looked at on either side of the changes")


class SkillEstimate(Record):
    """One skill of one student, adjusted for pattern, transition, equipment and hand."""

    bowler: str
    skill: Literal[
        "pocket",
        "carry",
        "single-pin spares",
        "multi-pin spares",
        "accuracy at the arrows",
        "accuracy at the pocket",
        "versatility",
    ]
    unit: str = Field(description="'%', 'boards' or 'pins'")
    higher_is_better: bool
    value: Estimate
    class_average: float
    p_above_average: float = Field(description="probability of being better than the class average")
    progress: Estimate | None = Field(description="change from the first to the last third of the season")
    class_progress: float | None = Field(description="mean change of all bowlers whose own is known")
    shots: int


class SkillComparison(Record):
    """Who is better at what, and how sure."""

    skill: str
    better: str = Field(description="bowler id")
    other: str
    difference: Estimate = Field(description="in the skill's unit, positive in favour of ``better``")
    probability: float
    shots: int = Field(description="the smaller of the two counts")


class PracticeFocus(Record):
    """The one thing worth most pins for a student."""

    bowler: str
    skill: str
    pins_if_class_best: Estimate = Field(description="pins per game gained by reaching the class's upper quartile")
    p_best: float = Field(description="probability that this focus is worth more than any other")
    shots: int
    sentence: str


class MaximTrial(Record):
    """One rule of thumb put to the test."""

    maxim: str = Field(description="the rule in words")
    bowler: str = Field(description="bowler id, or 'everyone'")
    verdict: Literal["holds for you", "cannot tell", "does not hold", "not tested"]
    pins: Estimate | None
    probability: float = Field(description="probability that it holds")
    shots: int
    source: str
    sentence: str


class PlanStep(Record):
    """One stretch of games in a plan."""

    from_game: int
    to_game: int
    ball: str
    ball_name: str
    line: str
    worth: Estimate = Field(
        description="pins per game against the bowler's own season average, in one block to come with its luck: wider "
        "than the same choice in the advice by phase"
    )
    p_best: float | None = Field(
        description="probability that it is the best of those tried then; None where nothing else was"
    )
    shots: int = Field(description="first deliveries logged with it on the plan's pattern class")
    shots_elsewhere: int = Field(
        description="first deliveries logged with it on other pattern classes: all there is to go by where there are "
        "none on the plan's own"
    )
    trigger: str = Field(description="what to watch for before going on to the next step")
    p_going_on: float | None = Field(
        description="probability that the next step's choice beats this one in its first game; None in the last step"
    )


class BlockPlan(Record):
    """A plan for a posted pattern."""

    bowler: str
    pattern: str | None = Field(description="what the pattern goes by; None where it was asked for by its numbers")
    length_ft: float
    volume_ml: float | None
    ratio: float | None
    games: int
    pattern_class: str
    novelty: float = Field(description="0: like patterns logged; 1 and more: unlike any, in typical distances")
    steps: list[PlanStep]
    backup: PlanStep | None
    score: Estimate = Field(
        description="average the plan's games are worth, the block's own luck included, that of the games left out"
    )
    score_kept_line: Estimate = Field(
        description="the same if the planned lines are kept whatever the lane does; score is with the line following it"
    )
    average: Estimate = Field(
        description="what the average of the plan's games comes to, the luck of the games included too"
    )
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
    bag: Bag | None = Field(description="None where no number of balls was asked for")


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


class LeaveShare(Record):
    """How often one leave was left, and converted."""

    bowler: str
    leave: str = Field(description="pins standing, mirrored to a right-hander's view, e.g. '3-10'")
    leave_type: str
    count: int
    per_100_first_balls: float
    conversion: Estimate = Field(description="probability of the spare, partially pooled")
    pins_per_game_lost: float = Field(description="pins per game lost to missing it")
    pins_to_win_back: float = Field(
        default=0.0,
        description="pins per game gained by making it as often as a bowler of upper-quartile ability",
    )


class EntryPoint(Record):
    """Carry by entry board."""

    bowler: str = Field(description="bowler id, or 'everyone'")
    entry_board: float
    strike: Estimate
    raw: float | None
    shots: int


class CalibrationBin(Record):
    """One bin of a calibration curve from held-out blocks."""

    source: Literal["model", "challenger"]
    predicted: float
    observed: float
    shots: int


class ModelCheck(Record):
    """One check a statistician would ask for."""

    name: str
    value: float
    expected: str
    passed: bool | None = Field(description="None where the check only informs")
    sentence: str


class Sensitivity(Record):
    """The doubly robust check of one adjusted contrast of a bowler's."""

    bowler: str
    question: str
    model: Estimate
    doubly_robust: Estimate
    raw: float
    agree: bool
    shots: int


class LedgerPart(Record):
    """One part of an account, in the order in which things become known during a delivery."""

    part: LedgerPartName
    pins: Estimate = Field(
        description="pins per game; the means of all parts, and the mean of what was expected, add up to the score"
    )


class LedgerAccount(Record):
    """Where one bowler's pins came from and went over the season, complete games only."""

    bowler: str
    against: LedgerAgainst = Field(description="the class's average bowler, or the bowler's own usual")
    games: int = Field(description="complete games counted")
    shots: int = Field(description="balls at a new rack in them")
    expected: Estimate = Field(
        description="score expected before the first ball of a game: of the class's average bowler, or the bowler's own"
    )
    scored: float = Field(description="mean score of the games")
    parts: list[LedgerPart]


class BlockLedger(Record):
    """The same for one block against the bowler's own usual, and how much of its score was luck."""

    bowler: str
    block: str
    date: dt.date
    pattern_class: str
    games: int = Field(description="complete games counted")
    shots: int = Field(description="balls at a new rack in them")
    expected: float = Field(description="score expected before the first ball of a game, as in the bowler's account")
    expected_there: float = Field(description="the same once pattern and games into the block are known")
    scored: float = Field(description="mean score of the games")
    level: Estimate = Field(
        description="true level, pins per game: what the same balls on the same lines would score that night"
    )
    luck: Estimate = Field(description="scored less the level, pins per game")
    luck_percentile: Estimate = Field(
        description="share of such blocks, with the same shots, that score less than this one did"
    )
    parts: list[LedgerPart]
    sentence: str


class CostlyHabit(Record):
    """One of the habits that cost a bowler most pins over the season."""

    bowler: str
    part: LedgerPartName = Field(description="the part of the ledger it is counted in")
    against: LedgerAgainst = Field(description="what it is measured against")
    pattern_class: str | None
    phase: Phase | None
    ball: str | None
    ball_name: str | None
    line: str | None
    leave_type: str | None
    pins: Estimate = Field(description="pins per game, over all the bowler's complete games")
    probability: float = Field(description="probability that it costs pins")
    shots: int
    sentence: str


class LeftOut(Record):
    """One question of the report that has no answer, and why; the others stand."""

    question: str
    reason: str


class Decisions(Record):
    """Everything one season answers."""

    title: str
    summary: SeasonSummary
    left_out: list[LeftOut]
    combos: list[ComboWorth]
    playbook: list[PhaseAdvice]
    curves: list[TransitionCurve]
    crossings: list[Crossing]
    line_moves: list[LineMove]
    paths: list[LanePath] = []
    arsenal: list[BallVerdict]
    redundant: list[RedundantPair]
    gaps: list[ArsenalGap]
    ladder: list[LadderRung]
    changes: list[BallChange]
    changes_in_all: list[ChangesInAll]
    skills: list[SkillEstimate]
    comparisons: list[SkillComparison]
    focus: list[PracticeFocus]
    ledger: list[LedgerAccount]
    ledger_blocks: list[BlockLedger]
    habits: list[CostlyHabit]
    maxims: list[MaximTrial]
    plans: list[BlockPlan]
    next_shots: list[NextShots]
    leaves: list[LeaveShare]
    entry: list[EntryPoint]
    calibration: list[CalibrationBin]
    checks: list[ModelCheck]
    sensitivity: list[Sensitivity]
