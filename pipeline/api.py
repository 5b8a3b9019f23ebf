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
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from pipeline.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.decisions.records import BlockPlan, Decisions, EventPlan
    from pipeline.intake.report import LoadReport
    from pipeline.models.fitted import Fitted
    from pipeline.store.kept import Shelf
    from pipeline.store.season import Season

Made = TypeVar("Made")
Progress = Callable[[str, float], None]
"""Called with what is being done and the share of the work done, 0 to 1."""


def part(progress: Progress | None, start: float, end: float) -> Progress:
    """Progress of one stage as the stretch from ``start`` to ``end`` (shares, 0 to 1) of a longer piece of work."""
    if progress is None:
        return lambda _text, _share: None
    return lambda text, share: progress(text, start + (end - start) * share)


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
    """Open a season, fit every model to it, and limit what is said to the bowlers in ``about``.

    What was fitted is kept in the database when the ``with`` block ends, and taken from there until data, settings or
    program change. A database that cannot be written stays as it is.

    The models learn from everybody whoever the report is about. Somebody unknown is refused before the models are
    fitted.

    Args:
        database: a DuckDB file that ``load`` made.
        settings: limits and costs; the defaults if None.
        about: ids or names of bowlers, or ``all``; empty for all, or in a large club for those with most shots.
        named: a season of the settings that decisions are about; the models learn from all nights.
        since, until: first and last day that decisions are about, instead of a season's name.
        refit: fit again, whatever is kept.
        in_two: have a second process compute a part of the decisions, if there is a core for it; what is decided is
            the same. It is forked from this one, so a program with threads of its own should not ask for it.
        at_end: with ``in_two``, what was fitted is still being written when the ``with`` block has ended, and is
            written when this stack is closed: until then the database may not be opened.
        progress: called with each stage.

    Raises:
        IntakeError: the database is missing, damaged, or of another version.
        UnknownBowlerError: no first delivery of somebody in ``about`` is loaded.
        PeriodError: no such season, or no delivery in it.
        EmptySeasonError: no delivery is loaded.
    """
    from pipeline.decisions.decide import are_kept
    from pipeline.decisions.in_two import Asked, fit_in_two, ledger_and_checks_beside, waiting_for
    from pipeline.decisions.scope import resolve_bowlers
    from pipeline.models.fits import fit_all
    from pipeline.store.kept import Shelf
    from pipeline.store.season import open_season
    from pipeline.store.second_process import finished_beside, may_have_second, second_process
    from pipeline.store.shown import with_period

    settings = settings or Settings()
    with open_season(database, settings) as opened:
        season = with_period(opened, named, since, until)
        asked = Asked(resolve_bowlers(season, about), named, since, until)
        shelf = Shelf.of(season, asked.people.bowlers, fresh=refit)
        alone = not in_two or season.large() or are_kept(shelf, season.settings) or not may_have_second()
        fits = None
        if alone or shelf.holds("worth"):
            fits = fit_all(season, season.settings, progress, asked.people.bowlers, shelf)
        if alone and fits is not None:
            yield asked.within(season, fits)
    if not alone:
        fits = fits or fit_in_two(database, settings, asked, shelf, progress)
        work = partial(ledger_and_checks_beside, database, settings, fits, asked)
        with second_process(work) as second, open_season(database, settings) as opened:
            beside = None if second is None else waiting_for(second, shelf)
            yield replace(asked.of(opened, fits), beside=beside)
    if in_two and at_end is not None and shelf.to_write() and may_have_second():
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
    from pipeline.pricing.ledger import valued

    return write(valued(fitted), path, key)


