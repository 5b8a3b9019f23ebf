"""Skills this season beside the last, adjusted for conditions as skills always are."""

from __future__ import annotations

from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import SeasonBeside
from pipeline.decisions.students.comparison import KINDS, rates_and_spreads
from pipeline.models.fits import Fits
from pipeline.models.skills.skill import SkillDraws
from pipeline.store.season import Season
from queries import sql

_READ = ("cells/pocket_cells", "cells/spare_cells_by_block", "cells/board_steps")


def kept_as(season: Season) -> str:
    """The name these draws are kept under."""
    period = season.period
    if period is None or period.before is None:
        return "skills of two seasons"
    before = period.before
    return f"skills from {before.since} to {before.until} and from {period.since} to {period.until}"


def two_seasons(season: Season, fits: Fits) -> dict[str, SkillDraws]:
    """Skills with the season before as first third and this one as last; empty without a season before."""
    if season.period is None or season.period.before is None:
        return {}
    return fits.once(kept_as(season), lambda: _learned(season, fits))


def skills_beside(season: Season, fits: Fits) -> list[SeasonBeside]:
    """One record per skill and bowler with tries in both seasons."""
    found = []
    for skill, draws in two_seasons(season, fits).items():
        kind = KINDS[skill]
        for bowler, change in draws.progress.items():
            if bowler in fits.rates.shots:
                middle = float(draws.value[:, draws.bowlers.index(bowler)].mean()) * kind.scale
                half = float(change.mean()) * kind.scale / 2
                up = float((change > 0).mean())
                found.append(
                    SeasonBeside(
                        bowler=bowler,
                        kind="skill",
                        what=skill,
                        unit=kind.unit,
                        higher_is_better=kind.higher_is_better,
                        last=middle - half,
                        this=middle + half,
                        change=estimate(change * kind.scale),
                        probability=max(up, 1 - up),
                        shots_last=draws.ends[bowler][0],
                        shots_this=draws.ends[bowler][1],
                    )
                )
    return found


def _learned(season: Season, fits: Fits) -> dict[str, SkillDraws]:
    """Fit with the two seasons in place of the thirds of one, and put those back."""
    try:
        season.connection.execute(sql("scope/seasons_as_thirds"))
        _forget(season)
        return rates_and_spreads(season, fits)
    finally:
        season.connection.execute(sql("scope/thirds_of_period"))
        _forget(season)


def _forget(season: Season) -> None:
    for query in _READ:
        season.held.pop((query,), None)
