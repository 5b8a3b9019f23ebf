"""Every fitted model of one season in one object, with one meaning for every draw index."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol, TypeVar, cast

import numpy as np

from pipeline.errors import FAILED_NUMBERS, NotDeterminedError, RackledgerError
from pipeline.progress import Progress
from pipeline.settings import Settings

if TYPE_CHECKING:
    from pipeline.models.notes import Note
    from pipeline.models.season_mix import SeasonMix
    from pipeline.models.spares.leave import LeaveFit
    from pipeline.models.spares.spare import ConversionFit
    from pipeline.models.strikes.strike_by_entry import EntryFit
    from pipeline.models.strikes.strike_worth import WorthFit
    from pipeline.models.subsample import Subsample
    from pipeline.store.season import Season
    from pipeline.store.shelf import Shelf

T = TypeVar("T")
MIX = "mix"
CLASS_MIX = "class mix"


class Drawable(Protocol):
    """A model that makes its draws of one number once, and gives the same ones from then on."""

    def prepare(self, n: int, rng: np.random.Generator) -> object:
        """Make ``n`` draws now."""


class Unfitted:
    """A model that could not be fitted: using it raises the error, so the question that needs it fails.

    The error is kept as it was raised, so callers can tell an expected failure from an unforeseen one.
    """

    def __init__(self, error: Exception) -> None:
        self._error = error

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):  # what copying and printing look for
            raise AttributeError(name)
        raise self._error


class Learned(dict[str, Any]):
    """What was computed from the fits, by name; a ``shelf``, if there is one, also keeps it in the database.

    A copy of the fits for some bowlers or for fewer draws starts from a plain dict, so nothing in it is ever kept.
    """

    def __init__(self, shelf: Shelf | None = None) -> None:
        super().__init__()
        self.shelf = shelf

    def make(self, name: str, make: Callable[[], Any]) -> Any:
        """The answer on the shelf by this name, or what ``make`` returns, put there; a failure closes the shelf."""
        if self.shelf is None:
            return make()
        found, value = self.shelf.take(name)
        if found:
            return value
        try:
            made = make()
        except FAILED_NUMBERS:
            self.shelf.close()
            raise
        return self.shelf.put(name, made)


@dataclass(frozen=True)
class Fits:
    """The models of one season.

    Draw ``i`` of every model is the same posterior draw wherever it is asked for: each model draws its parameters
    from a generator seeded by ``rng_seed`` and its own name, so that differences between two calls are coherent.

    ``class_mix``: of a large season what the class throws, while ``mix`` is of those reported; None if it is the same.
    """

    worth: WorthFit
    entry: EntryFit
    leave: LeaveFit
    conversion: ConversionFit
    mix: SeasonMix
    rng_seed: int
    n_draws: int
    settings: Settings
    notes: tuple[Note, ...] = ()
    class_mix: SeasonMix | None = None
    cache: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def shelf(self) -> Shelf | None:
        """Where answers about everybody are kept; None for fits not kept, or of some bowlers or nights only."""
        return self.cache.shelf if isinstance(self.cache, Learned) else None

    def on(self, shelf: Shelf) -> Fits:
        """The same fits and answers; further answers are kept on ``shelf``."""
        learned = Learned(shelf)
        learned.update(self.cache)
        return replace(self, cache=learned)

    def generator(self, model: str) -> np.random.Generator:
        """A fresh generator for ``model``: the same one for the same fit, model and seed."""
        return _generator(self.rng_seed, model)


def _generator(seed: int, model: str) -> np.random.Generator:
    return np.random.default_rng([seed, zlib.crc32(model.encode())])


@dataclass(frozen=True)
class _Drawing:
    """Models fitted, or taken from the shelf, with the draws behind every interval."""

    learned: Learned
    settings: Settings

    def model(self, name: str, fit: Callable[[], T]) -> T:
        """The model, or an ``Unfitted`` if it fails; without a shelf it is drawn when first asked."""
        return _fitted(lambda: self.learned.make(name, lambda: self._drawn(name, fit())))

    def _drawn(self, name: str, fit: T) -> T:
        if self.learned.shelf is not None:
            evidence = self.settings.evidence
            cast(Drawable, fit).prepare(evidence.draws, _generator(evidence.seed, name))
        return fit


def fit_all(
    season: Season,
    settings: Settings,
    progress: Progress | None = None,
    bowlers: Sequence[str] | None = None,
    shelf: Shelf | None = None,
    beside: Callable[[], None] | None = None,
) -> Fits:
    """Fit every model to one season; ``progress`` is called with each stage in a few words and the share done.

    A model that cannot be fitted is an ``Unfitted``, and the others stand.

    For a large season only the effects of ``bowlers`` are kept (None: of all); for a very large one the secondary
    models learn from some bowlers, see ``models/subsample.py``. Whatever is on the ``shelf`` is not fitted again.
    ``beside`` is called once the worth model is fitted: it puts on the shelf what another process fitted meanwhile.
    """
    from pipeline.models.strikes.strike_worth import fit_worth
    from pipeline.models.subsample import subsample_of

    tell = progress or (lambda _stage, _share: None)
    subsample = subsample_of(season, bowlers)
    tell("fitting strikes by ball, line and game", 0.0)
    drawn = _Drawing(Learned(shelf), settings)
    worth = drawn.model("worth", lambda: fit_worth(season, subsample))
    if beside is not None:
        beside()
    return _with_the_others(season, worth, drawn, subsample, tell)


def fit_all_but_worth(season: Season, settings: Settings, shelf: Shelf) -> Fits:
    """The other models of a season that is not large, put on the ``shelf``; the worth model is an ``Unfitted``."""
    absent = cast("WorthFit", Unfitted(NotDeterminedError("the worth model is fitted elsewhere")))
    return _with_the_others(season, absent, _Drawing(Learned(shelf), settings), None, lambda _stage, _share: None)


def _with_the_others(
    season: Season,
    worth: WorthFit,
    drawn: _Drawing,
    subsample: Subsample | None,
    tell: Progress,
) -> Fits:
    """The worth model with all others, fitted or taken from the shelf."""
    from pipeline.models.season_mix import season_mix
    from pipeline.models.spares.leave import fit_leave
    from pipeline.models.spares.spare import fit_conversion
    from pipeline.models.strikes.strike_by_entry import fit_entry

    tell("fitting strikes by entry board", 0.6)
    entry = drawn.model("entry", lambda: fit_entry(season, subsample))
    tell("fitting leaves", 0.8)
    leave = drawn.model("leave", lambda: fit_leave(season, subsample))
    tell("fitting spares", 0.95)
    conversion = drawn.model("conversion", lambda: fit_conversion(season, subsample))
    models = (worth, entry, leave, conversion)
    return Fits(
        worth=worth,
        entry=entry,
        leave=leave,
        conversion=conversion,
        mix=drawn.learned.make(MIX, lambda: season_mix(season, subsample)),
        class_mix=None if subsample is None else drawn.learned.make(CLASS_MIX, lambda: _class_mix(season)),
        rng_seed=drawn.settings.evidence.seed,
        n_draws=drawn.settings.evidence.draws,
        settings=drawn.settings,
        notes=(
            *(note for model in models if not isinstance(model, Unfitted) for note in model.notes),
            *(subsample.notes if subsample is not None else ()),
        ),
        cache=drawn.learned,
    )


def _class_mix(season: Season) -> SeasonMix:
    from pipeline.models.season_mix import season_mix
    from pipeline.models.subsample import Subsample, class_sample

    return season_mix(season, Subsample(class_sample(season), frozenset()))


def _fitted(fit: Callable[[], T]) -> T:
    """What ``fit`` returns, or an ``Unfitted`` if it fails; a failure that concerns the whole run is raised."""
    try:
        return fit()
    except FAILED_NUMBERS as error:
        if isinstance(error, RackledgerError) and not isinstance(error, NotDeterminedError):
            raise
        return cast(T, Unfitted(error))
