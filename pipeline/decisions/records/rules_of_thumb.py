"""Rules of thumb on trial."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record

RuleVerdict = Literal["holds for you", "cannot tell", "does not hold", "not tested"]


class MaximTrial(Record):
    """One rule of thumb put to the test."""

    maxim: str = Field(description="the rule in words")
    bowler: str = Field(description="bowler id, or 'everyone'")
    verdict: RuleVerdict
    pins: Estimate | None
    probability: float = Field(description="probability that it holds")
    shots: int
    source: str
    sentence: str
