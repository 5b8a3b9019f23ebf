"""What is left standing, and strikes by entry board."""

from __future__ import annotations

from pydantic import Field

from pipeline.decisions.records.base import Estimate, Record


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
