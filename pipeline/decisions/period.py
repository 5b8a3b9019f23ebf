"""A report about some of the nights that the models learned from.

The models, how balls age, the class and the rules of thumb are learned from the whole log. What was scored, thrown and
left, the average that worth is measured against, and the bag are those of the period.
"""

from __future__ import annotations

from dataclasses import replace

from pipeline.decisions.scope import mix_of_bowlers
from pipeline.models.fits import Unfitted
from pipeline.models.fitted import Fitted
from pipeline.models.notes import Note
from pipeline.models.season_mix import season_mix
from pipeline.models.spares.spare import ConversionFit
from pipeline.models.strikes.stretches import stretches
from pipeline.models.strikes.strike_worth import WorthFit
from pipeline.store.period import Period
from pipeline.store.shown import blocks_of, shown


def in_period(fitted: Fitted) -> Fitted:
    """The same bowlers in the season's period; unchanged if it has none."""
    period = fitted.season.period
    if period is None:
        return fitted
    season = shown(fitted.season, fitted.bowlers or None, [period])
    note = Note("period", names=(period.text,))
    last = _last_stretch(fitted, period)
    fits = replace(
        fitted.fits,
        worth=_worth_then(fitted.fits.worth, last),
        conversion=_conversion_then(fitted.fits.conversion, last),
        mix=mix_of_bowlers(season_mix(season), list(fitted.fits.mix.shots)),
        notes=(note, *fitted.fits.notes),
        cache={},
    )
    return replace(fitted, season=season, fits=fits, whole=fitted.everybody(), all_nights=fitted)


def with_the_last_season(fitted: Fitted) -> tuple[Fitted, frozenset[str]] | None:
    """The same bowlers in the period and the one before it, and the blocks of that one; None if there is none."""
    period, all_nights = fitted.season.period, fitted.all_nights
    if period is None or period.before is None or all_nights is None:
        return None
    earlier = blocks_of(all_nights.season, period.before)
    season = shown(all_nights.season, fitted.bowlers or None, [period.before, period])
    fits = replace(all_nights.fits, mix=season_mix(season), cache={})
    return (replace(fitted, season=season, fits=fits), earlier) if earlier else None


def _last_stretch(fitted: Fitted, period: Period) -> str:
    """The stretch of the last nights of the period, for which its report predicts."""
    blocks = blocks_of(fitted.season, period)
    return max(stretch for block, stretch in stretches(fitted.season).items() if block in blocks)


def _worth_then(worth: WorthFit, last: str) -> WorthFit:
    """The worth model as it predicts for a stretch."""
    if isinstance(worth, Unfitted) or worth.now in (None, last):
        return worth
    return replace(worth, now=last)


def _conversion_then(conversion: ConversionFit, last: str) -> ConversionFit:
    """The spare model as it predicts for a stretch."""
    return conversion if isinstance(conversion, Unfitted) else conversion.at(last)
