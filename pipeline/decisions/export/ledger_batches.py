"""The ledger of any number of bowlers, a batch at a time, so memory does not grow with their number.

In a large season the models keep the effects of the reported bowlers only, so many bowlers are taken in groups, each
with its own models. The class is the same for all of them, so a bowler's deliveries have the same worth in any batch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from pipeline.decisions.period import in_period
from pipeline.decisions.scope import MOST_AT_ONCE, Scope, known_bowlers, mix_of_bowlers, restricted
from pipeline.decisions.two_processes import Asked
from pipeline.decisions.wording.questions import stage_text
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.deliveries import ValuedDeliveries, valued, valued_once
from pipeline.progress import Progress, part
from pipeline.store.season import Season
from pipeline.store.shelf import Shelf
from pipeline.store.shown import shown

BOWLERS_AT_ONCE = 50
"""Bowlers whose deliveries are valued together."""


def ledgers(asked: Asked, season: Season, shelf: Shelf, progress: Progress | None = None) -> Iterator[ValuedDeliveries]:
    """Valued deliveries of those asked about, bowlers in order; each stands until the next one is asked for.

    Args:
        asked: whom and which nights.
        season: that knows its period.
        shelf: where the models are kept, if all bowlers share them.
        progress: called with each stage.
    """
    who = asked.people.bowlers
    everyone = sorted(known_bowlers(season)) if who is None else list(who)
    groups = _chunks(everyone, MOST_AT_ONCE) if season.large() else [everyone]
    for number, group in enumerate(groups):
        step = part(progress, number / len(groups), (number + 1) / len(groups))
        together = asked if len(groups) == 1 else replace(asked, people=Scope(tuple(group)))
        fits = together.fits(season, shelf if len(groups) == 1 else None, step)
        if len(group) <= BOWLERS_AT_ONCE:
            yield valued(together.within(season, fits))
        else:
            yield from in_batches(restricted(Fitted(season, fits), together.people), group, step)


def in_batches(fitted: Fitted, bowlers: Sequence[str], progress: Progress) -> Iterator[ValuedDeliveries]:
    """The same models for a few bowlers at a time, each batch over a connection that is closed after it.

    Args:
        fitted: shows these bowlers at least, on all nights.
        bowlers: in the order of the batches.
        progress: called with each batch.
    """
    opened = fitted.season.others
    for number, batch in enumerate(batches := _chunks(bowlers, BOWLERS_AT_ONCE)):
        progress(stage_text("ledger"), number / len(batches))
        before = len(opened)
        mix = mix_of_bowlers(fitted.fits.mix, batch)
        few = Fitted(
            shown(fitted.season, batch), replace(fitted.fits, mix=mix, cache={}), tuple(batch), fitted.everybody()
        )
        yield valued_once(in_period(few))
        while len(opened) > before:
            opened.pop().close()


def _chunks(bowlers: Sequence[str], size: int) -> list[list[str]]:
    return [list(bowlers[start : start + size]) for start in range(0, len(bowlers), size)]
