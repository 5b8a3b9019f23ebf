"""The four stages for scripts and notebooks, and what the command line itself calls: load, fit, decide, report.

    from pathlib import Path
    from pipeline import api

    api.load(Path("logs"), Path("season.duckdb"))
    with api.fit(Path("season.duckdb")) as fitted:
        decisions = api.decide(fitted)
    api.report(decisions, Path("reports"))

Every failure that a user can mend is a ``pipeline.errors.RackledgerError``. Each stage is imported when it is first
called, so that ``rackledger --help`` need not wait for the models.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.planning import plan, plan_event
from pipeline.progress import Progress, part
from pipeline.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.decisions.records import Decisions
    from pipeline.intake.report import LoadReport
    from pipeline.models.fitted import Fitted
    from pipeline.store.shelf import Shelf
__all__ = [
    "Progress", "decide", "decide_hidden", "fit", "load", "part", "plan", "plan_event", "report", "write_ledger",
    "write_whole_ledger",
]  # fmt: skip


def load(
    folder: Path,
    database: Path,
    *,
    columns: Path | None = None,
    progress: Progress | None = None,
) -> LoadReport:
    """Load a folder of CSV logs: good rows into the database, the others into quarantine with a reason.

    Args:
        folder: holds ``shots*.csv`` and the CSV files that describe bowlers, balls, patterns, blocks and care.
        database: the season's DuckDB file; made if it is missing.
        columns: TOML file that maps your column names to ours.
        progress: called with each stage.

    Returns:
        What each file gave; ``incomplete`` says whether rows were set aside or a file was refused.

    Raises:
        IntakeError: nothing could be loaded; the database is as it was.
    """
    from pipeline.intake import load_folder

    return load_folder(folder, database, columns, part(progress, 0.0, 1.0))


@contextmanager
def fit(
    database: Path,
    *,
    settings: Settings | None = None,
    about: Sequence[str] = (),
    named: str | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
    refit: bool = False,
    in_two: bool = False,
    at_end: ExitStack | None = None,
    progress: Progress | None = None,
) -> Iterator[Fitted]:
    """Open a season, fit every model to it, and limit decisions to the bowlers in ``about``.

    Fits are kept in the database when the ``with`` block ends, and reused until data, settings or program change. A
    database that cannot be written stays as it is.

    The models learn from everybody, whoever is in ``about``. Unknown bowlers are refused before anything is fitted.

    Args:
        database: a DuckDB file that ``load`` made.
        settings: limits and costs; the defaults if None.
        about: ids or names of bowlers, or ``all``; empty for all, or in a large club for those with most shots.
        named: a season of the settings that decisions are about; the models learn from all nights.
        since, until: first and last day that decisions are about, instead of a season's name.
        refit: fit again, even if fits are kept.
        in_two: let a second process compute part of the decisions, if there is a core for it; the decisions are the
            same. It is forked from this one, so a program with threads should not ask for it.
        at_end: let a second process write the fits after the ``with`` block, if there is a core for it; they are
            written when this stack is closed, and until then the database must not be opened. The process is forked,
            as with ``in_two``.
        progress: called with each stage.

    Raises:
        IntakeError: the database is missing, damaged, or of another version.
        UnknownBowlerError: no first delivery of somebody in ``about`` is loaded.
        PeriodError: no such season, or no delivery in it.
        EmptySeasonError: no delivery is loaded.
    """
    from pipeline.decisions.decide import decisions_are_kept
    from pipeline.decisions.scope import resolve_bowlers
    from pipeline.decisions.two_processes import Asked, fitted_in_two
    from pipeline.store.season import open_season
    from pipeline.store.second_process import may_have_second
    from pipeline.store.shelf import Shelf
    from pipeline.store.shown import with_period

    settings = settings or Settings()
    with open_season(database, settings) as opened:
        season = with_period(opened, named, since, until)
        asked = Asked(resolve_bowlers(season, about), named, since, until)
        shelf = Shelf.of(season, asked.people.bowlers, fresh=refit)
        two = in_two and not season.large() and not decisions_are_kept(shelf, season.settings) and may_have_second()
        if not two:
            yield asked.within(season, asked.fits(season, shelf, progress))
    if two:  # a process is forked while no database is open
        with fitted_in_two(database, settings, asked, shelf, progress) as fitted:
            yield fitted
    _keep(shelf, database, at_end)


def _keep(shelf: Shelf, database: Path, at_end: ExitStack | None) -> None:
    """Write what was fitted, now or in a process of its own that ``at_end`` waits for."""
    from pipeline.store.second_process import finished_beside, may_have_second

    if at_end is not None and shelf.to_write() and may_have_second():
        at_end.enter_context(finished_beside(partial(shelf.write, database)))
    else:
        shelf.write(database)


def decide(fitted: Fitted, *, title: str = "Season", progress: Progress | None = None) -> Decisions:
    """Answer every question of the season, as typed records without any layout.

    Args:
        fitted: what ``fit`` gave; its ``with`` block must still be open.
        title: heading of the reports.
        progress: called with each part.

    Returns:
        The decisions; ``left_out`` says which questions could not be answered and why.

    Raises:
        EmptySeasonError: no delivery is loaded.
    """
    from pipeline.decisions.decide import decide as decide_all

    return decide_all(fitted, title, progress)


def decide_hidden(
    fitted: Fitted, *, title: str = "Season", progress: Progress | None = None
) -> tuple[Decisions, pd.DataFrame]:
    """The same with every name and id replaced, and the key that says who is who; keep the key to yourself."""
    from pipeline.decisions.alias import alias
    from pipeline.decisions.decide import answers, names_of
    from pipeline.store.database import alias_salt

    return alias(answers(fitted, title, progress), names_of(fitted), alias_salt(fitted.season.connection))


def write_ledger(fitted: Fitted, path: Path, key: pd.DataFrame | None = None) -> Path:
    """Write where the pins of every delivery went, as CSV, or as JSON if ``path`` ends in ``.json``; returns ``path``.

    ``key`` as ``decide_hidden`` gives it: with it, names are replaced.
    """
    from pipeline.decisions.export.ledger_file import write_ledger as write
    from pipeline.pricing.ledger.deliveries import valued

    return write(valued(fitted), path, key)


def write_whole_ledger(
    database: Path,
    path: Path,
    *,
    settings: Settings | None = None,
    about: Sequence[str] = (),
    named: str | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
    refit: bool = False,
    progress: Progress | None = None,
) -> Path:
    """Write the same without deciding anything, for any number of bowlers, a batch of them at a time.

    Arguments and errors as in ``fit`` and ``write_ledger``; no number of bowlers in ``about`` is too many.
    """
    from pipeline.decisions.export.ledger_batches import ledgers
    from pipeline.decisions.export.ledger_file import write_ledger as write
    from pipeline.decisions.scope import resolve_bowlers
    from pipeline.decisions.two_processes import Asked
    from pipeline.store.season import open_season
    from pipeline.store.shelf import Shelf
    from pipeline.store.shown import with_period

    settings = settings or Settings()
    with open_season(database, settings) as opened:
        season = with_period(opened, named, since, until)
        asked = Asked(resolve_bowlers(season, about, any_number=True), named, since, until)
        shelf = Shelf.of(season, asked.people.bowlers, fresh=refit)
        write(ledgers(asked, season, shelf, progress), path)
    shelf.write(database)
    return path


def report(decisions: Decisions, out: Path, *, progress: Progress | None = None) -> Path:
    """Write the HTML reports into the folder ``out``, whole or not at all; returns the path of the index.

    Raises:
        ReportError: ``out`` is a file, holds other files, or cannot be written; earlier reports stay as they were.
    """
    from reports.publish import render_all

    return render_all(decisions, out, progress)
