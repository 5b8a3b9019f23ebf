"""How far a line lies from where it is usually played: by that bowler, with that ball, on that oil, that late.

Bowlers move with the lane, so where they play says where the lane asks to be played. A line that suits a fresh pattern
lies outside of the usual one an hour later; squared, that distance carries into the worth model what no sum of effects
of line and game can hold. The usual line is a ridge regression of the lines played, counted in arrows.

Bowlers also stay where they happened to strike, so a line counts as more usual for the luck it had there. What the
distance costs is therefore learned with each block's usual line taken from the other blocks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.inference.mixed_logit.arrowhead import Floats, Ordered
from pipeline.inference.mixed_logit.design import Codes, Design, Factor, Numeric
from pipeline.sport.lane import LINES

_ARROWS = {line: float(k) for k, line in enumerate(LINES)}
_FOLDS = 8  # of blocks, each left out in turn
_FURTHEST = 2.5  # arrows; a line further off is priced as this far, for hardly any shot was thrown there
# Prior sds in arrows, against lines that scatter by about one arrow; our own choice.
_PARTS: tuple[Numeric | Factor, ...] = (
    *(Numeric(column, 1.0) for column in ("game_1", "game_2", "load_z", "length_ft_z", "volume_ml_z", "ratio_z")),
    Factor(("pattern_class",), 0.45),
    Factor(("ball_class",), 0.3),
    Factor(("ball",), 0.2),
    Factor(("bowler",), 0.3),
)


@dataclass(frozen=True)
class UsualLine:
    """The usual line, as a function of the worth model's covariates.

    Attributes:
        design: its columns, levels learned.
        effects: (columns,) in arrows.
        spread: mean squared distance over the shots it was learned from, in arrows squared.
    """

    design: Design
    effects: Floats
    spread: float

    def distance(self, frame: pd.DataFrame) -> Floats:
        """Squared distance of each row's line from the usual one, less its mean over the season, arrows squared.

        Rows without a line have 0, the mean.
        """
        off = frame["line"].map(_ARROWS).to_numpy(dtype=float) - self.design.sparse(frame) @ self.effects
        return np.nan_to_num(_squared(off) - self.spread)


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
        return sd * Ordered.of(matrix[order][:, order].tocsc(), order).solve(sd * self.products)


def _squared(off: Floats) -> Floats:
    return np.minimum(off**2, _FURTHEST**2)


def _folds(blocks: pd.Series) -> Iterator[Codes]:
    """The cells of each fold of blocks; none of a single block."""
    codes, names = pd.factorize(blocks)
    fold = np.random.default_rng(0).permutation(len(names)) % _FOLDS
    for k in range(min(_FOLDS, len(names)) if len(names) > 1 else 0):
        yield np.flatnonzero(fold[codes] == k)


def learn_usual_line(frame: pd.DataFrame) -> tuple[UsualLine, Floats]:
    """Learn from cells with ``block``, ``shots`` and the worth model's covariates.

    Returns:
        The usual line, and the distance (cells,) of each cell from it as ``UsualLine.distance`` gives it, but each
        block's by what the other blocks alone show; of a single block there are no others, and it is the same. Without
        any line nothing is usual.
    """
    design = Design(_PARTS).learn(frame)
    arrows = np.asarray(frame["line"].map(_ARROWS), dtype=float)
    logged = ~np.isnan(arrows)
    if not logged.any():
        return UsualLine(design, np.zeros(len(design.precision())), 0.0), np.zeros(len(frame))
    columns, sd, shots = design.sparse(frame), design.precision() ** -0.5, frame["shots"].to_numpy(dtype=float)
    every = _Sums.of(columns, arrows, shots)
    effects = every.effects(sd)
    squared = _squared(arrows - columns @ effects)
    spread = float(np.average(squared[logged], weights=shots[logged]))
    for own in _folds(frame["block"]):
        mine = columns[own]
        others = every.without(_Sums.of(mine, arrows[own], shots[own])).effects(sd)
        squared[own] = _squared(arrows[own] - mine @ others)
    return UsualLine(design, effects, spread), np.nan_to_num(squared - spread)
