"""The inner problem of a mixed logistic model: the joint mode of fixed and random effects at given sds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.special import expit, gammaln

from pipeline.arrays import Floats
from pipeline.errors import NotDeterminedError
from pipeline.inference.mixed_logit.arrowhead import ArrowheadFactor, factor_arrowhead
from pipeline.inference.newton import maximise

_Effects = tuple[Floats, Floats]  # random and fixed
_STEPS = 60
_ABSURD = 1000.0
_MOST_PRODUCTS = 1_000_000  # entries of Z'WZ by cell up to which their places are kept from step to step
_SEPARATED = "no mode was found: the counts are separated and the fixed effects carry no prior"
EXACT = 1e-12  # squared Newton decrement, relative to the log likelihood, at which the mode counts as found
LOOSE = 1e-8  # the same where only the Laplace value is wanted: its own error is of this order


@dataclass(frozen=True)
class Term:
    """Random effects of one grouping.

    ``codes`` (cells,) is the level of each cell, -1 for none; ``weights`` (cells,) multiply the effect (a random
    slope), 1 if None.
    """

    name: str
    codes: NDArray[np.int64]
    levels: int
    weights: Floats | None = None


@dataclass(frozen=True)
class _Pattern:
    """Where Z'WZ has entries: a matrix of their places in a list, those in its order, and those on its diagonal."""

    matrix: sparse.csc_array
    place: NDArray[np.int64]
    diagonal: NDArray[np.intp]

    @classmethod
    def of(cls, matrix: sparse.csc_array) -> _Pattern:
        matrix.sort_indices()  # before they are shared: SuperLU would sort them in place
        column = np.repeat(np.arange(matrix.shape[1]), np.diff(matrix.indptr))
        return cls(matrix, matrix.data.astype(np.int64), np.flatnonzero(matrix.indices == column))

    def filled(self, entries: Floats, prior: Floats) -> sparse.csc_array:
        """The matrix of these entries, with ``prior`` added to its diagonal."""
        data = entries[self.place]
        data[self.diagonal] += prior
        return sparse.csc_array((data, self.matrix.indices, self.matrix.indptr), shape=self.matrix.shape)


@dataclass(frozen=True)
class Prior:
    """Prior precision of every random effect (levels,) and fixed effect (columns,)."""

    random: Floats
    fixed: Floats


@dataclass(frozen=True)
class Mode:
    """The joint mode at given log sds (axes,). ``integrated``: Laplace's log likelihood of the sds."""

    log_sd: Floats
    fixed: Floats
    random: Floats
    factor: ArrowheadFactor
    integrated: float


def _products(terms: tuple[Term, ...], cells: int) -> tuple[sparse.csr_array, NDArray[np.int64], NDArray[np.int64]]:
    """Where and how each cell's weight enters Z'WZ: (map from cell weights to entries, entry rows, entry columns)."""
    edges = np.cumsum([0, *(term.levels for term in terms)])
    size = int(edges[-1])
    keys, values, owners = [], [], []
    all_cells = np.arange(cells)
    for i, one in enumerate(terms):
        for j, two in enumerate(terms):
            present = (one.codes >= 0) & (two.codes >= 0)
            keys.append((one.codes[present] + edges[i]) * size + two.codes[present] + edges[j])
            owners.append(all_cells[present])
            product = np.ones(cells)
            for weights in (one.weights, two.weights):
                product = product if weights is None else product * weights
            values.append(product[present])
    diagonal = np.arange(size) * (size + 1)  # entries that the prior adds to, logged or not
    flat = np.concatenate([*keys, diagonal])
    places, where = np.unique(flat, return_inverse=True)
    taken = np.concatenate([*owners, np.zeros(size, dtype=np.int64)])
    amount = np.concatenate([*values, np.zeros(size)])
    return sparse.csr_array((amount, (where, taken)), shape=(len(places), cells)), places // size, places % size


def _rows_times(matrix: sparse.csr_array, weight: Floats) -> sparse.csr_array:
    """Each row of ``matrix`` times its weight; the places of the entries are shared, not copied."""
    data = matrix.data * np.repeat(weight, np.diff(matrix.indptr))
    return sparse.csr_array((data, matrix.indices, matrix.indptr), shape=matrix.shape)


