"""Whom a report is about: some bowlers out of all those that the models learned from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import partial

import pandas as pd

from pipeline.decisions.arsenal.verdicts import everybodys_balls
from pipeline.decisions.beside.skills import kept_as as two_kept_as
from pipeline.decisions.beside.skills import two_seasons
from pipeline.decisions.checks.held_out_gain import VALUED, choices_on_new_blocks
from pipeline.decisions.checks.model_checks import CHECKS, COMPARISON, checks_of_models
from pipeline.decisions.plan.block_plan import patterns_bowled
from pipeline.decisions.rules_of_thumb.trials import tried_on_everybody
from pipeline.decisions.season.entry import entry_counts
from pipeline.decisions.students.comparison import kept_as, skill_draws
from pipeline.decisions.students.wholes import kept_as as wholes_kept_as
from pipeline.decisions.students.wholes import whole_skills
from pipeline.decisions.transition.line_moves import everybodys_moves
from pipeline.errors import FAILED_NUMBERS, RackledgerError
from pipeline.models.fits import Fits
from pipeline.models.season_mix import Rates
from pipeline.models.subsample import compared_with
from pipeline.pricing.class_usual import class_usual
from pipeline.pricing.game_shape import game_shapes
from pipeline.store.period import Period
from pipeline.store.season import Season
from queries import sql

EVERYONE = "all"
MOST_UNASKED = 24
"""Bowlers a report is about where none were asked for: about a club; more make a book that nobody reads."""
_NEAR = ("scope/nearby_deliveries", "scope/deliveries_nearby")  # spares a large season a look at every pair
_FAR = ("scope/drop_nearby_deliveries",)
_SHADOWS = ("scope/scoped_first_balls", "scope/scoped_deliveries", "scope/scoped_balls")
_LOOKS = ("scope/first_balls_in_scope", "scope/deliveries_in_scope", "scope/balls_in_scope")
_VIEWS_OVER_DELIVERIES = ("views/ball_games", "views/ball_use", "views/season_thirds", "views/frame_states")


_OF_EVERYBODY: dict[str, Callable[[Season, Fits], object]] = {
    "everybody's balls": everybodys_balls,
    "skills": skill_draws,
    "whole skills": lambda season, fits: whole_skills(season, fits, skill_draws(season, fits)),
    "skills of two seasons": two_seasons,
    "rules tried": tried_on_everybody,
    "game shapes": game_shapes,
    "everybody's moves": everybodys_moves,
    "entry counts": entry_counts,
    "patterns bowled": patterns_bowled,
    "class usual": class_usual,
}
"""What compares people or balls, by the name it is kept under with the fits."""
_WHERE_ALL_ARE_KEPT: dict[str, Callable[[Season, Fits], object]] = {
    **{name: partial(checks_of_models, name=name) for name in CHECKS},
    VALUED: choices_on_new_blocks,
}
"""Of a large season the effects of others are let go, and the models can be checked on those reported only."""


class UnknownBowlerError(RackledgerError):
    """A report was asked for about somebody who has no delivery in the season."""


@dataclass(frozen=True)
class Whom:
    """Bowlers a report is about (None: everybody), and what is said where they were not asked for."""

    bowlers: tuple[str, ...] | None
    notes: tuple[str, ...] = ()


def whom(season: Season, asked: Sequence[str], option: str = "--about") -> Whom:
    """The bowlers asked for; without any all of them, or the ``MOST_UNASKED`` with most first deliveries.

    A bowler is asked for by id, or by name, whatever the capitals. ``all`` among those a report is asked about means
    everybody, where no bowler goes by it. ``option`` is what asked.

    Raises:
        UnknownBowlerError: one of ``asked`` has no first delivery.
    """
    known = [str(bowler) for bowler in season.frame(_told_of(season))["bowler"]]
    if not asked and len(known) > MOST_UNASKED:
        return Whom(tuple(sorted(known[:MOST_UNASKED])), (_left_out(len(known)),))
    called = _called(season, known)
    found = {bowler: bowler if bowler in known else called.get(bowler.casefold()) for bowler in asked}
    unknown = [bowler for bowler, id_ in found.items() if id_ is None]
    strange = next((bowler for bowler in unknown if (bowler, option) != (EVERYONE, "--about")), None)
    if strange is not None:
        raise UnknownBowlerError(_not_known(strange, known, option, season.period))
    if unknown or not asked:
        return Whom(None)
    return Whom(tuple(sorted({id_ for id_ in found.values() if id_ is not None})))


def _told_of(season: Season) -> str:
    return "scope/bowlers_by_shots" if season.period is None else "scope/bowlers_in_period"


def _called(season: Season, known: list[str]) -> dict[str, str]:
    """Id by what one bowler alone goes by, id or name, in small letters."""
    listed = season.table("bowlers")
    goes_by = [(bowler, bowler) for bowler in known]
    goes_by += [(str(name), str(id_)) for id_, name in zip(listed["bowler"], listed["name"], strict=True)]
    ids: dict[str, set[str]] = {}
    for name, id_ in goes_by:
        if id_ in known:
            ids.setdefault(name.casefold(), set()).add(id_)
    return {name: next(iter(who)) for name, who in ids.items() if len(who) == 1}


def about(season: Season, fits: Fits, people: Whom) -> Fits:
    """From here on let ``season`` show these bowlers only, and return the fits with their rates and notes alone.

    The models stay as they were learned, and whatever compares people or balls is learned from everybody first: what
    is reported of a bowler does not depend on who else is. It is learned from all nights, too, before a period narrows
    the season (see ``decisions/period``). In a large season everybody is those reported and others at random, see
    ``models/subsample.py``; the versatility of a class and rules of thumb are then theirs alone.
    """
    if people.bowlers is None and season.period is None:
        return fits
    first, notes = _OF_EVERYBODY, fits.notes
    if people.bowlers is not None:
        notes = (*people.notes, "What is said here of all first deliveries is said of everybody loaded.", *notes)
    if people.bowlers is not None and season.large():
        known = len(season.frame("scope/bowlers_by_shots"))
        compared = compared_with(season, people.bowlers)
        notes = (*notes, _compared(len(compared), known)) if len(compared) < known else notes
        _narrow(season, compared, _NEAR, _FAR)
    elif not season.large():
        first = first | _WHERE_ALL_ARE_KEPT
    for learn in first.values():
        with suppress(*FAILED_NUMBERS):  # kept with the fits, and met when it is asked for
            learn(season, fits)
    kept = {
        name: fits.cache[name]
        for name in (*first, kept_as(season), wholes_kept_as(season), two_kept_as(season), COMPARISON)
        if name in fits.cache
    }
    if people.bowlers is None:
        return replace(fits, cache=kept)
    _narrow(season, people.bowlers)
    return replace(fits, rates=rates_of(fits.rates, people.bowlers), notes=notes, cache=kept)


def _narrow(season: Season, chosen: Sequence[str], before: Sequence[str] = (), after: Sequence[str] = ()) -> None:
    connection = season.connection
    connection.register("chosen", pd.DataFrame({"bowler": pd.array(chosen, dtype="string")}))
    views = _VIEWS_OVER_DELIVERIES if season.period is None else ()  # a period holds its own of them
    for name in (*before, *_SHADOWS, *_LOOKS, *views, *after):
        connection.execute(sql(name))
    connection.unregister("chosen")
    season.held.clear()


def rates_of(rates: Rates, chosen: Sequence[str]) -> Rates:
    """The rates of some bowlers; of one without a delivery there are none."""
    mix = rates.mix[rates.mix["bowler"].isin(chosen)].reset_index(drop=True)
    return Rates(mix, *({b: counts[b] for b in chosen if b in counts} for counts in (rates.shots, rates.strikes)))


def _left_out(known: int) -> str:
    return (
        f"{known:,} bowlers are logged; this report covers the {MOST_UNASKED} with the most first "
        f"deliveries. Name others with --about ID, once for each, or everybody with --about {EVERYONE}."
    )


def _compared(some: int, known: int) -> str:
    return (
        f"How balls age and what a class can do was learned from {some:,} of the {known:,} bowlers, those reported "
        "here and others picked at random; versatility is compared, and rules of thumb are tried, among those "
        "reported alone."
    )


def _not_known(bowler: str, known: list[str], option: str, period: Period | None) -> str:
    there = "is loaded" if period is None else f"is logged in {period.text}"
    near = get_close_matches(bowler, known, n=3) or sorted(known)[:10]
    return f"{option} {bowler}: no first delivery by that bowler {there}; known are {', '.join(near)}" + (
        "." if len(near) == len(known) else " and others."
    )
