"""The season itself: who bowled, what was refused, what has no answer."""

from __future__ import annotations

import datetime as dt

from pydantic import Field

from pipeline.decisions.records.base import Record


class BowlerCard(Record):
    """One bowler of the season."""

    bowler: str = Field(description="bowler id (an alias with --alias)")
    name: str = Field(description="name to show (an alias with --alias)")
    hand: str = Field(description="right or left")
    style: str = Field(description="one-handed or two-handed")
    coach: str | None = Field(description="id of the bowler's coach, if there is one")
    minor: bool = Field(description="true if the birth year makes the bowler under 18 in the season's last year")
    games: int = Field(description="games logged")
    shots: int = Field(description="first deliveries logged")
    games_complete: int = Field(description="games with every frame logged, which alone have a score")
    average: float | None = Field(description="mean score of the complete games; None if no game is complete")
    strike_rate: float = Field(description="strikes per first delivery, unadjusted")


class RefusedFile(Record):
    """One file of logs that could not be used at all."""

    file: str = Field(description="the file, with its folder (an alias with --alias)")
    problem: str = Field(description="what is wrong with it and how to mend it")
    rows_kept: int = Field(description="rows of an earlier version of the file that are still in use")


class ReportPeriod(Record):
    """The nights a report was asked about, both days included."""

    season: str | None = Field(description="name of the season in the settings; None if dates were given")
    first: dt.date = Field(description="first day")
    last: dt.date = Field(description="last day")


class SeasonSummary(Record):
    """What was logged, and what was not."""

    period: ReportPeriod | None = Field(None, description="the nights asked about; None for the whole log")
    beside: ReportPeriod | None = Field(None, description="the season before, for comparison; None if there is none")
    first_date: dt.date
    last_date: dt.date
    bowlers: list[BowlerCard]
    blocks: int
    games: int
    deliveries: int
    rows_read: int = Field(description="data rows read from shot files")
    rows_quarantined: int
    rows_repaired: int = Field(description="rows whose leave was recovered from a date or from slashes")
    refused_files: list[RefusedFile] = Field(description="files whose last load refused them; their rows are missing")
    share_logged: dict[str, float] = Field(description="optional column -> share of first deliveries with a value")
    notes: list[str] = Field(description="sentences about what the models lacked")


class LeftOut(Record):
    """One question of the report that has no answer, and why; the others stand."""

    question: str
    reason: str
