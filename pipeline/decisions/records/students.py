"""Skills of bowlers, compared, and what to practise."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record


class SkillEstimate(Record):
    """One skill of one student, adjusted for pattern, transition, equipment and hand."""

    bowler: str
    skill: Literal[
        "strikes",
        "pocket",
        "carry",
        "spares",
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
    pins_to_win_back: Estimate | None = Field(
        default=None,
        description="pins per game gained by reaching the class's upper quartile in this skill alone; None for strikes "
        "and spares as a whole, with too few shots, or with nobody else in the class",
    )
    p_win_back: float | None = Field(
        default=None, description="probability that there is something to win back: that the bowler is below it"
    )
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
