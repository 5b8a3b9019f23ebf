"""Options that several commands of ``rackledger`` share, and how a number is read."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypedDict

import click

database = click.option(
    "--db",
    "database",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("season.duckdb"),
    show_default=True,
    help="The season's database file.",
)
settings = click.option(
    "--settings",
    "settings_file",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="TOML file that replaces default limits and costs.",
)
columns = click.option(
    "--columns",
    "column_map",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="TOML file mapping your column names to ours.",
)
alias = click.option("--alias", is_flag=True, help="Replace every name and id, to share reports about minors.")
alias_key = click.option(
    "--alias-key",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="With --alias: also write a CSV that says who is who. Keep it to yourself.",
)
title = click.option("--title", default="Season", show_default=True, help="Heading of the reports.")
about = click.option(
    "--about",
    multiple=True,
    metavar="ID",
    help="Limit the report to this bowler (id or name); repeat for more; 'all' for everyone [default: up to 24, those "
    "with most shots].",
)
_QUIET = "rackledger.quiet"
_REFIT = "rackledger.refit"


def _note_quiet(context: click.Context, _: click.Parameter, value: bool) -> None:
    context.meta[_QUIET] = value


def is_quiet() -> bool:
    """Whether the command that runs was given --quiet."""
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(_QUIET))


def _note_refit(context: click.Context, _: click.Parameter, value: bool) -> None:
    context.meta[_REFIT] = value


def is_refit() -> bool:
    """Whether the command that runs was given --refit."""
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(_REFIT))


refit = click.option(
    "--refit",
    is_flag=True,
    expose_value=False,
    callback=_note_refit,
    help="Fit the models again, even if nothing changed since the last fit.",
)


class Day(click.ParamType):
    """A date, year first."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dt.date:
        """``value`` as a date, or a usage error."""
        try:
            return dt.date.fromisoformat(str(value).strip())
        except ValueError:
            self.fail(f"{value!r} is not a date; write it year first, as in 2025-09-30.", param, ctx)


class Nights(TypedDict):
    """The arguments of ``api.fit`` that choose the nights of a report."""

    named: str | None
    since: dt.date | None
    until: dt.date | None


_PERIOD = "rackledger.period"


def _note_period(context: click.Context, parameter: click.Parameter, value: Any) -> None:
    context.meta.setdefault(_PERIOD, {})[parameter.name] = value


def period(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options that choose the nights of a report; see ``asked_nights``."""
    season = click.option(
        "--season",
        "named",
        metavar="NAME",
        expose_value=False,
        callback=_note_period,
        help="Cover this season of the settings file only; the models learn from every night.",
    )
    since, until = (
        click.option(f"--{name}", type=Day(), metavar="DATE", expose_value=False, callback=_note_period, help=text)
        for name, text in (
            ("since", "Cover nights from this day on, e.g. 2025-09-30."),
            ("until", "Cover nights up to and including this day."),
        )
    )
    return season(since(until(command)))


def asked_nights() -> Nights:
    """The nights the command that runs was asked about."""
    context = click.get_current_context(silent=True)
    asked = context.meta.get(_PERIOD, {}) if context else {}
    return Nights(named=asked.get("named"), since=asked.get("since"), until=asked.get("until"))


quiet = click.option(
    "--quiet",
    "-q",
    is_flag=True,
    expose_value=False,
    callback=_note_quiet,
    help="Print nothing but failures; the exit code says how it went.",
)
out = click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("reports_out"),
    show_default=True,
    help="Folder for the HTML reports.",
)


class Number(click.FloatRange):
    """A number within bounds, with or without its ``unit`` behind it; ``nan`` is within none."""

    name = "number"

    def __init__(self, low: float, high: float, unit: str) -> None:
        super().__init__(low, high)
        self.unit = unit

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """``value`` as a number, or a usage error."""
        bare: Any = str(value).strip().lower().removesuffix(self.unit).strip()
        number = float(super().convert(bare, param, ctx))
        if math.isnan(number):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number
