"""Every threshold of the trade and every cost, in one validated place.

Defaults are facts of common practice unless a field's description names another source. A TOML file given
with ``--settings`` replaces any of them; an unknown name or a value out of range is refused by name.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from pipeline.errors import RackledgerError

_LONGEST = 60  # characters shown of a faulty name or value


class SettingsError(RackledgerError):
    """A settings file that cannot be used; the message names the file, the entry and the mend."""


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class BallLimits(_Section):
    """Where ball classes begin and end. Source: common practice, within the published ball specification."""

    rg_low_to: float = Field(2.515, ge=2.4, le=2.8, description="RG in inches below which a ball is low RG")
    rg_high_from: float = Field(2.565, ge=2.4, le=2.8, description="RG in inches from which a ball is high RG")
    diff_low_to: float = Field(0.0255, ge=0, le=0.06, description="differential (in) up to which it is low")
    diff_high_from: float = Field(0.0465, ge=0, le=0.06, description="differential (in) from which it is high")
    dull_to_grit: int = Field(1500, ge=100, le=10000, description="surface grit up to which a cover is dull")
    polished_from_grit: int = Field(4000, ge=100, le=10000, description="surface grit from which it is polished")


class PatternLimits(_Section):
    """Where pattern classes begin and end. Source: common practice."""

    short_to_ft: float = Field(37, ge=20, le=60, description="length in feet up to which a pattern is short")
    long_from_ft: float = Field(43, ge=20, le=60, description="length in feet from which a pattern is long")
    light_to_ml: float = Field(22, ge=1, le=60, description="volume in mL below which a pattern is light")
    heavy_from_ml: float = Field(27, ge=1, le=60, description="volume in mL from which a pattern is heavy")


class PocketLimits(_Section):
    """Entry boards from the bowler's own side.

    Source of the centre: coaching articles quoting a governing body's study, best strike percentage at
    entry board 17-18; the widths of light and high are common practice.
    """

    centre_board: float = Field(17.5, ge=10, le=25, description="entry board with the best carry")
    half_width: float = Field(1.0, gt=0, le=4, description="boards either side still called pocket")
    light_width: float = Field(1.5, gt=0, le=6, description="boards below the pocket still called light")
    brooklyn_from: float = Field(20.5, ge=18, le=30, description="entry board from which it crossed the head pin")


class BlockPhases(_Section):
    """How a block of games is cut into phases. Source: common practice."""

    fresh_to_game: int = Field(2, ge=1, le=20, description="last game of the fresh phase")
    transition_to_game: int = Field(4, ge=1, le=30, description="last game of the transition phase; then late")


class Evidence(_Section):
    """The evidence a report needs to name a choice. Our own choice; change it to be bolder or more careful."""

    settled_probability: float = Field(0.90, gt=0.5, lt=1, description="P(best) from which a choice is called settled")
    best_probability: float = Field(
        0.80, gt=0.5, lt=1, description="probability from which any other call is made, as of a resurfacing or a habit"
    )
    min_shots: int = Field(
        20, ge=1, le=1_000_000, description="first deliveries below which a combination is not ranked"
    )
    interval_width_pins: float = Field(25, ge=1, le=300, description="80 % interval wider than this: not enough shots")
    draws: int = Field(1000, ge=200, le=20000, description="posterior draws behind every interval")
    seed: int = Field(20260901, ge=0, lt=2**63, description="seed of every random draw, so a report can be repeated")


class Costs(_Section):
    """Costs behind the arsenal verdict, as pins per game a ball must win back. Our own choice; edit freely."""

    games_ahead: int = Field(60, ge=1, le=10_000, description="games until the next look at the ball")
    clean: float = Field(0.3, ge=0, le=300, description="cost of a clean, in pins per game over games_ahead")
    resurface: float = Field(1.5, ge=0, le=300, description="cost of a resurfacing, in pins per game over games_ahead")
    retire: float = Field(
        4.0, ge=0, le=300, description="cost of replacing the ball, in pins per game over games_ahead"
    )
    resurface_every_games: float = Field(
        60,
        gt=0,
        le=10_000,
        description="games after which a resurfacing is usual (50-100 by common practice, from memory)",
    )


def _plain_day(value: object) -> object:
    """Only a date or its text: a bare number would be read as seconds since 1970."""
    if isinstance(value, str) or type(value) is dt.date:
        return value
    raise ValueError("not a date")


Day = Annotated[dt.date, BeforeValidator(_plain_day)]


class SeasonDates(_Section):
    """First and last day of a season with a name, both included."""

    first: Day = Field(description="first day of the season")
    last: Day = Field(description="last day of the season")

    @model_validator(mode="after")
    def _in_order(self) -> SeasonDates:
        if self.first > self.last:
            raise ValueError(f"first ({self.first}) must not be after last ({self.last})")
        return self


class Practice(_Section):
    """The practice session that is proposed. Our own choice; edit freely."""

    games: int = Field(6, ge=1, le=20, description="games of a practice session")
    least_gain: float = Field(0.3, ge=0, le=50, description="pins per game under which no practice is proposed")


class Settings(BaseModel):
    """All settings; every section has defaults, and ``seasons`` names none."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    ball: BallLimits = BallLimits()
    pattern: PatternLimits = PatternLimits()
    pocket: PocketLimits = PocketLimits()
    phases: BlockPhases = BlockPhases()
    evidence: Evidence = Evidence()
    costs: Costs = Costs()
    practice: Practice = Practice()
    seasons: dict[str, SeasonDates] = Field({}, description="seasons by name, for --season")

    @model_validator(mode="after")
    def _limits_are_in_order(self) -> Settings:
        pairs = [
            ("ball.rg_low_to", self.ball.rg_low_to, "ball.rg_high_from", self.ball.rg_high_from),
            ("ball.diff_low_to", self.ball.diff_low_to, "ball.diff_high_from", self.ball.diff_high_from),
            (
                "pattern.short_to_ft",
                self.pattern.short_to_ft,
                "pattern.long_from_ft",
                self.pattern.long_from_ft,
            ),
            (
                "pattern.light_to_ml",
                self.pattern.light_to_ml,
                "pattern.heavy_from_ml",
                self.pattern.heavy_from_ml,
            ),
            (
                "phases.fresh_to_game",
                self.phases.fresh_to_game,
                "phases.transition_to_game",
                self.phases.transition_to_game,
            ),
        ]
        for low_name, low, high_name, high in pairs:
            if low >= high:
                raise ValueError(f"{low_name} ({low}) must be less than {high_name} ({high})")
        return self


