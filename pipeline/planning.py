"""Plans for posted patterns, as ``pipeline.api`` offers them: open the season, fit or take what is kept, plan, keep."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from pipeline.progress import Progress
from pipeline.settings import Settings

if TYPE_CHECKING:
    from pipeline.decisions.records import BlockPlan, EventPlan
    from pipeline.models.fitted import Fitted
    from pipeline.store.season import Season
    from pipeline.store.shelf import Shelf

Made = TypeVar("Made", "BlockPlan", "EventPlan")


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
    from pipeline.decisions.plan.block_plan import plan as plan_block

    def asked(_: Season) -> Callable[[Fitted, str], BlockPlan]:
        return lambda fitted, known: plan_block(fitted, known, length_ft, volume_ml, ratio, games)

    return _planned(database, bowler, asked, settings, (named, since, until), refit, progress)


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
    from pipeline.decisions.plan.block_plan import plan_event as plan_rounds
    from pipeline.decisions.plan.block_plan import posted_by_name

    def asked(season: Season) -> Callable[[Fitted, str], EventPlan]:
        rounds = posted_by_name(season, patterns)
        return lambda fitted, known: plan_rounds(fitted, known, rounds, games, balls)

    return _planned(database, bowler, asked, settings, (named, since, until), refit, progress)


def _planned(
    database: Path,
    bowler: str,
    asked: Callable[[Season], Callable[[Fitted, str], Made]],
    settings: Settings | None,
    nights: tuple[str | None, dt.date | None, dt.date | None],
    refit: bool,
    progress: Progress | None,
) -> Made:
    """The plan with names in it; if kept fits prove damaged, the season is fitted and planned again.

    ``asked`` refuses what cannot be planned before anything is fitted, and returns what plans for the bowler's id.
    """
    from pipeline.decisions.wording.names import Names
    from pipeline.decisions.wording.names import named as with_names
    from pipeline.store.season import open_season
    from pipeline.store.shelf import DamagedFitsError
    from pipeline.store.shown import with_period

    def planned(fresh: bool) -> Made:
        with open_season(database, settings or Settings()) as opened:
            season = with_period(opened, *nights)
            plan_for = asked(season)
            fitted, known, shelf = _fits_of(season, bowler, fresh, progress)
            made = with_names(plan_for(fitted, known), Names.of(fitted.everybody().season))
        shelf.write(database)
        return made

    try:
        return planned(refit)
    except DamagedFitsError:
        return planned(True)


def _fits_of(season: Season, bowler: str, refit: bool, progress: Progress | None) -> tuple[Fitted, str, Shelf]:
    """The season's period with its fits, the id of the bowler, and the shelf to keep the fits on."""
    from pipeline.decisions.period import in_period
    from pipeline.decisions.scope import resolve_bowlers
    from pipeline.models.fits import fit_all
    from pipeline.models.fitted import Fitted
    from pipeline.store.shelf import Shelf

    people = resolve_bowlers(season, (bowler,), "--bowler")
    shelf = Shelf.of(season, people.bowlers, fresh=refit, in_full=False)
    (known,) = people.bowlers or ()
    fits = fit_all(season, season.settings, progress, people.bowlers, shelf)
    return in_period(Fitted(season, fits)), known, shelf
