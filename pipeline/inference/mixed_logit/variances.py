"""Variances of random effects and of cells' linear predictors, without the whole inverse of the precision matrix.

The curvature of the random effects is factored by blocks: a cell has one level of the grouping with the most levels, so
that block is diagonal, and only the Schur complement of the others is dense. Fixed effects, if they are integrated
too, add what their own uncertainty carries over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy  # its parts as in arrowhead
from scipy import sparse
from scipy.special import expit

from pipeline.arrays import Floats
from pipeline.errors import NotDeterminedError
from pipeline.inference.mixed_logit.arrowhead import ArrowheadFactor
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.conditional_mode import MixedLogitProblem, Mode

_MOST_DENSE = 2_000  # levels outside the largest grouping
_MOST_NUMBERS = 4_000_000  # in each other full matrix
_SPARSE = 0.1  # share of entries below which products are quicker without the zeros


@dataclass(frozen=True)
class BlockFactor:
    """Factor of [[diagonal, cross], [cross', dense]]: ``cross_solve`` is cross / diagonal, ``root`` that of the Schur
    complement."""

    diagonal: Floats
    cross_solve: Floats | sparse.csr_array
    root: tuple[Floats, bool]

    def solve(self, right: Floats, most: slice, rest: Codes) -> Floats:
        """Solve for right-hand sides (levels,) or (levels, k)."""
        out = np.empty_like(right)
        out[rest] = scipy.linalg.cho_solve(self.root, right[rest] - self.cross_solve.T @ right[most])
        scale = self.diagonal if right.ndim == 1 else self.diagonal[:, None]
        out[most] = right[most] / scale - self.cross_solve @ out[rest]
        return out

    def log_det(self) -> float:
        """Log determinant."""
        return float(np.log(self.diagonal).sum() + 2.0 * np.log(np.diag(self.root[0])).sum())

    def inverse(self) -> Floats:
        """Inverse of the Schur complement."""
        if not self.root[0].size:
            return np.zeros((0, 0))
        upper, info = scipy.linalg.lapack.dpotri(self.root[0], lower=self.root[1])
        if info:
            raise NotDeterminedError("the precision of the random effects is singular")
        half = np.tril(upper) if self.root[1] else np.triu(upper)
        return half + half.T - np.diag(np.diag(half))


@dataclass(frozen=True)
class Slopes:
    """Slope along each log sd, and the expected curvature along it, both (axes,)."""

    slope: Floats
    information: Floats


class BlockLayout:
    """Where a problem's levels stand in the blocks; ``dense`` and ``across`` are the sizes of its full matrices."""

    def __init__(self, problem: MixedLogitProblem) -> None:
        self.problem, self.terms = problem, problem.terms
        self.edges = np.cumsum([0, *(term.levels for term in self.terms)])
        self.largest = int(np.argmax(np.diff(self.edges)))
        self.most = slice(self.edges[self.largest], self.edges[self.largest + 1])
        others = problem.owner != self.largest
        self.rest: Codes = np.flatnonzero(others)
        self.place = np.cumsum(others) - 1
        self.dense, self.across = len(self.rest), len(self.rest) * self.terms[self.largest].levels

    def factor(self, weight: Floats, prior: Floats) -> BlockFactor:
        """Factor the curvature with the weights (cells,) and the prior precision (levels,).

        Raises:
            NotDeterminedError: it is not positive definite.
        """
        matrix = self.problem.curvature(weight, prior)
        columns = matrix[:, self.rest]
        diagonal = matrix.diagonal()[self.most]
        cross = columns[self.most].tocsr()
        if cross.nnz > _SPARSE * self.across:
            dense = cross.toarray()
            cross_solve = dense / diagonal[:, None]
            taken = dense.T @ cross_solve
        else:
            cross_solve = sparse.diags_array(1.0 / diagonal) @ cross
            taken = (cross.T @ cross_solve).toarray()
        try:
            return BlockFactor(diagonal, cross_solve, scipy.linalg.cho_factor(columns[self.rest].toarray() - taken))
        except scipy.linalg.LinAlgError as error:
            raise NotDeterminedError("the precision of the random effects is not positive definite") from error

    def spread(self, blocks: BlockFactor) -> tuple[Floats, Floats]:
        """Variance of each cell's sum of random effects, and of each random effect, fixed effects held."""
        inverse = blocks.inverse()
        across = -(blocks.cross_solve @ inverse)
        product = (
            across * blocks.cross_solve
            if isinstance(blocks.cross_solve, np.ndarray)
            else blocks.cross_solve.multiply(across)
        )
        of_largest = 1.0 / blocks.diagonal - np.asarray(product.sum(axis=1)).ravel()
        of_effect = np.empty(len(self.problem.owner))
        of_effect[self.most], of_effect[self.rest] = of_largest, np.diag(inverse)
        of_cell = np.zeros(len(self.problem.y))
        for i, one in enumerate(self.terms):
            for j, two in enumerate(self.terms[: i + 1]):
                held = np.flatnonzero((one.codes >= 0) & (two.codes >= 0))
                value = self._covariance(i, j, one.codes[held], two.codes[held], of_largest, across, inverse)
                for term in (one, two):
                    value = value if term.weights is None else value * term.weights[held]
                of_cell[held] += value * (1.0 if i == j else 2.0)
        return of_cell, of_effect

    def _covariance(
        self, i: int, j: int, one: Codes, two: Codes, of_largest: Floats, across: Floats, inverse: Floats
    ) -> Floats:
        if i == j == self.largest:
            return of_largest[one]
        if i == self.largest:
            return across[one, self.place[self.edges[j] + two]]
        if j == self.largest:
            return across[two, self.place[self.edges[i] + one]]
        return inverse[self.place[self.edges[i] + one], self.place[self.edges[j] + two]]

    def joint_spread(self, factor: ArrowheadFactor, weight: Floats, prior: Floats) -> tuple[Floats, Floats]:
        """Variance of each cell's linear predictor, and of each random effect, fixed effects integrated.

        With A the block of the random effects, z a cell's row of Z, x of X and S = ``schur``' ``schur``: the variance
        is z' A^-1 z + r' S^-1 r with r = x - ``coupling``' z.
        """
        of_cell, of_effect = self.spread(self.factor(weight, prior))
        left = self.problem.X - self.problem.Z @ factor.coupling
        for variance, rows in ((of_cell, left), (of_effect, factor.coupling)):
            scaled = scipy.linalg.solve_triangular(factor.schur, rows.T, trans="T", check_finite=False)
            variance += np.einsum("ij,ij->j", scaled, scaled)
        return of_cell, of_effect


def exact_block_layout(problem: MixedLogitProblem) -> BlockLayout | None:
    """The layout for exact slopes of ``problem``, or None if there is nothing to lay out or no room for it."""
    if not problem.terms or sparse.issparse(problem.X) or problem.X.size > _MOST_NUMBERS:
        return None
    layout = BlockLayout(problem)
    return layout if layout.dense <= _MOST_DENSE and layout.across <= _MOST_NUMBERS else None


def log_det_slope(of_cell: Floats, probability: Floats, trials: Floats) -> Floats:
    """Slope of the log determinant along each cell's linear predictor, whose variance is ``of_cell``."""
    return of_cell * trials * probability * (1.0 - probability) * (1.0 - 2.0 * probability)


def slope_along_log_sd(
    problem: MixedLogitProblem, prior: Floats, random: Floats, of_effect: Floats, implicit_term: Floats
) -> Floats:
    """Slope of Laplace's value along each log sd.

    ``of_effect``: variance of each random effect; ``implicit_term``: the inverse curvature times the slope of the log
    determinant along the effects, the implicit-derivative term.
    """
    by_effect = prior * (random**2 + of_effect - random * implicit_term) - 1.0
    return _by_term(problem, by_effect)


def _by_term(problem: MixedLogitProblem, values: Floats) -> Floats:
    """Sum of values (levels,) over each term's levels."""
    return np.bincount(problem.owner, values, minlength=len(problem.terms)).astype(float)


def evidence_slopes(layout: BlockLayout, mode: Mode) -> Slopes:
    """Slope of ``mode.integrated`` along the log sds.

    The information is that of normal data: twice the sum of squares of the share of each effect's prior variance that
    the data remove.
    """
    problem = layout.problem
    prior = problem.prior(mode.log_sd)
    probability = expit(problem.linear(mode.random, mode.fixed))
    of_cell, of_effect = layout.joint_spread(mode.factor, problem.m * probability * (1.0 - probability), prior.random)
    by_cell = log_det_slope(of_cell, probability, problem.m)
    implicit_term, implicit_fixed = mode.factor.solve(problem.ZT @ by_cell, problem.X.T @ by_cell)
    data_share = np.square(1.0 - prior.random * of_effect)
    slope = slope_along_log_sd(problem, prior.random, mode.random, of_effect, implicit_term)
    information = 2.0 * _by_term(problem, data_share)
    if not problem.shared.any():
        return Slopes(slope, information)
    along_multiplier, information_of_multiplier = _along_scale_multiplier(problem, prior.fixed, mode, implicit_fixed)
    return Slopes(np.append(slope, along_multiplier), np.append(information, information_of_multiplier))


def _along_scale_multiplier(
    problem: MixedLogitProblem, prior: Floats, mode: Mode, implicit_term: Floats
) -> tuple[float, float]:
    """The same two along the log of the scale multiplier that the prior sds of fixed effects share."""
    of_fixed = np.diag(mode.factor.fixed_covariance())
    by_fixed = prior * (mode.fixed**2 + of_fixed - mode.fixed * implicit_term) - 1.0
    data_share = np.square(1.0 - prior * of_fixed)
    return float(by_fixed[problem.shared].sum()), 2.0 * float(data_share[problem.shared].sum())
