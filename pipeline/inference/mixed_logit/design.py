"""Fixed-effect columns from named columns of a frame: one builder for the fit and for every prediction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from math import prod

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codes, Codings, coding, levels_of, named_codes
from pipeline.inference.mixed_logit.sd_priors import LogNormal, Shared


@dataclass(frozen=True)
class Spline:
    """Natural cubic spline basis (linear beyond the outer knots), uncorrelated and of unit spread over fitted values.

    Basis of Hastie, Tibshirani & Friedman, The Elements of Statistical Learning, eq. 5.4-5.5, without the constant. Its
    columns are much alike, so a bend would need large coefficients of opposite sign, which priors forbid; each is
    therefore taken less what the earlier ones hold. The first is a straight line.
    """

    knots: Floats
    centre: Floats
    turn: Floats

    @classmethod
    def learn(cls, values: Floats, weights: Floats, knots: int, tail: float = 0.0) -> Spline:
        """Knots at equally spaced quantiles of the weighted values, the outer ones leaving ``tail`` outside.

        There are fewer knots if there are few distinct values.
        """
        distinct = np.unique(values)
        if len(distinct) < 3:
            places = distinct if len(distinct) else np.zeros(1)
        else:
            order = np.argsort(values, kind="stable")
            share = np.cumsum(weights[order]) / weights.sum()
            quantiles = np.linspace(tail, 1 - tail, knots)
            places = np.unique(values[order][np.searchsorted(share, quantiles).clip(0, len(values) - 1)])
        raw = _natural(values, places)
        if not len(values):
            return cls(places, np.zeros(raw.shape[1]), np.eye(raw.shape[1]))
        centre = np.average(raw, axis=0, weights=weights)
        return cls(places, centre, _uncorrelated(np.atleast_2d(np.cov(raw.T, aweights=weights, ddof=0))))

    def __call__(self, values: Floats) -> Floats:
        """Basis columns, shape (len(values), max(1, knots - 1))."""
        return (_natural(values, self.knots) - self.centre) @ self.turn


def _uncorrelated(covariance: Floats) -> Floats:
    """Upper triangular (k, k) that turns columns of this covariance into uncorrelated ones of unit variance.

    A column that does not vary stays as it is; so do, but for their scale, columns that are copies of each other.
    """
    spread = np.sqrt(np.diag(covariance))
    scale = np.where(spread > 1e-9, spread, 1.0)
    alike = covariance / np.outer(scale, scale) + np.diag((spread <= 1e-9).astype(float))
    if np.linalg.eigvalsh(alike)[0] < 1e-9:
        return np.diag(1 / scale)
    result: Floats = np.linalg.inv(np.linalg.cholesky(alike)).T / scale[:, None]
    return result


def _natural(values: Floats, knots: Floats) -> Floats:
    if len(knots) < 3:
        return values[:, None] * (1.0 if len(knots) == 2 else 0.0)
    last, previous = knots[-1], knots[-2]

    def cubic(knot: float) -> Floats:
        return (np.clip(values - knot, 0, None) ** 3 - np.clip(values - last, 0, None) ** 3) / (last - knot)

    return np.column_stack([values, *(cubic(k) - cubic(previous) for k in knots[:-2])])


def csr(column: Codes, value: Floats, columns: int) -> sparse.csr_array:
    """The matrix (rows, columns) with these columns and values (rows, entries) in each row."""
    rows, entries = column.shape
    size = np.int32 if column.size < np.iinfo(np.int32).max else np.int64  # 64 bits would copy every index
    start = (np.arange(rows + 1, dtype=np.int64) * entries).astype(size)
    return sparse.csr_array((value.ravel(), column.astype(size).ravel(), start), shape=(rows, columns))


@dataclass(frozen=True)
class Numeric:
    """One numeric column, unchanged, with the sd and the mean of its normal prior (logits per unit of the column).

    ``shared``: that sd is multiplied by the scale multiplier of all parts so marked.
    """

    column: str
    sd: float
    shared: bool = False
    mean: float = 0.0


@dataclass(frozen=True)
class Categorical:
    """One column per level of ``columns`` (crossed), times the numeric column ``times`` if given.

    Every level has a column of its own and a normal prior with this sd, so levels never logged are drawn from it;
    ``shared`` as in ``Numeric``.
    """

    columns: tuple[str, ...]
    sd: float
    times: str | None = None
    shared: bool = False

    @property
    def name(self) -> str:
        """Name for keys and column labels."""
        return ":".join([*self.columns, *([self.times] if self.times else [])])


@dataclass(frozen=True)
class Unknown:
    """Effects of levels that have no column: noise with this sd for each key; ``codes`` (rows,) among the keys, -1 for
    a row that has a column, and what it is ``times``; ``shared`` as its part."""

    keys: list[str]
    codes: Codes
    sd: float
    times: Floats | None
    shared: bool


@dataclass
class Design:
    """The fixed effects of a model: an intercept, then the parts in order.

    ``scale_multiplier``: prior of the multiplier that the parts marked ``shared`` have in common.
    """

    parts: Sequence[Numeric | Categorical]
    intercept_sd: float = 3.0
    scale_multiplier: LogNormal | None = None
    levels: dict[str, dict[str, int]] = field(default_factory=dict)

    def unlearned(self) -> Design:
        """The same without any level."""
        return replace(self, levels={})

    def learn(self, frame: pd.DataFrame) -> Design:
        """Take the levels of every categorical part from ``frame``; returns itself."""
        used = {column for part in self.parts if isinstance(part, Categorical) for column in part.columns}
        for column in sorted(used):
            self.levels[column] = {name: k for k, name in enumerate(sorted(named_codes(frame, [column])[1]))}
        return self

    def labels(self) -> list[str]:
        """One label per column of ``matrix``."""
        out = ["intercept"]
        for part in self.parts:
            if isinstance(part, Numeric):
                out.append(part.column)
            else:
                tail = f" x {part.times}" if part.times else ""
                out += [" | ".join(level) + tail for level in product(*(self.levels[c] for c in part.columns))]
        return out

    def precision(self) -> Floats:
        """Prior precision of every column, the shared multiplier left out."""
        return np.concatenate([[self.intercept_sd**-2], *([part.sd**-2] * self._width(part) for part in self.parts)])

    def prior_means(self) -> Floats:
        """Prior mean of every column."""
        means = [np.full(self._width(part), getattr(part, "mean", 0.0)) for part in self.parts]
        return np.concatenate([[0.0], *means])

    def shared(self) -> Shared | None:
        """The columns whose prior sds share a multiplier, and its prior."""
        if self.scale_multiplier is None:
            return None
        columns = np.concatenate([[False], *([part.shared] * self._width(part) for part in self.parts)])
        return Shared(columns, self.scale_multiplier)

    def _width(self, part: Numeric | Categorical) -> int:
        return 1 if isinstance(part, Numeric) else prod(len(self.levels[c]) for c in part.columns)

    def places(self, frame: pd.DataFrame, codings: Codings | None = None) -> dict[str, Codes]:
        """Column -> place of every row's level among those learned, -1 for a new one; for the calls below."""
        codings = {} if codings is None else codings
        places = {}
        for column, levels in self.levels.items():
            place, texts = coding(frame, column, codings)
            places[column] = np.array([levels.get(text, -1) for text in texts], dtype=np.int64)[place]
        return places

    def _codes(self, part: Categorical, places: dict[str, Codes]) -> Codes:
        code, known = np.zeros(1, dtype=np.int64), np.ones(1, dtype=bool)
        for column in part.columns:
            known = known & (places[column] >= 0)
            code = code * len(self.levels[column]) + places[column]
        return np.where(known, code, -1)

    def entries(self, frame: pd.DataFrame, places: dict[str, Codes] | None = None) -> tuple[Codes, Floats, int]:
        """Column and value (rows, parts + 1) of every part in each row, the value 0 at a level never learned; and the
        number of columns."""
        places, edge, rows = places or self.places(frame), 1, len(frame)
        column = np.zeros((rows, len(self.parts) + 1), dtype=np.int64)
        value = np.zeros((rows, len(self.parts) + 1))
        value[:, 0] = 1.0
        numbers: dict[str, Floats] = {}
        for k, part in enumerate(self.parts, start=1):
            name = part.column if isinstance(part, Numeric) else part.times
            if name is not None and name not in numbers:
                numbers[name] = frame[name].to_numpy(dtype=float)
            if isinstance(part, Numeric):
                column[:, k], value[:, k] = edge, numbers[part.column]
                edge += 1
                continue
            code = self._codes(part, places)
            column[:, k] = np.where(code < 0, 0, edge + code)
            value[:, k] = (code >= 0) * (1.0 if part.times is None else numbers[part.times])
            edge += self._width(part)
        return column, value, edge

    def sparse(self, frame: pd.DataFrame, places: dict[str, Codes] | None = None) -> sparse.csr_array:
        """Columns in the order of ``labels``, shape (rows, columns); a level never learned has no entry."""
        return csr(*self.entries(frame, places))

    def matrix(self, frame: pd.DataFrame, places: dict[str, Codes] | None = None) -> Floats:
        """The same, dense."""
        return self.sparse(frame, places).toarray()

    def unknown(
        self, frame: pd.DataFrame, places: dict[str, Codes] | None = None, codings: Codings | None = None
    ) -> list[Unknown]:
        """Levels of ``frame`` that ``matrix`` has no column for."""
        out, places = [], places or self.places(frame)
        for part in self.parts:
            if not isinstance(part, Categorical) or all((places[column] >= 0).all() for column in part.columns):
                continue
            missing = self._codes(part, places) < 0
            levels = levels_of(frame, part.columns, codings)
            gone, codes = np.unique(levels.codes[missing], return_inverse=True)
            place = np.full(len(frame), -1, dtype=np.int64)
            place[missing] = codes
            keys = [f"{part.name}={levels.names[k]}" for k in gone.tolist()]
            times = None if part.times is None else frame[part.times].to_numpy(dtype=float)
            out.append(Unknown(keys, place, part.sd, times, part.shared))
        return out
