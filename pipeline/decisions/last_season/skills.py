"""Skills this season beside the last, adjusted for conditions as skills always are."""

from __future__ import annotations

from dataclasses import replace

from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import SeasonBeside
from pipeline.decisions.students.comparison import KINDS, rates_and_spreads
from pipeline.models.fitted import Fitted, once
from pipeline.models.skills.skill import SkillDraws
from pipeline.store.period import nights
from pipeline.store.shown import with_two_seasons_as_thirds


def two_seasons(fitted: Fitted) -> dict[str, SkillDraws]:
    """Skills with the season before as first third and this one as last; empty without a season before."""
    period = fitted.season.period
    if period is None or period.before is None:
        return {}
    return skills_of_two(fitted, f"{nights(period.before)} and {nights(period)}")


def skills_beside(fitted: Fitted) -> list[SeasonBeside]:
    """One record per skill and bowler with tries in both seasons."""
    changes = []
    for skill, draws in two_seasons(fitted).items():
        kind = KINDS[skill]
        for bowler, change in draws.progress.items():
            if bowler in fitted.fits.mix.shots:
                middle = float(draws.value[:, draws.bowlers.index(bowler)].mean()) * kind.scale
                half = float(change.mean()) * kind.scale / 2
                up = float((change > 0).mean())
                changes.append(
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
    return changes


@once(of=Fitted.everybody)
def skills_of_two(fitted: Fitted, _nights: str) -> dict[str, SkillDraws]:
    """Everybody's skills with the two seasons in place of thirds of one; the text names the seasons."""
    return rates_and_spreads(replace(fitted, season=with_two_seasons_as_thirds(fitted.season)))
