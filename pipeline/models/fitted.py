"""A season with its models, from which every question is answered, and answers that are computed once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import update_wrapper
from typing import Any, Concatenate, Generic, ParamSpec, TypeVar, cast

from pipeline.errors import FAILED_NUMBERS
from pipeline.models.fits import Fits, Learned
from pipeline.store.season import Season
from pipeline.store.second_process import Beside

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True)
class Fitted:
    """An open season and the models fitted to it.

    A report about some bowlers or nights has a separate season, whose queries show only those. What compares people or
    balls is computed from ``everybody()``, so it does not depend on the bowlers reported.

    Attributes:
        season: the open database; it closes with the ``with`` block of ``pipeline.api.fit``.
        fits: the models, learned from everybody and all nights, with the rates of what ``season`` shows.
        bowlers: ids of the bowlers asked for, sorted; empty for everybody.
        whole: everybody and all nights, if this is less; for a large season those reported and others at random.
        all_nights: the same bowlers on all nights, if this is a period.
        beside: the second process that answers some questions, see ``decisions/two_processes.py``; None if there is
        none.
    """

    season: Season
    fits: Fits
    bowlers: tuple[str, ...] = ()
    whole: Fitted | None = None
    all_nights: Fitted | None = None
    beside: Beside[Any] | None = field(default=None, repr=False, compare=False)

    def everybody(self) -> Fitted:
        """All bowlers and nights."""
        return self.whole or self

    def modelled(self) -> Fitted:
        """Everybody whose effects the models keep: for a large season those reported, else all."""
        return self if self.season.large() else self.everybody()

    def in_period(self) -> Fitted:
        """Everybody; if the report is about a period, those reported in it."""
        return self if self.season.period is not None else self.everybody()


Source = TypeVar("Source", Fits, Fitted)


@dataclass(frozen=True)
class _Failed:
    error: Exception


class Once(Generic[Source, P, T]):
    """A function of a season's models whose answer, or failure, is computed at the first call and kept with them.

    It is called like the function it decorates. Further arguments must be texts; they are part of the answer's name.
    """

    def __init__(
        self, answer: Callable[Concatenate[Source, P], T], of: Callable[[Fitted], Fitted] | None, stored: bool
    ) -> None:
        self._answer: Callable[..., T] = answer
        self._of = of
        self._stored = stored
        update_wrapper(self, answer)

    def name(self, *words: object) -> str:
        """The name the answer is kept under: the function's place and the further arguments."""
        function = cast(Any, self._answer)
        place = function.__module__.removeprefix("pipeline.")
        return " ".join([f"{place}.{function.__qualname__}", *map(str, words)])

    def __call__(self, source: Source, /, *args: P.args, **kwargs: P.kwargs) -> T:
        """The answer for this source.

        Raises:
            Exception: whatever the function raised at the first call.
        """
        asked = self._of(source) if self._of is not None and isinstance(source, Fitted) else source
        cache = (asked.fits if isinstance(asked, Fitted) else asked).cache
        name = self.name(*args, *kwargs.values())
        if name not in cache:
            shelf = cache if self._stored and isinstance(cache, Learned) else Learned()
            try:
                cache[name] = shelf.make(name, lambda: self._answer(asked, *args, **kwargs))
            except FAILED_NUMBERS as error:
                cache[name] = _Failed(error)
        if isinstance(cache[name], _Failed):
            raise cache[name].error
        return cast(T, cache[name])


def once(
    *, of: Callable[[Fitted], Fitted] | None = None, stored: bool = True
) -> Callable[[Callable[Concatenate[Source, P], T]], Once[Source, P, T]]:
    """Decorate a function so that its answer is computed once for the same models.

    Args:
        of: whose answer it is, such as ``Fitted.everybody``; None for the bowlers reported.
        stored: keep it in the database with the fits, too. It must then be of types that ``store/packing`` takes, and
            depend on nothing but the season, the settings and the fits.
    """

    def decorated(answer: Callable[Concatenate[Source, P], T]) -> Once[Source, P, T]:
        return Once(answer, of, stored)

    return decorated
