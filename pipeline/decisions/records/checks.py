"""How well the models fit and predict."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record


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
