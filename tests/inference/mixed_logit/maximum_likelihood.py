"""The engine without priors: Laplace's marginal likelihood of fixed effects and sds, with its exact gradient.

Published fits maximise it, random effects alone integrated; the product integrates the fixed effects as well.

The derivative of the log determinant needs the variance of each cell's own linear predictor; ``variances`` gives it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg
from scipy.special import expit

from pipeline.arrays import Floats
from pipeline.errors import NotDeterminedError
from pipeline.inference.mixed_logit.conditional_mode import MixedLogitProblem, Term
from pipeline.inference.mixed_logit.fit import fitted_result
from pipeline.inference.mixed_logit.mixed_fit import MixedFit, Node
from pipeline.inference.mixed_logit.variances import BlockFactor, BlockLayout, log_det_slope, slope_along_log_sd

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


class Marginal:
    """The log likelihood of (fixed, log sd); every evaluation starts from the random effects of the one before."""

    def __init__(self, X: Floats, terms: tuple[Term, ...], successes: Floats, trials: Floats) -> None:
        self.X, self.terms = X, terms
        self.problem = MixedLogitProblem(np.zeros((len(X), 0)), terms, successes, trials, None, None)
        self.random = np.zeros(len(self.problem.owner))
        self.layout = BlockLayout(self.problem)

    def _mode(self, offset: Floats, prior: Floats) -> tuple[Floats, Floats, BlockFactor]:
        """Newton's method for the random effects: (chance, weight, factor) at the mode, kept in ``random``.

        Raises:
            NotDeterminedError: no mode was found.
        """
        problem, random = self.problem, self.random
        for _ in range(_STEPS):
            eta = offset + problem.Z @ random
            probability = expit(eta)
            weight = problem.m * probability * (1.0 - probability)
            blocks = self.layout.factor(weight, prior)
            slope = problem.ZT @ (problem.y - problem.m * probability) - prior * random
            step = blocks.solve(slope, self.layout.most, self.layout.rest)
            if float(slope @ step) < _SETTLED:
                self.random = random
                return probability, weight, blocks
            # The log posterior is concave; a step of many standard errors is shortened, not searched along.
            random = random + step * min(1.0, 5.0 / float(np.abs(step).max()))
        raise NotDeterminedError("no mode of the random effects was found")

    def __call__(self, fixed: Floats, log_sd: Floats) -> tuple[float, Floats, Floats]:
        """The log likelihood and its slopes along fixed effects and log sds."""
        problem, owner = self.problem, self.problem.owner
        prior = np.exp(-2.0 * log_sd)[owner]
        offset = self.X @ fixed
        probability, weight, blocks = self._mode(offset, prior)
        eta, random = offset + problem.Z @ self.random, self.random
        value = float(problem.y @ eta - problem.m @ np.logaddexp(0.0, eta)) - 0.5 * float(prior @ random**2)
        value += problem.constant - float(log_sd[owner].sum()) - 0.5 * blocks.log_det()
        of_cell, of_effect = self.layout.spread(blocks)
        by_cell = log_det_slope(of_cell, probability, problem.m)
        implicit_term = blocks.solve(problem.ZT @ by_cell, self.layout.most, self.layout.rest)
        total_derivative = by_cell - weight * (problem.Z @ implicit_term)  # less what the mode gives way
        slope_fixed = self.X.T @ (problem.y - problem.m * probability - 0.5 * total_derivative)
        return value, slope_fixed, slope_along_log_sd(problem, prior, random, of_effect, implicit_term)


def maximise(X: Floats, terms: tuple[Term, ...], successes: Floats, trials: Floats) -> Optimum:
    """The highest likelihood by BFGS, in coordinates where a fixed effect's standard error is about 1.

    Raises:
        NotDeterminedError: no mode was found.
    """
    size, log_sd = X.shape[1], np.full(len(terms), np.log(_START))
    joint = MixedLogitProblem(X, terms, successes, trials, None, None)
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
    from scipy import optimize  # slow to import

    optimum = optimize.minimize(negative, start, jac=True, method="BFGS", options={"gtol": _GRADIENT})
    fixed, best_log_sd = place(optimum.x)
    value, _, _ = surface(fixed, best_log_sd)
    return Optimum(fixed, best_log_sd, surface.random, value)


def fit_maximum_likelihood(X: Floats, terms: Sequence[Term], successes: Floats, trials: Floats) -> MixedFit:
    """Maximise the Laplace likelihood over fixed effects and sds together, without any prior.

    The objective of the usual one-point quadrature fit: random effects integrated, fixed effects not. For few columns;
    used to check the engine against published fits.
    """
    best = maximise(np.asarray(X, dtype=float), tuple(terms), successes, trials)
    problem = MixedLogitProblem(X, tuple(terms), successes, trials, None, None)
    mode = problem.evaluate(best.log_sd, best.random, best.fixed)
    return fitted_result(problem, mode, (Node.of(mode, 1.0),), best.value)
