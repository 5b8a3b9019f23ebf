"""What the queries of a season show: everything, or some bowlers and nights.

A report about less has a separate season and connection, in which ``deliveries``, ``first_balls`` and ``balls`` hold
fewer rows. The season it was made from still shows everything.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from pipeline.store.period import Period, asked_period, empty
from pipeline.store.season import Season, prepare
from queries import sql

FIRST, LAST = 1, 3
"""First and last third of a season, or the season before and this one if two are compared."""
_OF_BOWLERS = ("scope/scoped_first_balls", "scope/scoped_deliveries", "scope/scoped_balls")
_SHOW_BOWLERS = ("scope/first_balls_in_scope", "scope/deliveries_in_scope", "scope/balls_in_scope")
_VIEWS_OVER_DELIVERIES = (
    "views/ball_games",
    "views/ball_use",
    "views/care_games",
    "views/care_so_far",
    "views/season_thirds",
    "views/frame_states",
)
_OF_NIGHTS = ("scope/period_deliveries", "scope/period_first_balls", "scope/period_balls")
_SHOW_NIGHTS = ("scope/deliveries_in_period", "scope/first_balls_in_period", "scope/balls_in_period")
_HOLD_WHOLE_LOG = ("scope/held_thirds", "scope/thirds_of_period", "scope/held_ball_games", "scope/ball_games_of_log")
_NEAR = ("scope/nearby_deliveries", "scope/deliveries_nearby")  # spares a large season a look at every pair
_FAR = ("scope/drop_nearby_deliveries",)


def with_period(
    season: Season, name: str | None = None, since: dt.date | None = None, until: dt.date | None = None
) -> Season:
    """The season with the period a report is about, still showing everything; unchanged if no period is asked for.

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
    if not blocks_of(season, period):
        raise empty(period, days)
    _hold_whole_log(season, period)
    return replace(season, period=period, held={})


def shown(season: Season, bowlers: Sequence[str] | None = None, nights: Sequence[Period] = ()) -> Season:
    """A season whose queries show these bowlers (None: all) on these nights (none: all), up to two periods.

    The load of a pair still counts everybody, and a ball's age counts the whole log.
    """
    made = _again(season)
    if nights:
        _choose_blocks(made, *nights)
    if bowlers is not None:
        _show_bowlers(made, bowlers)
    if nights:
        for query in (*_OF_NIGHTS, *_SHOW_NIGHTS):
            made.connection.execute(sql(query))
    return replace(made, held={})


def with_two_seasons_as_thirds(season: Season) -> Season:
    """A season that shows everything, with the season before as first third and this one as last."""
    made = _again(season)
    made.connection.execute(sql("scope/seasons_as_thirds"))
    return replace(made, held={})


def blocks_of(season: Season, period: Period) -> frozenset[str]:
    """The blocks that began within a period."""
    return frozenset(season.frame("scope/blocks_between", since=period.since, until=period.until)["block"].astype(str))


def _again(season: Season) -> Season:
    """The same season over another connection, showing everything."""
    connection = season.connection.cursor()
    season.others.append(connection)
    made = replace(prepare(connection, season.settings), others=season.others, of_large_log=season.of_large_log)
    if season.period is not None:
        _hold_whole_log(made, season.period)
    return replace(made, period=season.period)


def _hold_whole_log(season: Season, period: Period) -> None:
    """Make tables of what is counted over the whole log, whatever is shown later, and the thirds of the period."""
    if period.before is not None:
        _choose_dates(season, period.before, period)
        season.connection.execute(sql("scope/held_seasons"))
    _choose_blocks(season, period)
    for query in _HOLD_WHOLE_LOG:
        season.connection.execute(sql(query))
    season.fill("held_combinations", season.frame("cells/logged_combinations"))


def _choose_dates(season: Season, *periods: Period) -> None:
    """Make a table of the dates of periods that do not overlap, the earlier as the first of two thirds."""
    dates = pd.DataFrame({"since": [p.since for p in periods], "until": [p.until for p in periods]})
    season.fill("period_dates", dates.assign(third=[FIRST, LAST][-len(periods) :]))


def _choose_blocks(season: Season, *periods: Period) -> None:
    _choose_dates(season, *periods)
    season.connection.execute(sql("scope/period_blocks"))


def _show_bowlers(season: Season, bowlers: Sequence[str]) -> None:
    connection = season.connection
    connection.register("bowlers_shown", pd.DataFrame({"bowler": pd.array(list(bowlers), dtype="string")}))
    before, after = (_NEAR, _FAR) if season.of_large_log else ((), ())
    views = _VIEWS_OVER_DELIVERIES if season.period is None else ()  # a period holds its own of them
    for name in (*before, *_OF_BOWLERS, *_SHOW_BOWLERS, *views, *after):
        connection.execute(sql(name))
    connection.unregister("bowlers_shown")
