"""Pooled spare rates: a beta-binomial whose mean has leave type, leave and bowler in it, fitted by Laplace.

For bowler b and leave l of type t the spares made in stretch s of nights are beta-binomial with precision phi and mean

    logit m = mu[t] + v[l] + a[b, s, kind],    v[l] ~ N(0, sd of the kind),    a[b, s] = base[b] + move[b, s]

where kind 0 is single pins and kind 1 is several; base and moves are normal, correlated between the kinds. A log of one
stretch has no moves. Given m and phi a bowler's own rate on the leave is Beta(phi m + made, phi (1 - m) + missed). The
sds and phi have weak log-normal priors and are drawn, not fixed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from pipeline.inference.beta_binomial import log_likelihood, slopes
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.noise import level_noise
from pipeline.inference.newton import maximise

Point = tuple[np.ndarray, np.ndarray]

# Log of: sd of single-pin leaves, sd of other leaves, sd of bowlers, phi; and the log sd of each prior.
HYPER_CENTRE = np.log([0.4, 1.0, 0.35, 150.0])
HYPER_WIDTH = np.array([0.6, 0.6, 0.6, 1.5])
# And, in a log of several stretches, log of the sd of a bowler's moves between them, with the prior of strikes' moves.
MOVE_CENTRE, MOVE_WIDTH = np.log(0.1), 1.0
_BOWLER, _PHI, _MOVE = 2, 3, 4
TYPE_CENTRE, TYPE_SD = 0.5, 1.75  # prior of a type's logit rate: nearly flat from 4 to 98 %
KIND_CORRELATION = 0.6  # a bowler good at single pins is commonly good at the others; our own choice
_STEPS = 40


@dataclass(frozen=True)
class SpareCells:
    """Spare attempts by bowler, leave and stretch of nights; integer codes from 0.

    Attributes:
        bowler, leave, stretch: (cells,) codes.
        made, attempts: (cells,) counts.
        leave_type: (leaves,) code of each leave's type.
        kind: (leaves,) 0 for a single pin, 1 for several.
        n_bowlers, n_types, n_stretches: how many codes there are.
    """

    bowler: np.ndarray
    leave: np.ndarray
    stretch: np.ndarray
    made: np.ndarray
    attempts: np.ndarray
    leave_type: np.ndarray
    kind: np.ndarray
    n_bowlers: int
    n_types: int
    n_stretches: int

    def of_bowlers(self, bowlers: np.ndarray) -> SpareCells:
        """The cells of some bowlers only, recoded in the order of ``bowlers``."""
        code = np.full(self.n_bowlers, -1)
        code[bowlers] = np.arange(len(bowlers))
        keep = code[self.bowler] >= 0
        return SpareCells(
            code[self.bowler[keep]],
            self.leave[keep],
            self.stretch[keep],
            self.made[keep],
            self.attempts[keep],
            self.leave_type,
            self.kind,
            len(bowlers),
            self.n_types,
            self.n_stretches,
        )


@dataclass(frozen=True)
class Posterior:
    """Normal approximation at the mode for given sds and phi: types and leaves jointly, bowlers given them."""

    common: np.ndarray
    ability: np.ndarray
    evidence: float
    _root: np.ndarray
    _cross_solve: np.ndarray
    _block_root: np.ndarray
    _codes: Codes | None = None  # of the bowlers kept, if others were dropped

    def subset(self, codes: Codes) -> Posterior:
        """The same with these bowlers alone, in this order."""
        return replace(
            self,
            ability=self.ability[codes],
            _cross_solve=self._cross_solve[codes],
            _block_root=self._block_root[codes],
            _codes=codes,
        )

    def draw(self, n: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
        """Draws of the common part (n, types + leaves) and of abilities (n, bowlers, 2 x stretches), kinds together."""
        shift = rng.standard_normal((n, len(self.common))) @ self._root.T
        if self._codes is None:
            noise = rng.standard_normal((n, *self.ability.shape))
        else:
            noise = level_noise(self._codes, n, self.ability.shape[1], rng)
        ability = self.ability - np.einsum("bjf,nf->nbj", self._cross_solve, shift, optimize=True)
        return self.common + shift, ability + np.einsum("bjk,nbk->nbj", self._block_root, noise)


class _Model:
    """Design and prior of one set of cells; the Hessian is an arrowhead with one small part per bowler."""

    def __init__(self, cells: SpareCells) -> None:
        self.cells = cells
        self.t, self.l = cells.n_types, len(cells.leave_type)
        self.width = 2 * cells.n_stretches
        self.slot = cells.bowler * self.width + 2 * cells.stretch + cells.kind[cells.leave]
        self.member = np.eye(self.t)[cells.leave_type]  # (leaves, types)
        self.centre = np.r_[np.full(self.t, TYPE_CENTRE), np.zeros(self.l)]

    def priors(self, hyper: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
        """Precision of the common part (diagonal), precision of a bowler's abilities (width, width), and phi."""
        sd_single, sd_several, _, phi = np.exp(hyper[: _PHI + 1])
        leaf_sd = np.where(self.cells.kind == 0, sd_single, sd_several)
        common = np.concatenate([np.full(self.t, TYPE_SD**-2), leaf_sd**-2.0])
        between = np.full((self.cells.n_stretches,) * 2, np.exp(2 * hyper[_BOWLER]))
        if self.cells.n_stretches > 1:
            between[np.diag_indices_from(between)] += np.exp(2 * hyper[_MOVE])
        r = KIND_CORRELATION
        kinds = np.array([[1, -r], [-r, 1]]) / (1 - r**2)
        return common, np.kron(np.linalg.inv(between), kinds), float(phi)

    def _eta(self, common: np.ndarray, ability: np.ndarray) -> np.ndarray:
        by_leave = common[self.cells.leave_type] + common[self.t :]
        eta: np.ndarray = by_leave[self.cells.leave] + ability.ravel()[self.slot]
        return eta

    def _to_common(self, by_leave: np.ndarray) -> np.ndarray:
        """Sums over each leave's cells (..., leaves) as sums for types and leaves (..., types + leaves)."""
        return np.concatenate([by_leave @ self.member, by_leave], axis=-1)

    def value(self, common: np.ndarray, ability: np.ndarray, hyper: np.ndarray) -> float:
        prior, pair, phi = self.priors(hyper)
        mean = expit(self._eta(common, ability))
        fit = log_likelihood(self.cells.made, self.cells.attempts, phi * mean, phi * (1 - mean)).sum()
        distance = common - self.centre
        return float(fit - (prior * distance**2).sum() / 2 - np.einsum("bj,jk,bk->", ability, pair, ability) / 2)

    def pieces(self, common: np.ndarray, ability: np.ndarray, hyper: np.ndarray) -> tuple[np.ndarray, ...]:
        """Gradients and Hessian blocks: common, bowlers, (F, F), (B, width, F), (B, width, width)."""
        prior, pair, phi = self.priors(hyper)
        first, curve = slopes(self.cells.made, self.cells.attempts, self._eta(common, ability), phi)
        curve = np.maximum(curve, 1e-6)  # far out the log-likelihood bends the wrong way; the prior holds there
        b, w, leave = self.cells.n_bowlers, self.width, self.cells.leave
        g_c = self._to_common(np.bincount(leave, first, self.l)) - prior * (common - self.centre)
        g_b = np.bincount(self.slot, first, w * b).reshape(b, w) - ability @ pair
        on_leave = np.bincount(leave, curve, self.l)
        h_cc = np.diag(prior + self._to_common(on_leave))
        cross = self.t + np.arange(self.l)
        h_cc[self.cells.leave_type, cross] = h_cc[cross, self.cells.leave_type] = on_leave
        h_bc = self._to_common(np.bincount(self.slot * self.l + leave, curve, w * b * self.l).reshape(b, w, self.l))
        h_bb = np.broadcast_to(pair, (b, w, w)).copy()
        h_bb[:, range(w), range(w)] += np.bincount(self.slot, curve, w * b).reshape(b, w)
        return g_c, g_b, h_cc, h_bc, h_bb

    def mode(self, hyper: np.ndarray, common: np.ndarray, ability: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        def step(point: Point) -> tuple[Callable[[float], Point], float]:
            common, ability = point
            g_c, g_b, h_cc, h_bc, h_bb = self.pieces(common, ability, hyper)
            inverse = np.linalg.inv(h_bb)
            cross_solve = inverse @ h_bc
            schur = h_cc - np.einsum("bjf,bjh->fh", h_bc, cross_solve, optimize=True)
            inner = np.einsum("bjk,bk->bj", inverse, g_b)
            step_c = np.linalg.solve(schur, g_c - np.einsum("bjf,bj->f", h_bc, inner))
            step_b = inner - np.einsum("bjf,f->bj", cross_solve, step_c)
            decrement = float(g_c @ step_c + (g_b * step_b).sum())
            return lambda size: (common + size * step_c, ability + size * step_b), decrement

        mode, _, _ = maximise(
            (common, ability), lambda point: self.value(*point, hyper), step, tolerance=1e-8, steps=_STEPS
        )
        return mode

    def posterior(self, hyper: np.ndarray, common: np.ndarray, ability: np.ndarray) -> Posterior:
        """Normal approximation at the mode reached from a start; ``evidence`` has the priors of ``hyper`` in."""
        common, ability = self.mode(hyper, common, ability)
        _, _, h_cc, h_bc, h_bb = self.pieces(common, ability, hyper)
        inverse = np.linalg.inv(h_bb)
        cross_solve = inverse @ h_bc
        schur = h_cc - np.einsum("bjf,bjh->fh", h_bc, cross_solve, optimize=True)
        prior, pair, _ = self.priors(hyper)
        logdet = np.linalg.slogdet(schur)[1] + np.linalg.slogdet(h_bb)[1].sum()
        logprior = np.log(prior).sum() + self.cells.n_bowlers * np.linalg.slogdet(pair)[1]
        centre, loose = hyper_prior(self.cells.n_stretches)
        belief = -(((hyper - centre) / loose) ** 2).sum() / 2
        return Posterior(
            common=common,
            ability=ability,
            evidence=float(self.value(common, ability, hyper) + (logprior - logdet) / 2 + belief),
            _root=np.linalg.cholesky(np.linalg.inv(schur)),
            _cross_solve=cross_solve,
            _block_root=np.linalg.cholesky(inverse) if len(inverse) else inverse,
        )


def hyper_prior(n_stretches: int) -> tuple[np.ndarray, np.ndarray]:
    """Centres and widths of the log hyperparameters, without that of moves if there is only one stretch."""
    if n_stretches == 1:
        return HYPER_CENTRE, HYPER_WIDTH
    return np.append(HYPER_CENTRE, MOVE_CENTRE), np.append(HYPER_WIDTH, MOVE_WIDTH)


def ability_sd(hyper: np.ndarray) -> np.ndarray:
    """Sd of bowlers' abilities within one stretch (...,), by the log hyperparameters (..., 4 or 5)."""
    moved = np.exp(2 * hyper[..., _MOVE:]).sum(axis=-1)
    return np.asarray(np.sqrt(np.exp(2 * hyper[..., _BOWLER]) + moved))


def _curvature(loss: object, centre: np.ndarray, step: float = 0.15) -> np.ndarray:
    """Hessian of ``loss`` by central differences."""
    assert callable(loss)
    size = len(centre)
    unit = np.eye(size) * step
    hessian = np.empty((size, size))
    middle = loss(centre)
    for i in range(size):
        hessian[i, i] = (loss(centre + unit[i]) - 2 * middle + loss(centre - unit[i])) / step**2
        for j in range(i):
            corners = [loss(centre + s * unit[i] + r * unit[j]) * s * r for s in (1, -1) for r in (1, -1)]
            hessian[i, j] = hessian[j, i] = sum(corners) / (4 * step**2)
    return hessian


def fit_hyper(cells: SpareCells) -> tuple[np.ndarray, np.ndarray]:
    """Mode and covariance of the log hyperparameters, by the Laplace marginal likelihood and their priors."""
    model = _Model(cells)
    centre, loose = hyper_prior(cells.n_stretches)
    warm = [model.centre, np.zeros((cells.n_bowlers, model.width))]

    def loss(hyper: np.ndarray) -> float:
        posterior = model.posterior(hyper, warm[0], warm[1])
        warm[:] = [posterior.common, posterior.ability]
        return -posterior.evidence

    bounds = [(c - 4 * w, c + 4 * w) for c, w in zip(centre, loose, strict=True)]
    from scipy.optimize import minimize  # slow to import

    best = minimize(loss, centre, method="L-BFGS-B", bounds=bounds, options={"eps": 1e-3, "maxiter": 40}).x
    values, vectors = np.linalg.eigh(_curvature(loss, best))
    # No direction is wider than its prior.
    values = np.maximum(values, 1 / loose.max() ** 2)
    return best, (vectors / values) @ vectors.T


def posteriors(cells: SpareCells, hypers: np.ndarray) -> list[Posterior]:
    """The normal approximation for each row of ``hypers``."""
    model = _Model(cells)
    common, ability = model.centre, np.zeros((cells.n_bowlers, model.width))
    modes = []
    for hyper in hypers:
        modes.append(model.posterior(hyper, common, ability))
        common, ability = modes[-1].common, modes[-1].ability
    return modes