def read_settings(path: Path | None) -> Settings:
    """Read a TOML settings file; the defaults if ``path`` is None.

    Raises:
        SettingsError: the file cannot be read, is not TOML, or holds an unknown name or a bad value.
    """
    if path is None:
        return Settings()
    try:
        return Settings.model_validate(tomllib.loads(path.read_text(encoding="utf-8-sig")))
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read ({error.strerror}). Give a readable TOML file.") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path}: is not UTF-8 text. Save it as UTF-8.") from error
    except ValidationError as error:
        raise SettingsError(f"{path}: {_fault(error.errors()[0])}.") from error
    except (ValueError, RecursionError) as error:  # bad TOML, a number of thousands of digits, endless brackets
        raise SettingsError(f"{path}: is not valid TOML ({error}). Mend that line.") from error


def _fault(error: ErrorDetails) -> str:
    """The fault of the first bad entry, what was expected, and how to mend it."""
    place = [str(part)[:_LONGEST] for part in error["loc"]]
    if place[:1] == ["seasons"]:
        return _season_fault(place, error)
    if error["type"] == "extra_forbidden":
        return _unknown(place)
    if error["type"] == "value_error":
        return f"{error['msg'].removeprefix('Value error, ')}; correct one of the two"
    if error["type"] == "model_type":
        return f"{place[0]} is a section, not a value; write [{place[0]}] on a line of its own, its entries below"
    expected = error["msg"].removeprefix("Input should be ").partition(",")[0]
    expected = expected.replace("valid integer", "whole number").replace("valid number", "number")
    expected = expected if expected.startswith("a ") else f"a number {expected}"
    return f"{'.'.join(place)} is {repr(error['input'])[:_LONGEST]}, expected {expected}; correct it or leave it out"


def _season_fault(place: list[str], error: ErrorDetails) -> str:
    where, expected = ".".join(place), "each a date like 2025-09-01"
    if error["type"] == "missing":
        return f"{where} is missing; give the season's first and last day, {expected}"
    if error["type"] == "value_error" and len(place) == 2:
        return f"{where}: {error['msg'].removeprefix('Value error, ')}; correct one of the two"
    if error["type"] == "extra_forbidden":
        return f"{where} is no entry of a season; give first and last, {expected}"
    return f"{where} is {repr(error['input'])[:_LONGEST]}; write first and last below [seasons.NAME], {expected}"


def _unknown(place: list[str]) -> str:
    sections = {name: list(type(part).model_fields) for name, part in Settings() if isinstance(part, BaseModel)}
    name = place[-1]
    if len(place) > 1:
        return f"[{place[0]}] has no entry {name}; {_instead(name, sections[place[0]])}"
    homes = [section for section, entries in sections.items() if name in entries]
    if homes:
        return f"{name} stands outside its section; write [{homes[0]}] on a line above it"
    return f"there is no section [{name}]; {_instead(name, [*sections, 'seasons'])}"


def _instead(name: str, known: list[str]) -> str:
    close = get_close_matches(name, known, 1)
    return f"the nearest is {close[0]}" if close else f"use one of {', '.join(known)}"
