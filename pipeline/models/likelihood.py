"""Laplace's marginal likelihood of fixed effects and sds with its exact gradient, random effects alone integrated.

The curvature of the random effects is factored by blocks: a cell has one level of the grouping with the most levels, so
that block is diagonal, and only the Schur complement of the others is dense. Its derivative needs the variance of each
cell's own linear predictor, which those blocks give without the whole inverse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import linalg, optimize
from scipy.special import expit

from pipeline.models.arrow import Floats
from pipeline.models.features import Codes
from pipeline.models.laplace import Problem, Term

_STEPS = 60
_SETTLED = 1e-12  # squared Newton decrement, on the log likelihood, at which the mode counts as found
_START = 0.3
_GRADIENT = 1e-5  # in units of a standard error


@dataclass(frozen=True)
class Optimum:
    """Where the likelihood is highest: ``fixed`` (columns,), ``log_sd`` (terms,), ``random`` (levels,), its log."""

    fixed: Floats
    log_sd: Floats
    random: Floats
    value: float


@dataclass(frozen=True)
class _Blocks:
    """Factor of [[diagonal, cross], [cross', dense]]: ``lean`` is cross / diagonal, ``root`` that of the Schur
    complement."""

    diagonal: Floats
    lean: Floats
    root: tuple[Floats, bool]

    def solve(self, right: Floats, most: slice, rest: Codes) -> Floats:
        """Solve for right-hand sides (levels,) or (levels, k)."""
        out = np.empty_like(right)
        out[rest] = linalg.cho_solve(self.root, right[rest] - self.lean.T @ right[most])
        scale = self.diagonal if right.ndim == 1 else self.diagonal[:, None]
        out[most] = right[most] / scale - self.lean @ out[rest]
        return out

    def log_det(self) -> float:
        """Log determinant."""
        return float(np.log(self.diagonal).sum() + 2.0 * np.log(np.diag(self.root[0])).sum())


class Marginal:
    """The log likelihood of (fixed, log sd); every evaluation starts from the random effects of the one before."""

    def __init__(self, X: Floats, terms: tuple[Term, ...], successes: Floats, trials: Floats) -> None:
        self.X, self.terms = X, terms
        self.problem = Problem(np.zeros((len(X), 0)), terms, successes, trials, None, None)
        self.random = np.zeros(len(self.problem.owner))
        edges = np.cumsum([0, *(term.levels for term in terms)])
        self.edges, self.largest = edges, int(np.argmax(np.diff(edges)))
        self.most = slice(edges[self.largest], edges[self.largest + 1])
        self.rest = np.flatnonzero(self.problem.owner != self.largest)
        self.place = np.cumsum(self.problem.owner != self.largest) - 1

    def _blocks(self, weight: Floats, prior: Floats) -> _Blocks:
        matrix = self.problem.curvature(weight, prior)
        across = matrix[:, self.rest]
        cross = across[self.most].toarray()
        diagonal = matrix.diagonal()[self.most]
        lean = cross / diagonal[:, None]
        return _Blocks(diagonal, lean, linalg.cho_factor(across[self.rest].toarray() - cross.T @ lean))

    def _mode(self, offset: Floats, prior: Floats) -> tuple[Floats, Floats, _Blocks]:
        """Newton's method for the random effects: (chance, weight, factor) at the mode, kept in ``random``.

        Raises:
            ArithmeticError: no mode was found.
        """
        problem, random = self.problem, self.random
        for _ in range(_STEPS):
            eta = offset + problem.Z @ random
            chance = expit(eta)
            weight = problem.m * chance * (1.0 - chance)
            blocks = self._blocks(weight, prior)
            slope = problem.ZT @ (problem.y - problem.m * chance) - prior * random
            step = blocks.solve(slope, self.most, self.rest)
            if float(slope @ step) < _SETTLED:
                self.random = random
                return chance, weight, blocks
            # The log posterior is concave; a step of many standard errors is shortened, not searched along.
            random = random + step * min(1.0, 5.0 / float(np.abs(step).max()))
        raise ArithmeticError("no mode of the random effects was found")

    def _spread(self, blocks: _Blocks) -> tuple[Floats, Floats]:
        """Variance of each cell's sum of random effects, and of each random effect."""
        inverse = linalg.cho_solve(blocks.root, np.eye(len(self.rest)))
        across = -blocks.lean @ inverse
        own = 1.0 / blocks.diagonal - (across * blocks.lean).sum(axis=1)
        of_effect = np.empty(len(self.problem.owner))
        of_effect[self.most], of_effect[self.rest] = own, np.diag(inverse)
        of_cell = np.zeros(len(self.X))
        for i, one in enumerate(self.terms):
            for j, two in enumerate(self.terms[: i + 1]):
                held = np.flatnonzero((one.codes >= 0) & (two.codes >= 0))
                value = self._covariance(i, j, one.codes[held], two.codes[held], own, across, inverse)
                for term in (one, two):
                    value = value if term.weights is None else value * term.weights[held]
                of_cell[held] += value * (1.0 if i == j else 2.0)
        return of_cell, of_effect

    def _covariance(
        self, i: int, j: int, one: Codes, two: Codes, own: Floats, across: Floats, inverse: Floats
    ) -> Floats:
        if i == j == self.largest:
            return own[one]
        if i == self.largest:
            return across[one, self.place[self.edges[j] + two]]
        if j == self.largest:
            return across[two, self.place[self.edges[i] + one]]
        return inverse[self.place[self.edges[i] + one], self.place[self.edges[j] + two]]

    def __call__(self, fixed: Floats, log_sd: Floats) -> tuple[float, Floats, Floats]:
        """The log likelihood and its slopes along fixed effects and log sds."""
        problem, owner = self.problem, self.problem.owner
        prior = np.exp(-2.0 * log_sd)[owner]
        offset = self.X @ fixed
        chance, weight, blocks = self._mode(offset, prior)
        eta, random = offset + problem.Z @ self.random, self.random
        value = float(problem.y @ eta - problem.m @ np.logaddexp(0.0, eta)) - 0.5 * float(prior @ random**2)
        value += problem.constant - float(log_sd[owner].sum()) - 0.5 * blocks.log_det()
        of_cell, of_effect = self._spread(blocks)
        bend = of_cell * weight * (1.0 - 2.0 * chance)  # slope of the log determinant along each linear predictor
        pulled = blocks.solve(problem.ZT @ bend, self.most, self.rest)
        through = bend - weight * (problem.Z @ pulled)  # less what the mode gives way
        slope_fixed = self.X.T @ (problem.y - problem.m * chance - 0.5 * through)
        by_effect = prior * (random**2 + of_effect - random * pulled) - 1.0
        slope_sd = np.array([by_effect[owner == k].sum() for k in range(len(self.terms))])
        return value, slope_fixed, slope_sd


def maximise(X: Floats, terms: tuple[Term, ...], successes: Floats, trials: Floats) -> Optimum:
    """The highest likelihood by BFGS, in coordinates where a fixed effect's standard error is about 1.

    Raises:
        ArithmeticError: no mode was found.
    """
    size, log_sd = X.shape[1], np.full(len(terms), np.log(_START))
    joint = Problem(X, terms, successes, trials, None, None)
    first = joint.mode(log_sd, joint.start())
    surface = Marginal(X, terms, successes, trials)
    surface.random = first.random
    root = first.factor.schur  # the precision of the fixed effects is root' root

    def place(point: Floats) -> tuple[Floats, Floats]:
        return first.fixed + linalg.solve_triangular(root, point[:size]), log_sd + point[size:]

    def negative(point: Floats) -> tuple[float, Floats]:
        value, fixed, sds = surface(*place(point))
        return -value, -np.concatenate([linalg.solve_triangular(root, fixed, trans="T"), sds])

    start = np.zeros(size + len(terms))
    found = optimize.minimize(negative, start, jac=True, method="BFGS", options={"gtol": _GRADIENT})
    fixed, log_sd_found = place(found.x)
    value, _, _ = surface(fixed, log_sd_found)
    return Optimum(fixed, log_sd_found, surface.random, value)