def plan(
    database: Path,
    bowler: str,
    length_ft: float,
    volume_ml: float | None = None,
    ratio: float | None = None,
    *,
    games: int = 6,
    settings: Settings | None = None,
    named: str | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
    refit: bool = False,
    progress: Progress | None = None,
) -> BlockPlan:
    """Plan one block on a posted pattern: starting ball and line, when to change, what to expect.

    Args:
        database: a DuckDB file that ``load`` made.
        bowler: id or name.
        length_ft: pattern length in feet.
        volume_ml: oil volume in mL; None if it is not posted.
        ratio: oil ratio, inside to outside; None if it is not posted.
        games: games of the block.
        settings: limits and costs; the defaults if None.
        named: a season of the settings whose bag and habits the plan starts from; the models learn from all nights.
        since, until: first and last day of those nights, instead of a season's name.
        refit: fit again, whatever is kept; fits are kept as by ``fit``.
        progress: called with each stage.

    Raises:
        UnknownBowlerError: no first delivery of that bowler is loaded, or none in those nights.
        PeriodError: no such season, or no delivery in it.
        PlanError: fewer than one game.
    """
    from pipeline.decisions.decide import names_of
    from pipeline.decisions.plan.block_plan import plan as plan_block
    from pipeline.decisions.wording.names import named as with_names
    from pipeline.store.season import open_season
    from pipeline.store.shown import with_period

    def planned(refit: bool) -> BlockPlan:
        with open_season(database, settings or Settings()) as opened:
            season = with_period(opened, named, since, until)
            fitted, known, shelf = _fits_of(season, bowler, refit, progress)
            made = with_names(plan_block(fitted, known, length_ft, volume_ml, ratio, games), names_of(fitted))
        shelf.write(database)
        return made

    return _refitted_if_damaged(planned, refit)


def plan_event(
    database: Path,
    bowler: str,
    patterns: Sequence[str],
    *,
    games: int = 6,
    balls: int | None = None,
    settings: Settings | None = None,
    named: str | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
    refit: bool = False,
    progress: Progress | None = None,
) -> EventPlan:
    """Plan the rounds of an event on patterns known by id or name, and the bag for them.

    Args:
        database: a DuckDB file that ``load`` made.
        bowler: id or name.
        patterns: one per round.
        games: games of each round.
        balls: how many strike balls to take; None for no advice on that.
        settings: limits and costs; the defaults if None.
        named: a season of the settings whose bag and habits the plan starts from; the models learn from all nights.
        since, until: first and last day of those nights, instead of a season's name.
        refit: fit again, whatever is kept; fits are kept as by ``fit``.
        progress: called with each stage.

    Raises:
        UnknownBowlerError: no first delivery of that bowler is loaded, or none in those nights.
        PeriodError: no such season, or no delivery in it.
        PlanError: an unknown pattern, one whose length is not posted, fewer than one game or ball.
    """
    from pipeline.decisions.decide import names_of
    from pipeline.decisions.plan.block_plan import plan_event as plan_rounds
    from pipeline.decisions.plan.block_plan import posted_by_name
    from pipeline.decisions.wording.names import named as with_names
    from pipeline.store.season import open_season
    from pipeline.store.shown import with_period

    def planned(refit: bool) -> EventPlan:
        with open_season(database, settings or Settings()) as opened:
            season = with_period(opened, named, since, until)
            rounds = posted_by_name(season, patterns)
            fitted, known, shelf = _fits_of(season, bowler, refit, progress)
            made = with_names(plan_rounds(fitted, known, rounds, games, balls), names_of(fitted))
        shelf.write(database)
        return made

    return _refitted_if_damaged(planned, refit)


def _refitted_if_damaged(make: Callable[[bool], Made], refit: bool) -> Made:
    """What ``make`` returns, given whether to fit again; with kept fits that prove damaged, it is made anew."""
    from pipeline.store.kept import KeptDamagedError

    try:
        return make(refit)
    except KeptDamagedError:
        return make(True)


def _fits_of(season: Season, bowler: str, refit: bool, progress: Progress | None) -> tuple[Fitted, str, Shelf]:
    """The season's period with its fits, the id of the bowler, and the shelf to keep the fits on."""
    from pipeline.decisions.period import in_period
    from pipeline.decisions.scope import resolve_bowlers
    from pipeline.models.fits import fit_all
    from pipeline.models.fitted import Fitted
    from pipeline.store.kept import Shelf

    people = resolve_bowlers(season, (bowler,), "--bowler")
    shelf = Shelf.of(season, people.bowlers, fresh=refit, in_full=False)
    (known,) = people.bowlers or ()
    fits = fit_all(season, season.settings, progress, people.bowlers, shelf)
    return in_period(Fitted(season, fits)), known, shelf


def report(decisions: Decisions, out: Path, *, progress: Progress | None = None) -> Path:
    """Write the HTML reports into the folder ``out``, whole or not at all; returns the path of the index.

    Raises:
        ReportError: ``out`` is a file, holds other files, or cannot be written; earlier reports stay as they were.
    """
    from reports.publish import render_all

    return render_all(decisions, out, progress)
