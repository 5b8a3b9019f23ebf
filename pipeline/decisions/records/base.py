"""What every record shares: its base, and an estimate with its intervals."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Phase = Literal["fresh", "transition", "late"]
PHASES: tuple[Phase, ...] = ("fresh", "transition", "late")


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
