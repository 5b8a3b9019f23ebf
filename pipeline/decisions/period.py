"""Which nights a report is about: some out of all those that the models learned from.

The models, how balls age, the class and the rules of thumb are learned from the whole log. What was scored, thrown and
left, the average that worth is measured against, and the bag are those of the period.
"""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from dataclasses import replace
from typing import Any

import pandas as pd

from pipeline.decisions.beside.changes import BESIDE, compare
from pipeline.decisions.plan.block_plan import patterns_bowled
from pipeline.decisions.scope import rates_of
from pipeline.errors import FAILED_NUMBERS
from pipeline.models.fits import Fits, Unfitted
from pipeline.models.season_mix import season_rates
from pipeline.models.skills.skill import FIRST, LAST
from pipeline.models.strikes.stretches import stretches
from pipeline.models.strikes.strike_worth import WorthFit
from pipeline.store.period import Period, asked_period, empty
from pipeline.store.season import Season
from queries import sql

_BEGIN = ("scope/held_thirds", "scope/thirds_of_period", "scope/held_ball_games", "scope/ball_games_of_log")
_TABLES = ("scope/period_deliveries", "scope/period_first_balls", "scope/period_balls")
_LOOKS = ("scope/deliveries_in_period", "scope/first_balls_in_period", "scope/balls_in_period")
_LEARNED = ("class usual",)
"""What two seasons share, by the name it is kept under."""
_OF_THE_PERIOD = ("game shapes",)
"""What is counted again of the period alone, by the name it is kept under with the fits."""


def about_period(
    season: Season, name: str | None = None, since: dt.date | None = None, until: dt.date | None = None
) -> Season:
    """The season with the period a report is about; everything is still shown, and nothing changes if none is asked.

    Args:
        season: just opened.
        name: of a season in the settings.
        since, until: first and last day.

    Raises:
        PeriodError: no such season, or no delivery in the period.
    """
    logged = season.frame("scope/log_dates")
    if logged.isna().any(axis=None):
        return season  # nothing is loaded, which is refused with its own words
    days = pd.Timestamp(logged["first_date"][0]).date(), pd.Timestamp(logged["last_date"][0]).date()
    period = asked_period(season.settings, days, name, since, until)
    if period is None:
        return season
    if period.before is not None:
        _choose(season, period.before, period)
        season.connection.execute(sql("scope/held_seasons"))
    if not _blocks_of(season, period):
        raise empty(period, days)
    for query in _BEGIN:
        season.connection.execute(sql(query))
    season.fill("held_combinations", season.frame("cells/logged_combinations"))
    return replace(season, period=period, held={})


def _choose(season: Season, *periods: Period) -> None:
    """Put the dates of periods that do not overlap beside the tables, the earlier as the first third of two."""
    dates = pd.DataFrame({"since": [p.since for p in periods], "until": [p.until for p in periods]})
    season.fill("chosen_dates", dates.assign(third=[FIRST, LAST][-len(periods) :]))


def _blocks_of(season: Season, *periods: Period) -> list[str]:
    """Make ``period_blocks`` those of the periods; returns them."""
    _choose(season, *periods)
    season.connection.execute(sql("scope/period_blocks"))
    return _chosen_blocks(season)


def _chosen_blocks(season: Season) -> list[str]:
    """The blocks that ``period_blocks`` holds now."""
    return season.connection.table("period_blocks").df()["block"].astype(str).tolist()


def within(season: Season, fits: Fits) -> Fits:
    """From here on let ``season`` show its period alone; returns the fits with the rates of the period.

    Whatever was learned with the fits so far stays.
    """
    if season.period is None:
        return fits
    return _narrowed(season, season.period, fits, _beside_the_last(season, fits))


def narrowed(season: Season, fits: Fits) -> Fits:
    """As ``within`` for a plan, which sets nothing beside the last season; ``fits`` hold whom it is for."""
    if season.period is None:
        return fits
    patterns_bowled(season, fits)  # on all nights, before they are out of sight
    return _narrowed(season, season.period, fits, {})


def _narrowed(season: Season, period: Period, fits: Fits, beside: dict[str, Any]) -> Fits:
    _narrow(season)
    last = _last_stretch(season)
    note = f"This report is about {period.text}; the models learn from every night loaded."
    return replace(
        fits,
        worth=_worth_then(fits.worth, last),
        conversion=fits.conversion.at(last),
        rates=rates_of(season_rates(season), list(fits.rates.shots)),
        notes=(note, *fits.notes),
        cache={name: value for name, value in fits.cache.items() if name not in _OF_THE_PERIOD} | beside,
    )


def _last_stretch(season: Season) -> str:
    """The stretch of the last nights of the period, for which its report predicts."""
    blocks = set(_chosen_blocks(season))
    return max(stretch for block, stretch in stretches(season).items() if block in blocks)


def _worth_then(worth: WorthFit, last: str) -> WorthFit:
    """The worth model as it predicts for a stretch."""
    if isinstance(worth, Unfitted) or worth.now in (None, last):
        return worth
    return replace(worth, now=last)


def _narrow(season: Season) -> None:
    for query in (*_TABLES, *_LOOKS):
        season.connection.execute(sql(query))
    season.held.clear()


def _beside_the_last(season: Season, fits: Fits) -> dict[str, Any]:
    """What is kept with the fits of this season beside the last, if there is one: the season shows both meanwhile."""
    period = season.period
    if period is None or period.before is None:
        return {}
    earlier = frozenset(_blocks_of(season, period.before))
    _blocks_of(season, period.before, period)
    _narrow(season)
    both = replace(fits, cache={name: fits.cache[name] for name in (*_LEARNED, BESIDE) if name in fits.cache})
    with suppress(*FAILED_NUMBERS):  # kept, and met when it is asked for
        both.once(BESIDE, lambda: compare(season, both, earlier) if earlier else [])
    _blocks_of(season, period)
    return {BESIDE: both.cache[BESIDE]}
