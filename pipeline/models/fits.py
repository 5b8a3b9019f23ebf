"""Every fitted model of one season in one object, with one meaning for every draw index."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar, cast

import numpy as np

from pipeline.errors import FAILED_NUMBERS, NotDeterminedError, RackledgerError
from pipeline.settings import Settings

if TYPE_CHECKING:
    from pipeline.models.leave import LeaveFit
    from pipeline.models.season_mix import Rates
    from pipeline.models.spare import ConversionFit
    from pipeline.models.strike_by_entry import EntryFit
    from pipeline.models.strike_worth import WorthFit
    from pipeline.store.season import Season

T = TypeVar("T")


@dataclass(frozen=True)
class _Failed:
    error: Exception


class Unfitted:
    """Stands for a model that could not be fitted: whatever asks something of it fails, and with it that question.

    The error is kept as it was raised, so that an expected failure and an unforeseen one are told apart by the reader.
    """

    def __init__(self, error: Exception) -> None:
        self._error = error

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):  # what copying and printing look for
            raise AttributeError(name)
        raise self._error


@dataclass(frozen=True)
class Fits:
    """The models of one season.

    Draw ``i`` of every model is the same posterior draw wherever it is asked for: each model draws its parameters
    from a generator seeded by ``rng_seed`` and its own name, so that differences between two calls are coherent.
    """

    worth: WorthFit
    entry: EntryFit
    leave: LeaveFit
    conversion: ConversionFit
    rates: Rates
    rng_seed: int
    n_draws: int
    settings: Settings
    notes: tuple[str, ...] = ()
    cache: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def generator(self, model: str) -> np.random.Generator:
        """A fresh generator for ``model``: the same one for the same fit, model and seed."""
        return np.random.default_rng([self.rng_seed, zlib.crc32(model.encode())])

    def once(self, name: str, make: Callable[[], T]) -> T:
        """What ``make`` returns: made at the first call by this name, and kept with the fits, a failure too."""
        if name not in self.cache:
            try:
                self.cache[name] = make()
            except FAILED_NUMBERS as error:
                self.cache[name] = _Failed(error)
        if isinstance(self.cache[name], _Failed):
            raise self.cache[name].error
        return cast(T, self.cache[name])


def fit_all(
    season: Season,
    settings: Settings,
    progress: Callable[[str, float], None] | None = None,
    bowlers: Sequence[str] | None = None,
) -> Fits:
    """Fit every model to one season; ``progress`` is called with each stage in a few words and the share done.

    A model that cannot be fitted is an ``Unfitted``, and the others stand.

    Of a large season the effects of ``bowlers`` alone are kept (None: of all); of a huge one the lesser models learn
    from some bowlers, see ``models/subsample.py``.
    """
    from pipeline.models.leave import fit_leave
    from pipeline.models.season_mix import season_rates
    from pipeline.models.spare import fit_conversion
    from pipeline.models.strike_by_entry import fit_entry
    from pipeline.models.strike_worth import fit_worth
    from pipeline.models.subsample import subsample_of

    tell = progress or (lambda _stage, _share: None)
    subsample = subsample_of(season, bowlers)
    tell("fitting carry by ball, line and game", 0.0)
    worth = _fitted(lambda: fit_worth(season, subsample))
    tell("fitting carry by entry board", 0.6)
    entry = _fitted(lambda: fit_entry(season, subsample))
    tell("fitting leaves", 0.8)
    leave = _fitted(lambda: fit_leave(season, subsample))
    tell("fitting spares", 0.95)
    conversion = _fitted(lambda: fit_conversion(season, subsample))
    models = (worth, entry, leave, conversion)
    return Fits(
        worth=worth,
        entry=entry,
        leave=leave,
        conversion=conversion,
        rates=season_rates(season, subsample),
        rng_seed=settings.evidence.seed,
        n_draws=settings.evidence.draws,
        settings=settings,
        notes=(
            *(note for model in models if not isinstance(model, Unfitted) for note in model.notes),
            *(subsample.notes if subsample is not None else ()),
        ),
    )


def _fitted(fit: Callable[[], T]) -> T:
    """What ``fit`` returns, or what stands for it if it fails; a failure that concerns the whole run ends it."""
    try:
        return fit()
    except FAILED_NUMBERS as error:
        if isinstance(error, RackledgerError) and not isinstance(error, NotDeterminedError):
            raise
        return cast(T, Unfitted(error))