class MixedLogitProblem:
    """Counts, design and grouping of one model, ready for Newton steps at any sds.

    ``axes`` counts the sds: one per term, then, if ``shared`` (columns,) marks fixed effects whose prior sds share an
    unknown multiplier, that multiplier.
    """

    def __init__(
        self,
        X: Floats | sparse.csr_array,
        terms: tuple[Term, ...],
        successes: Floats,
        trials: Floats,
        fixed_precision: Floats | None,
        offset: Floats | None,
        shared: NDArray[np.bool_] | None = None,
    ) -> None:
        self.X = X if sparse.issparse(X) else np.ascontiguousarray(X, dtype=float)
        self.terms = terms
        self.y, self.m = np.asarray(successes, dtype=float), np.asarray(trials, dtype=float)
        cells, columns = self.X.shape
        self.offset = np.zeros(cells) if offset is None else offset
        self.precision = np.zeros(columns) if fixed_precision is None else np.asarray(fixed_precision, dtype=float)
        self.shared = np.zeros(columns, dtype=bool) if shared is None else shared
        self.axes = len(terms) + int(self.shared.any())
        self.owner = np.repeat(np.arange(len(terms)), [t.levels for t in terms])
        self.Z = self._design()
        self.ZT = self.Z.T if sparse.issparse(self.X) else self.Z.T.tocsr()  # so many cells: by row only for a while
        self.keeps_pattern = cells * len(terms) ** 2 <= _MOST_PRODUCTS
        if len(self.owner) and self.keeps_pattern:
            self.entries, rows, columns_of = _products(terms, cells)
            self.pattern = _Pattern.of(sparse.csc_array((np.arange(len(rows)), (rows, columns_of))))
        self.sorted: tuple[_Pattern, NDArray[np.intp]] | None = None
        self.constant = float(np.sum(gammaln(self.m + 1) - gammaln(self.y + 1) - gammaln(self.m - self.y + 1)))

    def _design(self) -> sparse.csr_array:
        cells = len(self.y)
        parts = []
        for term in self.terms:
            present = np.flatnonzero(term.codes >= 0)
            weights = np.ones(cells) if term.weights is None else term.weights
            parts.append(
                sparse.csr_array((weights[present], (present, term.codes[present])), shape=(cells, term.levels))
            )
        return sparse.hstack(parts, format="csr") if parts else sparse.csr_array((cells, 0))

    def start(self) -> Mode:
        """An empty mode to start from, with the factor of nothing."""
        p, q = self.X.shape[1], len(self.owner)
        nothing = ArrowheadFactor(None, np.zeros((0, 0)), np.zeros((0, 0)), 0.0)
        return Mode(np.full(self.axes, np.nan), np.zeros(p), np.zeros(q), nothing, -np.inf)

    def prior(self, log_sd: Floats) -> Prior:
        """Prior precisions at log sds (axes,)."""
        fixed = self.precision
        if self.shared.any():
            fixed = np.where(self.shared, fixed * np.exp(-2.0 * log_sd[-1]), fixed)
        return Prior(np.exp(-2.0 * log_sd)[self.owner], fixed)

    def predict(self, near: Mode, log_sd: Floats) -> Mode:
        """First-order guess of the mode at ``log_sd`` from a known mode nearby."""
        if not self.axes or np.isnan(near.log_sd).any():
            return near
        change, prior = 2.0 * np.clip(log_sd - near.log_sd, -0.5, 0.5), self.prior(near.log_sd)
        push_u = change[self.owner] * near.random * prior.random
        move_u, move_b = near.factor.solve(push_u, self.shared * change[-1] * near.fixed * prior.fixed)
        return Mode(log_sd, near.fixed + move_b, near.random + move_u, near.factor, -np.inf)

    def linear(self, random: Floats, fixed: Floats) -> Floats:
        """Each cell's log odds, shape (cells,)."""
        return self.offset + self.X @ fixed + self.Z @ random

    def penalised(self, eta: Floats, random: Floats, fixed: Floats, prior: Prior) -> float:
        """Log posterior, up to a constant, at log odds (cells,) of these effects."""
        fit = float(self.y @ eta - self.m @ np.logaddexp(0.0, eta))
        return fit - 0.5 * float(prior.random @ random**2) - 0.5 * float(prior.fixed @ fixed**2)

    def factor(self, probability: Floats, prior: Prior) -> ArrowheadFactor:
        """Factor of the curvature at probabilities (cells,)."""
        weight = self.m * probability * (1.0 - probability)
        fixed, cross = self._dense_blocks(weight)
        fixed += np.diag(prior.fixed)
        if not len(self.owner):
            return factor_arrowhead(sparse.csc_array((0, 0)), np.zeros((0, len(fixed))), fixed)
        if self.sorted is not None:
            pattern, order = self.sorted
            return factor_arrowhead(pattern.filled(self.entries @ weight, prior.random[order]), cross, fixed, order)
        factor = factor_arrowhead(self.curvature(weight, prior.random), cross, fixed)
        if self.keeps_pattern and factor.lu is not None:
            self._sort(factor.lu.elimination())
        return factor

    def _sort(self, order: NDArray[np.intp]) -> None:
        """Keep the order in which the first factor took the levels: finding it costs more than the factor itself."""
        self.sorted = _Pattern.of(self.pattern.matrix[order][:, order].tocsc()), order

    def _dense_blocks(self, weight: Floats) -> tuple[Floats, Floats | sparse.csc_array]:
        """X'WX, and Z'WX, which is sparse where X is."""
        if not sparse.issparse(self.X):
            root = np.sqrt(weight)
            scaled = self.X * root[:, None]  # its square with itself costs half a product of two matrices
            owned = sparse.csr_array(
                (self.ZT.data * root[self.ZT.indices], self.ZT.indices, self.ZT.indptr), self.ZT.shape
            )
            return scaled.T @ scaled, owned @ scaled
        weighted = _rows_times(self.X, weight)
        return (self.X.T @ weighted).toarray(), (self.ZT.tocsr() @ weighted).tocsc()

    def curvature(self, weight: Floats, prior: Floats) -> sparse.csc_array:
        """Z'WZ plus the prior's precision, with the weights (cells,) and the prior precision (levels,)."""
        if not self.keeps_pattern:
            product = self.ZT.tocsr() @ _rows_times(self.Z, weight)
            product.setdiag(
                product.diagonal() + prior
            )  # in place: a sum beside it would not fit in memory for large data
            return product.T  # symmetric, so by column it is what it was by row
        return self.pattern.filled(self.entries @ weight, prior)

    def gradient(self, probability: Floats, random: Floats, fixed: Floats, prior: Prior) -> tuple[Floats, Floats]:
        """Slopes of the log posterior along random and fixed effects, at probabilities (cells,)."""
        left = self.y - self.m * probability
        return self.ZT @ left - prior.random * random, self.X.T @ left - prior.fixed * fixed

    def _laplace(
        self, log_sd: Floats, prior: Prior, random: Floats, fixed: Floats, factor: ArrowheadFactor, log_posterior: float
    ) -> Mode:
        """Laplace's value: a flat fixed effect counts as integrated over Lebesgue measure."""
        proper = prior.fixed > 0
        value = log_posterior + self.constant - float(log_sd[self.owner].sum()) - 0.5 * factor.log_det
        value += 0.5 * float(np.log(prior.fixed[proper]).sum()) + 0.5 * float((~proper).sum()) * np.log(2 * np.pi)
        return Mode(log_sd, fixed, random, factor, value)

    def evaluate(self, log_sd: Floats, random: Floats, fixed: Floats) -> Mode:
        """The curvature and Laplace value at given effects, without moving them."""
        prior = self.prior(log_sd)
        eta = self.linear(random, fixed)
        factor = self.factor(expit(eta), prior)
        return self._laplace(log_sd, prior, random, fixed, factor, self.penalised(eta, random, fixed, prior))

    def mode(self, log_sd: Floats, start: Mode, tolerance: float = EXACT) -> Mode:
        """Newton's method with step halving from ``start``; the last step is taken without another factor.

        Raises:
            NotDeterminedError: the curvature is singular, or no mode was found (separated data without a prior).
        """
        climb = _Climb(self, self.prior(log_sd))
        (random, fixed), log_posterior, settled = maximise(
            (start.random, start.fixed), climb.value, climb.step, tolerance=tolerance, relative=True, steps=_STEPS
        )
        if not settled or climb.factor is None:
            raise NotDeterminedError(_SEPARATED)
        self._refuse_separation(climb.factor)
        return self._laplace(log_sd, climb.prior, random, fixed, climb.factor, log_posterior)

    def _refuse_separation(self, factor: ArrowheadFactor) -> None:
        """A flat fixed effect whose standard error, in logits, is absurd has run off to infinity."""
        flat = np.flatnonzero(self.precision == 0)
        if flat.size:
            largest = np.array([max(self.X[:, [k]].max(), -self.X[:, [k]].min()) for k in flat])
            error = np.sqrt(np.diag(factor.fixed_covariance())[flat]) * largest
            if error.max() > _ABSURD:
                raise NotDeterminedError(_SEPARATED)


class _Climb:
    """Newton's steps to one mode; of what is large, the log odds valued last and one factor are held."""

    def __init__(self, problem: MixedLogitProblem, prior: Prior) -> None:
        self.problem, self.prior = problem, prior
        self.factor: ArrowheadFactor | None = None
        self._eta = problem.offset

    def value(self, effects: _Effects) -> float:
        """The log posterior at these effects."""
        self._eta = self.problem.offset  # free the old log odds first
        self._eta = self.problem.linear(*effects)
        return self.problem.penalised(self._eta, *effects, self.prior)

    def step(self, effects: _Effects) -> tuple[Callable[[float], _Effects], float]:
        """The step from the effects valued last, and its squared Newton decrement."""
        random, fixed = effects
        probability = expit(self._eta)
        self.factor = None  # free the old factor first: two do not fit in memory for large data
        self.factor = self.problem.factor(probability, self.prior)
        slope_u, slope_b = self.problem.gradient(probability, random, fixed, self.prior)
        step_u, step_b = self.factor.solve(slope_u, slope_b)
        decrement = float(slope_u @ step_u + slope_b @ step_b)
        return lambda size: (random + size * step_u, fixed + size * step_b), decrement
