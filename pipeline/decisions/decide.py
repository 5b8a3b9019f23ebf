"""Every decision of one season: the parts of ``parts.py`` answered by one process or by two, and kept."""

from __future__ import annotations

import hashlib
from functools import partial

from pydantic import ValidationError

from pipeline.decisions.parts import EITHER, PARTS, Answered
from pipeline.decisions.records import Decisions
from pipeline.decisions.wording.names import Names, named
from pipeline.decisions.wording.questions import stage_text
from pipeline.models.fitted import Fitted
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store.second_process import Take
from pipeline.store.shelf import Shelf


def decide(fitted: Fitted, title: str, progress: Progress | None = None) -> Decisions:
    """Answer everything, with real names; arguments and errors as in ``answers``."""
    return named(answers(fitted, title, progress), names_of(fitted))


def names_of(fitted: Fitted) -> Names:
    """The real names of everybody and everything loaded."""
    return Names.of(fitted.everybody().season)


def answers(fitted: Fitted, title: str, progress: Progress | None = None) -> Decisions:
    """Answer everything, with references instead of names.

    ``progress`` is called with each part and the share done before it.

    A question whose numbers cannot be computed is left out with its reason, and the others stand. What is decided about
    everybody and all nights is kept with the fits. If ``fitted`` says so, a second process answers some parts, and is
    waited for at the end.

    Raises:
        EmptySeasonError: no delivery was loaded.
    """
    shelf = fitted.fits.shelf
    if shelf is None:
        return _answered(fitted, title, progress)
    name = _name(fitted.fits.settings)
    kept, text = shelf.take(name)
    decided = _read(text) if kept else None
    if decided is None:
        decided = _answered(fitted, title, progress)
        if not decided.left_out:
            shelf.later[name] = partial(_text_of, decided)
    return decided.model_copy(update={"title": title})


def decisions_are_kept(shelf: Shelf, settings: Settings) -> bool:
    """Whether what is decided about everybody and all nights was kept with the fits of this shelf."""
    return shelf.holds(_name(settings))


def _name(settings: Settings) -> str:
    # Kept fits serve any report, kept decisions do not: all settings are in the name.
    return f"decisions, {hashlib.sha256(settings.model_dump_json().encode()).hexdigest()}"


def _text_of(decided: Decisions) -> str | None:
    """The decisions as text, None if they would not be the same when read again."""
    text = decided.model_dump_json()
    return text if _read(text) == decided else None


def _read(text: str) -> Decisions | None:
    try:
        return Decisions.model_validate_json(text)
    except ValidationError:
        return None


def _answered(fitted: Fitted, title: str, progress: Progress | None) -> Decisions:
    beside = fitted.beside
    mine = [place for place, part in enumerate(PARTS) if beside is None or part.who == "first"]
    by_place: dict[int, Answered] = {}
    for place in mine:
        if progress is not None:
            progress(stage_text(PARTS[place].stage), 0.85 * len(by_place) / len(mine))
        by_place[place] = PARTS[place].answered(fitted)
    if beside is not None:
        if progress is not None:
            progress(stage_text("ledger_and_checks"), 0.85)
        by_place |= whatever_is_left(fitted, beside.take)
        by_place |= beside.result()
    joined = Answered.joined(by_place[place] for place in range(len(PARTS)))
    return Decisions(title=title, left_out=joined.left_out, **joined.fields)


def second_answers(fitted: Fitted, take: Take) -> dict[int, Answered]:
    """The second process's answers, by place in ``PARTS``: its own parts, then those that ``take`` gives."""
    by_place = {place: part.answered(fitted) for place, part in enumerate(PARTS) if part.who == "second"}
    return by_place | whatever_is_left(fitted, take)


def whatever_is_left(fitted: Fitted, take: Take) -> dict[int, Answered]:
    """The parts for either process that the other has not taken."""
    return {EITHER[ticket]: PARTS[EITHER[ticket]].answered(fitted) for ticket in iter(take, None)}
