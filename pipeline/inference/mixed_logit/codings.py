"""Names of levels as numbers: the rows of a frame coded by the values of some of its columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Codes = NDArray[np.int64]
Table = pd.DataFrame | Mapping[str, Any]
"""A frame, or its columns by name."""
Codings = dict[str, tuple[Codes, list[str]]]
"""Column -> place of each row's value, and the values as text, ``MISSING`` last: of one frame, coded once."""
MISSING = "missing"
_FEW = 4  # combinations possible for each row up to which levels are told apart by a table instead of by sorting


def coding(frame: Table, column: str, codings: Codings) -> tuple[Codes, list[str]]:
    """Place (rows,) of each row's value of a column among the texts that are returned with it; see ``Codings``."""
    if column not in codings:
        place, values = pd.factorize(frame[column])
        codings[column] = np.where(place < 0, len(values), place), [*map(str, values), MISSING]
    return codings[column]


def _distinct(code: Codes, possible: int) -> tuple[Codes, Codes]:
    """The distinct values of ``code`` (rows,), which are below ``possible``, in order, and the place of each row's."""
    if possible > _FEW * len(code) + 1_000:
        return np.unique(code, return_inverse=True)
    seen = np.zeros(possible, dtype=bool)
    seen[code] = True
    distinct = np.flatnonzero(seen)
    place = np.empty(possible, dtype=np.int64)
    place[distinct] = np.arange(len(distinct))
    return distinct, place[code]


@dataclass(frozen=True)
class Levels:
    """The distinct levels of a frame by the joined values of some columns, in order.

    Attributes:
        codes: (rows,) the level of each row.
        places: for each column the place (levels,) of its value among the ``texts`` of that column.
    """

    codes: Codes
    places: list[Codes]
    texts: list[list[str]]

    def values(self) -> list[list[str]]:
        """For each column the value of every level as text; a missing one is ``MISSING``."""
        return [[text[k] for k in place.tolist()] for place, text in zip(self.places, self.texts, strict=True)]

    @cached_property
    def names(self) -> list[str]:
        """The values joined by ``|``."""
        return ["|".join(level) for level in zip(*self.values(), strict=True)]

    def missing(self) -> NDArray[np.bool_]:
        """Whether any value is missing (levels,)."""
        last = [place == len(text) - 1 for place, text in zip(self.places, self.texts, strict=True)]
        return np.logical_or.reduce(last)

    def any_is(self, value: str) -> NDArray[np.bool_]:
        """Whether any value is this text (levels,)."""
        same = [
            np.array([other == value for other in text])[place]
            for place, text in zip(self.places, self.texts, strict=True)
        ]
        return np.logical_or.reduce(same)


def levels_of(frame: Table, columns: Sequence[str], codings: Codings | None = None) -> Levels:
    """Levels by the joined values of ``columns``; ``codings``: what calls about the same frame found, and this adds."""
    codings = {} if codings is None else codings
    code, texts, possible = np.zeros((), dtype=np.int64), [], 1
    for column in columns:
        place, text = coding(frame, column, codings)
        texts.append(text)
        code, possible = code * len(text) + place, possible * len(text)
    distinct, codes = _distinct(code, possible)
    places = []
    for text in reversed(texts):
        distinct, place = np.divmod(distinct, len(text))
        places.append(place)
    return Levels(codes, places[::-1], texts)


def named_codes(frame: pd.DataFrame, columns: Sequence[str], codings: Codings | None = None) -> tuple[Codes, list[str]]:
    """Level of every row by the joined values of ``columns``: (codes, names), a row's name being names[code].

    Arguments and names as in ``levels_of``.
    """
    levels = levels_of(frame, columns, codings)
    return levels.codes, levels.names


def place_in(
    levels: Mapping[str, int], frame: pd.DataFrame, columns: Sequence[str], codings: Codings | None = None
) -> Codes:
    """Place of every row's level in ``levels``, -1 for a level that is not there; ``codings`` as in ``named_codes``."""
    codes, names = named_codes(frame, columns, codings)
    known = np.array([levels.get(name, -1) for name in names], dtype=np.int64)
    return known[codes] if len(names) else np.zeros(len(frame), dtype=np.int64)
