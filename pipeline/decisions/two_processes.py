"""A report made in two processes: what the second one fits and decides, and what it hands back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from pipeline.decisions.arsenal.verdicts import everybodys_balls
from pipeline.decisions.decide import second_answers
from pipeline.decisions.parts import EITHER, Answered
from pipeline.decisions.period import in_period
from pipeline.decisions.scope import Scope, restricted
from pipeline.errors import FAILED_NUMBERS
from pipeline.models.fits import Fits, fit_all, fit_all_but_worth
from pipeline.models.fitted import Fitted
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store.season import Season, open_season
from pipeline.store.second_process import Beside, SecondProcess, Take, second_process, tickets
from pipeline.store.shelf import Key, Made, Shelf
from pipeline.store.shown import with_period


@dataclass(frozen=True)
class Asked:
    """The scope of a report: bowlers, and nights by the name of a season or by dates."""

    people: Scope
    named: str | None = None
    since: dt.date | None = None
    until: dt.date | None = None

    def nights(self, opened: Season) -> Season:
        """The season just opened, with the period asked for."""
        return with_period(opened, self.named, self.since, self.until)

    def fits(
        self, season: Season, shelf: Shelf | None, progress: Progress | None, beside: Callable[[], None] | None = None
    ) -> Fits:
        """The models of the season, fitted or taken from the shelf; ``beside`` as in ``fit_all``."""
        return fit_all(season, season.settings, progress, self.people.bowlers, shelf, beside)

    def of(self, opened: Season, fits: Fits) -> Fitted:
        """The season just opened and its fits, limited to the scope; the shelf is opened anew."""
        season = self.nights(opened)
        shelf = fits.shelf
        return self.within(season, fits if shelf is None else fits.on(shelf.opened_anew(season.connection)))

    def within(self, season: Season, fits: Fits) -> Fitted:
        """The same for a season that knows its period."""
        return in_period(restricted(Fitted(season, fits), self.people))


@dataclass(frozen=True)
class Brought:
    """Answers by place in ``PARTS``, and the parts computed for them that are to be kept; None if they cannot be."""

    answered: dict[int, Answered]
    made: dict[str, Made] | None


def fit_in_two(database: Path, settings: Settings, asked: Asked, shelf: Shelf, progress: Progress | None) -> Fits:
    """Fit a season that is not large: the worth model here, the others in a second process; kept fits are taken.

    Errors and models are those of ``fit_all``; ``shelf`` holds the models.
    """
    if shelf.holds("worth"):
        with open_season(database, settings) as opened:
            return asked.fits(asked.nights(opened), shelf.opened_anew(opened.connection), progress)
    work = partial(other_fits_beside, database, settings, asked, shelf.key)
    with second_process(work) as second, open_season(database, settings) as opened:
        season = asked.nights(opened)
        here = shelf.opened_anew(season.connection)

        def wait() -> None:
            if second is not None:
                here.add(second.result())

        return asked.fits(season, here, progress, wait)


def other_fits_beside(database: Path, settings: Settings, asked: Asked, key: Key) -> dict[str, Made]:
    """Open the season in this process, and make for the shelf of ``key`` everything that does not need the worth model.

    What could not be made is left out: the first process will meet the same failure.
    """
    with open_season(database, settings) as opened:
        season = asked.nights(opened)
        shelf = Shelf(season.connection, key, fresh=True)
        fits = fit_all_but_worth(season, season.settings, shelf)
        with suppress(*FAILED_NUMBERS):
            everybodys_balls(Fitted(season, fits))
    return shelf.made


def answers_beside(database: Path, settings: Settings, fits: Fits, asked: Asked, take: Take) -> Brought:
    """Open the season in this process, and answer its share of the questions."""
    with open_season(database, settings) as opened:
        answered = second_answers(asked.of(opened, fits), take)
    shelf = fits.shelf  # it holds what the shelf opened here has made
    return Brought(answered, None if shelf is None or shelf.closed else shelf.made)


@contextmanager
def fitted_in_two(
    database: Path, settings: Settings, asked: Asked, shelf: Shelf, progress: Progress | None
) -> Iterator[Fitted]:
    """The fitted scope of a database not open here, with a second process at work on some of the answers.

    Both put what they fit or compute on the shelf.
    """
    fits = fit_in_two(database, settings, asked, shelf, progress)
    with tickets(len(EITHER)) as take:
        work = partial(answers_beside, database, settings, fits, asked, take)
        with second_process(work) as second, open_season(database, settings) as opened:
            beside = None if second is None else Beside(take, waiting_for(second, shelf))
            yield replace(asked.of(opened, fits), beside=beside)


def waiting_for(second: SecondProcess[Brought], shelf: Shelf) -> Callable[[], dict[int, Answered]]:
    """A function that waits for the second process's answers, and puts what it computed on the shelf."""

    def wait() -> dict[int, Answered]:
        brought = second.result()
        shelf.add(brought.made)
        return brought.answered

    return wait
