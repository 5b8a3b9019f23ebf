"""Multinomial logit on counts with pooled group intercepts, fitted by Newton steps, with a Laplace posterior.

The first category is the base. With ``groups`` every group has its own intercept for every other category, drawn
from one normal distribution whose sd has a posterior by the Laplace marginal likelihood; its root mean square is used,
since the mode of a few groups makes them more alike than they need be. Groups touch each other only through the fixed
effects, so the Hessian is an arrowhead and is never formed whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import scipy  # whose linalg is slow to import
from scipy.special import log_softmax, softmax

from pipeline.errors import NotDeterminedError
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.noise import level_noise
from pipeline.inference.newton import maximise

Point = tuple[np.ndarray, np.ndarray]

_MAX_STEPS = 60
_TOLERANCE = 1e-9
_ABOUT = np.arange(-2, 5) * 0.4  # log of sds, about the mode, over which the posterior is averaged; its tail is above
_FARTHEST = 15.0  # an unpenalised log odds beyond this, one in three million, is on its way to infinity


@dataclass(frozen=True)
class MultinomialFit:
    """A fitted multinomial logit; K is the number of categories less the base, F of columns, G of groups.

    Attributes:
        beta: (F, K) fixed effects against the base category.
        effects: (G, K) group effects; (0, K) without groups.
        sd: sd of a group effect; 0 without groups.
        loglik: log-likelihood at the mode, without multinomial coefficients.
        covariance: (F*K, F*K) covariance of ``beta`` (row-major), group effects integrated out.
    """

    beta: np.ndarray
    effects: np.ndarray
    sd: float
    loglik: float
    covariance: np.ndarray
    _cross_solve: np.ndarray  # (G, K, F*K): how a group's effect answers to a change of beta
    _block_root: np.ndarray  # (G, K, K): square root of a group's covariance given beta
    _codes: Codes | None = None  # of the groups kept, if others were dropped

    def subset(self, codes: Codes) -> MultinomialFit:
        """The same fit with the effects of these groups alone, in this order."""
        return replace(
            self,
            effects=self.effects[codes],
            _cross_solve=self._cross_solve[codes],
            _block_root=self._block_root[codes],
            _codes=codes,
        )

    def draw(self, n: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
        """``n`` joint posterior draws: beta (n, F, K) and group effects (n, G, K)."""
        shape = self.beta.shape
        root = np.linalg.cholesky(self.covariance)
        shift = rng.standard_normal((n, self.beta.size)) @ root.T
        beta = self.beta + shift.reshape(n, *shape)
        if self._codes is None:
            noise = rng.standard_normal((n, *self.effects.shape))
        else:
            noise = level_noise(self._codes, n, shape[1], rng)
        effects = self.effects + np.einsum("gkf,nf->ngk", self._cross_solve, shift, optimize=True)
        return beta, effects + np.einsum("gkl,ngl->ngk", self._block_root, noise)


def contrast_precision(k: int) -> np.ndarray:
    """Precision of K contrasts with a base when all K + 1 effects are independent with unit variance.

    It makes the penalty the same whichever category is the base: (I + 11')^-1 = I - 11'/(K + 1).
    """
    return np.eye(k) - np.full((k, k), 1.0 / (k + 1))


def log_shares(eta: np.ndarray) -> np.ndarray:
    """Log probabilities (..., K + 1) of linear predictors (..., K) against the base."""
    full = np.concatenate([np.zeros((*eta.shape[:-1], 1)), eta], axis=-1)
    shares: np.ndarray = log_softmax(full, axis=-1)
    return shares


def category_shares(eta: np.ndarray) -> np.ndarray:
    """Probabilities (K + 1, ...) of linear predictors (K, ...) against the base, the category along the first axis."""
    shares: np.ndarray = softmax(np.concatenate([np.zeros((1, *eta.shape[1:])), eta]), axis=0)
    return shares


class _MultinomialProblem:
    """Counts, design and penalties of one fit, and the pieces of its arrowhead-shaped Newton step."""

    def __init__(self, X: np.ndarray, counts: np.ndarray, groups: np.ndarray, n_groups: int, ridge: np.ndarray):
        self.X, self.counts, self.groups, self.n_groups = X, counts, groups, n_groups
        self.n = counts.sum(axis=1)
        self.f, self.k = X.shape[1], counts.shape[1] - 1
        self.q = contrast_precision(self.k)
        self.fixed_precision = np.kron(np.diag(ridge), self.q)

    def _predict(self, beta: np.ndarray, effects: np.ndarray) -> np.ndarray:
        eta = self.X @ beta
        return eta + effects[self.groups] if self.n_groups else eta

    def objective(self, beta: np.ndarray, effects: np.ndarray, tau: float) -> tuple[float, float]:
        """Log-likelihood, and the same less the penalties."""
        loglik = float((self.counts * log_shares(self._predict(beta, effects))).sum())
        flat = beta.ravel()
        penalty = flat @ self.fixed_precision @ flat
        if self.n_groups:
            penalty += np.einsum("gk,kl,gl->", effects, self.q, effects) / tau**2
        return loglik, loglik - penalty / 2

    def _sum_by_group(self, values: np.ndarray) -> np.ndarray:
        flat = values.reshape(len(values), -1)
        total = np.zeros((self.n_groups, flat.shape[1]))
        np.add.at(total, self.groups, flat)
        return total.reshape(self.n_groups, *values.shape[1:])

    def pieces(self, beta: np.ndarray, effects: np.ndarray, tau: float) -> tuple[np.ndarray, ...]:
        """Gradients and Hessian blocks: g_f, g_g, H_ff, H_gf (G, K, F*K), H_gg (G, K, K)."""
        p = np.exp(log_shares(self._predict(beta, effects)))[:, 1:]
        residual = self.counts[:, 1:] - self.n[:, None] * p
        weight = self.n[:, None, None] * (p[:, :, None] * np.eye(self.k) - p[:, :, None] * p[:, None, :])
        size = self.f * self.k
        h_ff = np.empty((self.f, self.k, self.f, self.k))
        h_gf = np.zeros((self.n_groups, self.k, self.f, self.k))
        for a in range(self.k):
            for b in range(a, self.k):
                weighted = self.X * weight[:, a, b][:, None]
                h_ff[:, a, :, b] = h_ff[:, b, :, a] = weighted.T @ self.X
                if self.n_groups:
                    h_gf[:, a, :, b] = h_gf[:, b, :, a] = self._sum_by_group(weighted)
        g_f = (self.X.T @ residual).ravel() - self.fixed_precision @ beta.ravel()
        if not self.n_groups:
            empty = np.zeros((0, self.k))
            hessian = h_ff.reshape(size, size) + self.fixed_precision
            return g_f, empty, hessian, h_gf.reshape(0, self.k, size), np.zeros((0, self.k, self.k))
        g_g = self._sum_by_group(residual) - effects @ self.q / tau**2
        h_gg = self._sum_by_group(weight) + self.q / tau**2
        return g_f, g_g, h_ff.reshape(size, size) + self.fixed_precision, h_gf.reshape(-1, self.k, size), h_gg


def _schur(h_ff: np.ndarray, h_gf: np.ndarray, h_gg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Hessian of the fixed effects with groups integrated out, and H_gg^-1 H_gf."""
    cross_solve = np.linalg.solve(h_gg, h_gf) if len(h_gg) else h_gf
    return h_ff - np.einsum("gkf,gkh->fh", h_gf, cross_solve, optimize=True), cross_solve


def _mode(problem: _MultinomialProblem, beta: np.ndarray, effects: np.ndarray, tau: float) -> Point:
    """The posterior mode.

    Raises:
        NotDeterminedError: no mode after the allowed steps (only possible without penalties, when data separate).
    """

    def step(point: Point) -> tuple[Callable[[float], Point], float]:
        beta, effects = point
        g_f, g_g, h_ff, h_gf, h_gg = problem.pieces(beta, effects, tau)
        schur, cross_solve = _schur(h_ff, h_gf, h_gg)
        inner = np.linalg.solve(h_gg, g_g[..., None])[..., 0] if len(h_gg) else g_g
        step_f = scipy.linalg.cho_solve(scipy.linalg.cho_factor(schur), g_f - np.einsum("gkf,gk->f", h_gf, inner))
        step_g = inner - np.einsum("gkf,f->gk", cross_solve, step_f)
        decrement = float(g_f @ step_f + (g_g * step_g).sum())
        return lambda size: (beta + size * step_f.reshape(beta.shape), effects + size * step_g), decrement

    mode, _, settled = maximise(
        (beta, effects), lambda point: problem.objective(*point, tau)[1], step, tolerance=_TOLERANCE, steps=_MAX_STEPS
    )
    if not settled:
        raise NotDeterminedError("the multinomial logit found no mode; a penalty on the fixed effects would give one")
    return mode


def _root_of_inverse(blocks: np.ndarray) -> np.ndarray:
    """R with R R' = blocks^-1, one for each block."""
    return np.array(
        [scipy.linalg.solve_triangular(np.linalg.cholesky(b), np.eye(len(b)), lower=True).T for b in blocks]
    ).reshape(blocks.shape)


def _marginal(problem: _MultinomialProblem, beta: np.ndarray, effects: np.ndarray, tau: float) -> float:
    """Laplace approximation of the log marginal likelihood, up to a constant."""
    _, value = problem.objective(beta, effects, tau)
    _, _, h_ff, h_gf, h_gg = problem.pieces(beta, effects, tau)
    schur, _ = _schur(h_ff, h_gf, h_gg)
    logdet = float(np.linalg.slogdet(schur)[1] + np.linalg.slogdet(h_gg)[1].sum())
    return value - logdet / 2 - problem.n_groups * problem.k * np.log(tau)


def _best_sd(problem: _MultinomialProblem) -> tuple[np.ndarray, np.ndarray, float]:
    """The sd of group effects, 0 without groups: the root mean square of its posterior; and effects to start from."""
    start = np.zeros((problem.f, problem.k)), np.zeros((problem.n_groups, problem.k))
    if not problem.n_groups:
        return *start, 0.0
    warm = [start]

    def loss(log_tau: float) -> float:
        warm[0] = _mode(problem, *warm[0], float(np.exp(log_tau)))
        # A half-normal prior of scale 0.5 on the sd keeps a handful of groups from claiming sd 0 or a huge one.
        prior = log_tau - np.exp(2 * log_tau) / 0.5
        return -_marginal(problem, *warm[0], float(np.exp(log_tau))) - prior

    from scipy.optimize import minimize_scalar  # slow to import

    mode = float(minimize_scalar(loss, bounds=(np.log(0.02), np.log(2.0)), options={"xatol": 0.05}).x)
    return *warm[0], root_mean_square(mode + _ABOUT, np.array([loss(log_tau) for log_tau in mode + _ABOUT]))


def root_mean_square(logs: np.ndarray, losses: np.ndarray) -> float:
    """Of sds with these logs (k,), evenly spaced, whose log posterior density by the log is minus the ``losses``."""
    weight = np.exp(losses.min() - losses)
    return float(np.sqrt((weight * np.exp(2 * logs)).sum() / weight.sum()))


def fit_multinomial(
    X: np.ndarray,
    counts: np.ndarray,
    groups: np.ndarray | None = None,
    n_groups: int = 0,
    ridge: np.ndarray | float = 0.0,
) -> MultinomialFit:
    """Fit category counts (rows, K + 1) on a design (rows, F).

    Args:
        X: design, intercept included.
        counts: counts of each category; the first is the base.
        groups: code of each row's group, 0 to ``n_groups`` - 1, or None for no group intercepts.
        n_groups: how many groups there are, those without rows included.
        ridge: prior precision of each column's effects; 0 is plain maximum likelihood.

    Raises:
        NotDeterminedError: unpenalised data separate, so that no finite maximum exists.
    """
    codes = np.zeros(len(X), dtype=int) if groups is None else np.asarray(groups)
    problem = _MultinomialProblem(
        np.asarray(X, float),
        np.asarray(counts, float),
        codes,
        0 if groups is None else n_groups,
        np.broadcast_to(np.asarray(ridge, float), (X.shape[1],)),
    )
    beta, effects, tau = _best_sd(problem)
    beta, effects = _mode(problem, beta, effects, tau)
    if not problem.fixed_precision.any() and np.abs(problem.X @ beta).max(initial=0.0) > _FARTHEST:
        raise NotDeterminedError(
            "the data separate, so the multinomial logit has no maximum; give the columns a penalty"
        )
    _, _, h_ff, h_gf, h_gg = problem.pieces(beta, effects, tau)
    schur, cross_solve = _schur(h_ff, h_gf, h_gg)
    return MultinomialFit(
        beta=beta,
        effects=effects,
        sd=tau,
        loglik=problem.objective(beta, effects, tau)[0],
        covariance=scipy.linalg.cho_solve(scipy.linalg.cho_factor(schur), np.eye(len(schur))),
        _cross_solve=-cross_solve,
        _block_root=_root_of_inverse(h_gg),
    )
