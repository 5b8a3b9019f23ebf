"""A report decided on in two processes: what the second one does, and what it hands back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pipeline.decisions.decide import Answered, ledger_and_checks
from pipeline.decisions.period import in_period
from pipeline.decisions.scope import Scope, about
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from pipeline.store.kept import Made, Shelf
from pipeline.store.season import Season, open_season
from pipeline.store.second_process import SecondProcess
from pipeline.store.shown import with_period


@dataclass(frozen=True)
class Asked:
    """What a report is about: the people, and the nights, by the name of a season or by dates."""

    people: Scope
    named: str | None = None
    since: dt.date | None = None
    until: dt.date | None = None

    def of(self, opened: Season, fits: Fits) -> Fitted:
        """What is asked about, of a season just opened and the models fitted to it; their shelf reads from it."""
        season = with_period(opened, self.named, self.since, self.until)
        if fits.shelf is not None:
            fits.shelf.connection = season.connection
        return self.within(season, fits)

    def within(self, season: Season, fits: Fits) -> Fitted:
        """The same of a season that knows its period."""
        return in_period(about(Fitted(season, fits), self.people))


@dataclass(frozen=True)
class Brought:
    """Answers, and what was computed for them that is to be kept with the fits; None if some of it cannot be kept."""

    answered: Answered
    made: dict[str, Made] | None


def ledger_and_checks_beside(database: Path, settings: Settings, fits: Fits, asked: Asked) -> Brought:
    """Open the season for this process, and answer ``ledger_and_checks`` of what is asked about."""
    with open_season(database, settings) as opened:
        answered = ledger_and_checks(asked.of(opened, fits))
    shelf = fits.shelf
    return Brought(answered, None if shelf is None or shelf.closed else shelf.made)


def waiting_for(second: SecondProcess[Brought], shelf: Shelf) -> Callable[[], Answered]:
    """A function that waits for what the second process answers, and puts what it computed on the shelf."""

    def wait() -> Answered:
        found = second.result()
        shelf.add(found.made)
        return found.answered

    return wait
