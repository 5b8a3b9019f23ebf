"""How well the models fit and predict."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record

HeldOutVerdict = Literal["gained", "lost", "no difference", "too noisy to tell"]


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
    passed: bool | None = Field(description="None if the check only informs")
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


class HeldOutGain(Record):
    """What the choice of ball gained on blocks that had no part in it."""

    bowler: str
    gain: Estimate = Field(
        description="pins per game, in cells with a choice, of the ball ranked first by the other blocks over what was "
        "thrown; doubly robust, errors by block"
    )
    predicted: float | None = Field(
        default=None, description="the same gain as the models that chose had predicted it, pins per game"
    )
    share_changed: float = Field(description="share of those shots that were thrown with another ball")
    verdict: HeldOutVerdict = Field(
        description="gained or lost if the 80 % interval excludes zero, no difference if it lies within one pin"
    )
    blocks: int = Field(description="blocks held out in turn")
    shots: int
    sentence: str
