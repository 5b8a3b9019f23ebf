"""This season beside the last."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record


class SeasonBeside(Record):
    """One number of one bowler in the season before and in this one, and how much of the difference is likely real."""

    bowler: str
    kind: Literal["average", "ledger part", "carry of a ball", "skill"] = Field(description="which sort of number")
    what: str = Field(description="'average', the part of the ledger, 'carry', or the skill")
    ball: str | None = Field(None, description="ball id; empty if it is about no one ball")
    ball_name: str | None = Field(None, description="name of the ball; empty if it is about no one ball")
    unit: str = Field(description="'pins' (per game), '%' or 'boards'")
    higher_is_better: bool
    last: float = Field(description="as logged in the season before, carry not adjusted; a skill as estimated")
    this: float = Field(description="the same in this season; parts of the ledger add up to the average's difference")
    change: Estimate = Field(
        description="true change, shrunk toward zero; carry is measured against what those lanes, games and lines bring"
    )
    probability: float = Field(description="probability that the true change has the sign of its mean")
    games_last: int = Field(0, description="complete games behind it; 0 for balls and skills, which count shots")
    games_this: int = Field(0, description="the same in this season")
    shots_last: int = Field(description="balls at a new rack, or tries of the skill, in the season before")
    shots_this: int = Field(description="the same in this season")
