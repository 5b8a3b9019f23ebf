"""The stretch of nights a report is about: a season named in the settings, or from one date to another.

It narrows what is reported, never what the models learn from. A block belongs to the day it began on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from difflib import get_close_matches

from pipeline.errors import RackledgerError
from pipeline.settings import SeasonDates, Settings


class PeriodError(RackledgerError):
    """An unknown season, or dates without a delivery; the message says which there are."""


@dataclass(frozen=True)
class Period:
    """Nights from ``since`` to ``until``, inclusive; ``name`` if it is a season of the settings.

    ``before`` is the stretch it is compared with: the season before, or the same number of days right before
    ``since``; None if there is none.
    """

    since: dt.date
    until: dt.date
    name: str | None = None
    before: Period | None = None

    @property
    def text(self) -> str:
        """As a sentence names it, without the season before."""
        days = f"{self.since.isoformat()} to {self.until.isoformat()}"
        return days if self.name is None else f"{self.name}, {days}"


def nights(period: Period | None) -> str:
    """The name under which answers about these nights are kept."""
    return "on all nights" if period is None else f"from {period.since} to {period.until}"


def asked_period(
    settings: Settings,
    logged: tuple[dt.date, dt.date],
    season: str | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
) -> Period | None:
    """The period asked for; None for everything.

    Args:
        settings: holds the seasons by name.
        logged: first and last day of the log, the defaults of dates not given.
        season: name of a season; excludes dates.
        since, until: first and last day.

    Raises:
        PeriodError: an unknown season, a season together with dates, or a first day after the last.
    """
    if season is None and since is None and until is None:
        return None
    if season is not None:
        if since is not None or until is not None:
            raise PeriodError(
                "A season has its own dates. Give --season, or --since and --until, not both; or season=... alone."
            )
        return _named(settings.seasons, season)
    first, last = since or logged[0], until or logged[1]
    if first > last:
        raise PeriodError(_nothing(f"{first.isoformat()} to {last.isoformat()}", logged))
    earlier = None
    if since is not None and first > logged[0]:
        earlier = Period(first - (last - first) - dt.timedelta(days=1), first - dt.timedelta(days=1))
    return Period(first, last, None, earlier)


def empty(period: Period, logged: tuple[dt.date, dt.date]) -> PeriodError:
    """The error of a period without a delivery."""
    return PeriodError(_nothing(period.text, logged))


def _nothing(period: str, logged: tuple[dt.date, dt.date]) -> str:
    return (
        f"No delivery was logged in {period}. The log has {logged[0].isoformat()} to {logged[1].isoformat()}; "
        "choose dates within it."
    )


def _named(seasons: dict[str, SeasonDates], name: str) -> Period:
    if name not in seasons:
        raise PeriodError(f"There is no season {name!r} in the settings. {_known(name, list(seasons))}")
    dates = seasons[name]
    earlier = [(other.last, other.first, key) for key, other in seasons.items() if other.last < dates.first]
    last, first, key = max(earlier, default=(None, None, None))
    before = None if last is None or first is None else Period(first, last, key)
    return Period(dates.first, dates.last, name, before)


def _known(name: str, known: list[str]) -> str:
    if not known:
        return (
            'Name it in the file given with --settings: a section [seasons."'
            f'{name}"] with the dates first and last, or give --since and --until.'
        )
    close = get_close_matches(name, known, 1)
    return f"The nearest is {close[0]!r}." if close else f"Known are {', '.join(map(repr, known))}."
