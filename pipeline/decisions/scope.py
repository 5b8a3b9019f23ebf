"""Report scope: some of the bowlers that the models learned from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from pipeline.decisions.wording.scope import not_known, too_many
from pipeline.errors import RackledgerError
from pipeline.models.fitted import Fitted
from pipeline.models.notes import Note
from pipeline.models.season_mix import SeasonMix
from pipeline.models.subsample import compared_with
from pipeline.store.period import Period
from pipeline.store.season import Season
from pipeline.store.shown import shown

EVERYONE = "all"
MOST_UNASKED = 24
"""Bowlers in a report if none were asked for: about a club; more make a book that nobody reads."""
MOST_AT_ONCE = 500
"""Bowlers that one report may be about: a report of more takes hours, and nobody reads it."""


class TooManyBowlersError(RackledgerError):
    """A report was asked for about more bowlers than one may cover."""


class UnknownBowlerError(RackledgerError):
    """A report was asked for about somebody who has no delivery in the season."""


@dataclass(frozen=True)
class Scope:
    """Bowlers a report is about (None: everybody), and the note if they were not asked for."""

    bowlers: tuple[str, ...] | None
    notes: tuple[Note, ...] = ()


def known_bowlers(season: Season) -> list[str]:
    """Everybody with a first delivery in the season, or in its period, those with most first."""
    return [str(bowler) for bowler in season.frame(_bowlers_query(season))["bowler"]]


def resolve_bowlers(season: Season, asked: Sequence[str], option: str = "--about", any_number: bool = False) -> Scope:
    """The bowlers asked for; without any all of them, or the ``MOST_UNASKED`` with most first deliveries.

    A bowler is asked for by id or by name, in any case. ``all`` means everyone, unless a bowler goes by it. ``option``
    is the option that asked; ``any_number`` lifts the limit on their number.

    Raises:
        UnknownBowlerError: one of ``asked`` has no first delivery.
        TooManyBowlersError: more than ``MOST_AT_ONCE`` were asked for.
    """
    known = known_bowlers(season)
    if not asked and len(known) > MOST_UNASKED:
        return Scope(tuple(sorted(known[:MOST_UNASKED])), (Note("most_logged", count=MOST_UNASKED, of=len(known)),))
    called = _called(season, known)
    ids = {bowler: bowler if bowler in known else called.get(bowler.casefold()) for bowler in asked}
    unknown = [bowler for bowler, id_ in ids.items() if id_ is None]
    strange = next((bowler for bowler in unknown if (bowler, option) != (EVERYONE, "--about")), None)
    if strange is not None:
        raise UnknownBowlerError(_not_known(strange, known, option, season.period))
    everybody = bool(unknown) or not asked
    reported = known if everybody else sorted({id_ for id_ in ids.values() if id_ is not None})
    if len(reported) > MOST_AT_ONCE and not any_number:
        raise TooManyBowlersError(too_many(len(reported), option, MOST_AT_ONCE, MOST_UNASKED))
    return Scope(None if everybody else tuple(reported))


def _bowlers_query(season: Season) -> str:
    return "scope/bowlers_by_shots" if season.period is None else "scope/bowlers_in_period"


def _called(season: Season, known: list[str]) -> dict[str, str]:
    """Lower-case id or name -> id, for those that only one bowler has."""
    listed = season.table("bowlers")
    goes_by = [(bowler, bowler) for bowler in known]
    goes_by += [(str(name), str(id_)) for id_, name in zip(listed["bowler"], listed["name"], strict=True)]
    ids: dict[str, set[str]] = {}
    for name, id_ in goes_by:
        if id_ in known:
            ids.setdefault(name.casefold(), set()).add(id_)
    return {name: next(iter(who)) for name, who in ids.items() if len(who) == 1}


def restricted(fitted: Fitted, people: Scope) -> Fitted:
    """The same models with a season that shows these bowlers alone, and with their rates and notes.

    The models stay as they were learned. Whatever compares people or balls is computed from everybody, so that what is
    reported of a bowler does not depend on who else is. In a large season everybody means those reported and others at
    random, see ``models/subsample.py``; the versatility of a class and rules of thumb are then theirs alone.
    """
    if people.bowlers is None:
        return fitted
    season, fits = fitted.season, fitted.fits
    notes = (*people.notes, Note("about_everybody"), *fits.notes)
    whole = fitted
    if season.of_large_log:
        known = len(season.frame("scope/bowlers_by_shots"))
        compared = compared_with(season, people.bowlers)
        notes = (*notes, Note("compared_with_some", count=len(compared), of=known)) if len(compared) < known else notes
        whole = replace(fitted, season=shown(season, compared))
    theirs = replace(fits, mix=mix_of_bowlers(fits.mix, people.bowlers), notes=notes, cache={})
    return Fitted(shown(season, people.bowlers), theirs, people.bowlers, whole)


def mix_of_bowlers(mix: SeasonMix, bowlers: Sequence[str]) -> SeasonMix:
    """The mix of some bowlers; one without a delivery is not in it."""
    cells = mix.cells[mix.cells["bowler"].isin(bowlers)].reset_index(drop=True)
    shots, strikes = ({b: counts[b] for b in bowlers if b in counts} for counts in (mix.shots, mix.strikes))
    return SeasonMix(cells, shots, strikes)


def _not_known(bowler: str, known: list[str], option: str, period: Period | None) -> str:
    near = get_close_matches(bowler, known, n=3) or sorted(known)[:10]
    return not_known(bowler, option, None if period is None else period.text, near, len(near) == len(known))
