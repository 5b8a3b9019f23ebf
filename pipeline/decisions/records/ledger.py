"""Where the pins went."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Phase, Record

LedgerAgainst = Literal["class", "own usual"]
LedgerPartName = Literal["lane", "ball", "line", "entry", "carry", "entry and carry", "leave", "spare", "foul", "order"]


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
