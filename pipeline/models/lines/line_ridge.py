"""The ridge regressions behind the usual line: of the lines played, and of how far they lay off by the entry boards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.arrowhead import SymmetricLU
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric

_FOLDS = 8  # of blocks, each left out in turn
# Prior sds in arrows, against lines that scatter by about one arrow; our own choice.
OIL = ("length_ft_z", "volume_ml_z", "ratio_z")
PARTS: tuple[Numeric | Categorical, ...] = (
    *(Numeric(column, 1.0) for column in ("game_1", "game_2", "load_z", *OIL)),
    Categorical(("pattern_class",), 0.45),
    Categorical(("ball_class",), 0.3),
    Categorical(("ball",), 0.2),
    Categorical(("bowler",), 0.3),
)
# How far bowlers are behind the lane on average, in arrows, by the same parts; where one bowler's balls come in says
# nothing of it, for everybody has an entry board of their own.
_BEHIND: tuple[Numeric | Categorical, ...] = tuple(
    replace(part, sd=0.01 if isinstance(part, Categorical) and part.columns == ("bowler",) else 0.3 * part.sd)
    for part in PARTS
)


@dataclass(frozen=True)
class _Sums:
    """What a ridge regression needs of its cells: columns by columns, and columns by the lines played in arrows."""

    squares: sparse.csr_array
    products: Floats

    @classmethod
    def of(cls, columns: sparse.csr_array, arrows: Floats, shots: Floats) -> _Sums:
        """From cells: ``columns`` (cells, columns), ``arrows`` (cells,), nan without a line, and ``shots`` (cells,)."""
        weighted = sparse.diags_array(np.where(np.isnan(arrows), 0.0, shots)) @ columns
        return cls((columns.T @ weighted).tocsr(), weighted.T @ np.nan_to_num(arrows))

    def without(self, some: _Sums) -> _Sums:
        """Those of the other cells."""
        return _Sums(self.squares - some.squares, self.products - some.products)

    def effects(self, sd: Floats) -> Floats:
        """Effects (columns,) where they have these sds beforehand."""
        scale = sparse.diags_array(sd)
        matrix = (scale @ self.squares @ scale + sparse.eye_array(len(sd))).tocsc()
        order = np.argsort(np.diff(matrix.indptr), kind="stable")  # balls, bowlers, then what nearly every cell has
        return sd * SymmetricLU.of(matrix[order][:, order].tocsc(), order).solve(sd * self.products)


def _folds(blocks: pd.Series) -> Iterator[Codes]:
    """The cells of each fold of blocks; none of a single block."""
    codes, names = pd.factorize(blocks)
    fold = np.random.default_rng(0).permutation(len(names)) % _FOLDS
    for k in range(min(_FOLDS, len(names)) if len(names) > 1 else 0):
        yield np.flatnonzero(fold[codes] == k)


@dataclass(frozen=True)
class LineRidge:
    """The two ridge regressions of the usual line: lines played, and how far the entry boards say they lay off."""

    columns: sparse.csr_array
    sds: tuple[Floats, Floats]
    targets: tuple[Floats, Floats]
    weights: tuple[Floats, Floats]

    @classmethod
    def of(cls, design: Design, frame: pd.DataFrame, arrows: Floats, shots: Floats) -> LineRidge:
        """From cells, and where each was played: ``arrows`` (cells,), nan without a line; ``shots`` (cells,)."""
        behind = Design(_BEHIND, intercept_sd=0.01, levels=design.levels)
        sds = design.precision() ** -0.5, behind.precision() ** -0.5
        entries, noise = numbers(frame, "entries", 0.0), numbers(frame, "off_variance", 1.0)
        return cls(design.sparse(frame), sds, (arrows, numbers(frame, "off_seen")), (shots, entries / noise))

    def _sums(self, rows: Codes | slice) -> tuple[_Sums, ...]:
        columns = self.columns[rows]
        return tuple(_Sums.of(columns, y[rows], w[rows]) for y, w in zip(self.targets, self.weights, strict=True))

    def _solved(self, sums: tuple[_Sums, ...]) -> Floats:
        played, behind = sums[0].effects(self.sds[0]), self._behind(sums)
        return played if behind is None else played - behind

    def _behind(self, sums: tuple[_Sums, ...]) -> Floats | None:
        return sums[1].effects(self.sds[1]) if np.isfinite(self.targets[1]).any() else None

    def behind(self) -> Floats | None:
        """Effects (columns,) on how far bowlers lag behind the lane, by all blocks; None without entry boards."""
        return self._behind(self._sums(slice(None)))

    def effects(self) -> Floats:
        """Effects (columns,) of the usual line, by all blocks."""
        return self._solved(self._sums(slice(None)))

    def of_other_blocks(self, blocks: pd.Series) -> tuple[Floats, Floats | None]:
        """The usual line (cells,) by the other blocks, and the effects (folds, columns) behind it, or None."""
        every, usual, others = self._sums(slice(None)), self.columns @ self.effects(), []
        for own in _folds(blocks):
            rest = tuple(a.without(b) for a, b in zip(every, self._sums(own), strict=True))
            others.append(self._solved(rest))
            usual[own] = self.columns[own] @ others[-1]
        return usual, np.array(others) if others else None


def numbers(frame: pd.DataFrame, column: str, otherwise: float = np.nan) -> Floats:
    """A column (cells,), or the same number throughout where it is not there or missing."""
    if column not in frame:
        return np.full(len(frame), otherwise)
    values: Floats = pd.to_numeric(frame[column]).to_numpy(dtype=float, na_value=np.nan)
    return np.where(np.isnan(values), otherwise, values)
