"""Factor of the arrowhead precision matrix of a mixed model.

The matrix is [[A, B], [B', C]]: A sparse and large (random effects), C dense and small (fixed effects). A is
factored by scipy's SuperLU in symmetric mode, C through its Schur complement, so nothing dense of the size of A is
ever formed. The usual minimum-degree ordering is slow if some rows of a very large matrix are nearly full (a level that
nearly all units share); there the levels are taken in the order of their degrees, which fills hardly more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy  # its parts are imported at their first use, which a plan from kept fits never comes to
from numpy.typing import NDArray
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.errors import NotDeterminedError

_DRAWS_AT_ONCE = 250
_NUMBERS_AT_ONCE = 4_000_000
HUGE = 50_000


@dataclass(frozen=True)
class SymmetricLU:
    """SuperLU of a symmetric matrix; ``order`` if its rows were put in a given order first."""

    lu: sparse.linalg.SuperLU
    order: NDArray[np.intp] | None

    @classmethod
    def of(cls, matrix: sparse.csc_array, order: NDArray[np.intp] | None = None) -> SymmetricLU:
        """Factor ``matrix``, whose rows and columns are in the ``order`` of an earlier factor if one is given.

        Raises:
            RuntimeError: it is singular.
        """
        spec: Literal["MMD_AT_PLUS_A", "NATURAL"] = "MMD_AT_PLUS_A" if order is None else "NATURAL"
        options = {"SymmetricMode": True}
        return cls(sparse.linalg.splu(matrix, permc_spec=spec, diag_pivot_thresh=0.0, options=options), order)

    def elimination(self) -> NDArray[np.intp]:
        """The order in which the factor took the rows of the matrix it was asked to factor."""
        order = np.argsort(self.lu.perm_c)
        return order if self.order is None else self.order[order]

    def positive(self) -> bool:
        """Whether the matrix is positive definite: no pivot was moved, and all are positive."""
        return bool(self.diagonal().min() > 0) and np.array_equal(self.lu.perm_r, self.lu.perm_c)

    def diagonal(self) -> Floats:
        """The pivots."""
        pivots: Floats = self.lu.U.diagonal()
        return pivots

    def lower(self) -> sparse.csc_array:
        """The unit lower factor."""
        return self.lu.L

    def to_keep(self) -> Lower:
        """Its numbers in a form that can be kept.

        SuperLU holds the upper factor, too, in a form of its own, and keeps a copy of each that it was asked for.
        """
        lower = self.lower()
        return Lower(lower.data, lower.indices, lower.indptr, self.diagonal(), self.places())

    def solve(self, right: Floats) -> Floats:
        """Solve for right-hand sides (rows,) or (rows, k)."""
        if self.order is None:
            solved: Floats = self.lu.solve(right)
            return solved
        out = np.empty_like(right)
        out[self.order] = self.lu.solve(right[self.order])
        return out

    def places(self) -> NDArray[np.intp]:
        """Where each row of the matrix stands in the factor's own order."""
        if self.order is None:
            return self.lu.perm_r.astype(np.intp)
        out = np.empty(len(self.order), dtype=np.intp)
        out[self.order] = self.lu.perm_r
        return out

    def back(self, rows: Floats) -> Floats:
        """Rows in the factor's own order put back in the matrix's order."""
        placed: Floats = rows[self.places()]
        return placed


@dataclass(frozen=True)
class Lower:
    """A ``SymmetricLU`` that was kept: its numbers in plain arrays.

    Attributes:
        data, indices, indptr: of the unit lower factor, column by column.
        pivots: (rows,) as ``SymmetricLU.diagonal``.
        order: (rows,) as ``SymmetricLU.places``.
    """

    data: Floats
    indices: NDArray[np.integer]
    indptr: NDArray[np.integer]
    pivots: Floats
    order: NDArray[np.intp]

    def diagonal(self) -> Floats:
        """The pivots."""
        return self.pivots

    def lower(self) -> sparse.csc_array:
        """The unit lower factor."""
        size = len(self.pivots)
        return sparse.csc_array((self.data, self.indices, self.indptr), shape=(size, size))

    def places(self) -> NDArray[np.intp]:
        """Where each row of the matrix stands in the factor's own order."""
        return self.order

    def back(self, rows: Floats) -> Floats:
        """Rows in the factor's own order put back in the matrix's order."""
        placed: Floats = rows[self.order]
        return placed

    def elimination(self) -> NDArray[np.intp]:
        """The order in which the factor took the rows of the matrix it was asked to factor."""
        return np.argsort(self.order)

    def solve(self, right: Floats) -> Floats:
        """Solve for right-hand sides (rows,) or (rows, k)."""
        # Only the diagonal is overwritten, by the ones it holds: a copy of a large factor would take much memory.
        lower, given = self.lower(), {"unit_diagonal": True, "overwrite_A": self.data.flags.writeable}
        half = sparse.linalg.spsolve_triangular(lower, right[self.elimination()], lower=True, **given)
        half = (half.T / self.pivots).T
        return self.back(sparse.linalg.spsolve_triangular(lower.T, half, lower=False, **given))


@dataclass(frozen=True)
class ArrowheadFactor:
    """Factor of one precision matrix; ``log_det`` is the log of its determinant."""

    lu: SymmetricLU | Lower | None
    coupling: Floats  # A^-1 B, shape (random, fixed)
    schur: Floats  # upper Cholesky factor of C - B' A^-1 B
    log_det: float

    def solve(self, random: Floats, fixed: Floats) -> tuple[Floats, Floats]:
        """Solve for one right-hand side split as (random, fixed); returns the solution split the same way."""
        inner = self.lu.solve(random) if self.lu is not None else random
        if not fixed.size:
            return inner, fixed
        reduced = fixed - self.coupling.T @ random
        solved = scipy.linalg.cho_solve((self.schur, False), reduced)
        return inner - self.coupling @ solved, solved

    def fixed_covariance(self) -> Floats:
        """Covariance of the fixed effects, shape (fixed, fixed)."""
        size = len(self.schur)
        return scipy.linalg.cho_solve((self.schur, False), np.eye(size)) if size else np.zeros((0, 0))

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Draws of (random, fixed) with mean zero and covariance the inverse: shapes (n, random), (n, fixed)."""
        fixed = rng.standard_normal((n, len(self.schur)))
        if fixed.size:
            fixed = scipy.linalg.solve_triangular(self.schur, fixed.T).T
        random = self._draw_random(n, rng)
        if fixed.size and random.size:
            random -= fixed @ self.coupling.T
        return random, fixed

    def _draw_random(self, n: int, rng: np.random.Generator) -> Floats:
        if self.lu is None:
            return np.zeros((n, 0))
        scale = 1.0 / np.sqrt(self.lu.diagonal())
        upper = self.lu.lower().T.tocsr()
        out = np.empty((n, len(scale)))
        for start in range(0, n, _DRAWS_AT_ONCE):
            stop = min(n, start + _DRAWS_AT_ONCE)
            noise = rng.standard_normal((stop - start, len(scale))) * scale
            solved = sparse.linalg.spsolve_triangular(upper, noise.T, lower=False, unit_diagonal=True)
            out[start:stop] = self.lu.back(solved).T
        return out


def _reordered(matrix: sparse.csc_array, order: NDArray[np.intp]) -> sparse.csc_array:
    """Rows and columns of a square matrix in an order, by one copy."""
    place = np.empty(len(order), dtype=matrix.indices.dtype)
    place[order] = np.arange(len(order))
    moved = matrix[:, order]
    moved.indices = place[moved.indices]
    moved.has_sorted_indices = False
    moved.sort_indices()
    return moved


def factor_arrowhead(
    random: sparse.csc_array,
    cross: Floats | sparse.csc_array,
    fixed: Floats,
    order: NDArray[np.intp] | None = None,
) -> ArrowheadFactor:
    """Factor [[random, cross], [cross', fixed]], which must be symmetric and positive definite.

    ``order``: the order that rows and columns of ``random``, and of it alone, are in; see ``SymmetricLU.of``.

    Raises:
        NotDeterminedError: the matrix is not positive definite.
    """
    lu: SymmetricLU | Lower | None
    lu, log_det_random, coupling, schur = None, 0.0, np.zeros(cross.shape), fixed
    if random.shape[0]:
        huge = random.shape[0] >= HUGE
        if order is None and huge:
            order = np.argsort(np.diff(random.indptr), kind="stable")
            random = _reordered(random, order)  # here: the matrix as it was given is freed before it is factored
        try:
            lu = SymmetricLU.of(random, order)
        except RuntimeError as error:
            raise NotDeterminedError("the precision of the random effects is singular") from error
        del random  # frees memory that large data need
        if not lu.positive():
            raise NotDeterminedError("the precision of the random effects is not positive definite")
        if huge:
            lu = lu.to_keep()  # a quarter of the memory
        log_det_random = float(np.log(lu.diagonal()).sum())
        if cross.shape[1]:
            step = max(1, _NUMBERS_AT_ONCE // cross.shape[0])  # copies of all would not fit in memory
            for start in range(0, cross.shape[1], step):
                some = cross[:, start : start + step]
                dense = some.toarray() if sparse.issparse(some) else some
                coupling[:, start : start + step] = lu.solve(np.asfortranarray(dense))
            schur = fixed - cross.T @ coupling
    try:
        upper = scipy.linalg.cholesky(schur) if schur.size else np.zeros((0, 0))
    except scipy.linalg.LinAlgError as error:
        raise NotDeterminedError("the precision of the fixed effects is not positive definite") from error
    log_det = log_det_random + 2.0 * float(np.log(np.diag(upper)).sum())
    return ArrowheadFactor(lu, coupling, upper, log_det)
