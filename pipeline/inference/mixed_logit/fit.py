"""Mixed logistic regression on binomial counts by Laplace's approximation, with draws from the joint posterior.

Model: successes_i ~ Binomial(trials_i, logit^-1(offset_i + X_i b + sum over terms of w_i u[code_i])), u ~ N(0, sd^2)
level by level in each term; the prior sds of some of b may have an unknown factor in common, which is learned as the
sds are. Formulas: the Laplace deviance is that of Bates et al., J. Stat. Softw. 67 (2015), for generalised models;
integrating over the sds on a few weighted points follows Rue, Martino & Chopin, J. R. Stat. Soc. B 71 (2009). By
default the fixed effects carry a weak normal prior and are integrated with the random ones; ``fit_maximum_likelihood``
switches every prior off and maximises, for checks against published fits.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.later import Later
from pipeline.inference.mixed_logit.arrowhead import HUGE, ArrowheadFactor
from pipeline.inference.mixed_logit.conditional_mode import EXACT, LOOSE, MixedLogitProblem, Mode, Term
from pipeline.inference.mixed_logit.design import Codes
from pipeline.inference.mixed_logit.hyperposterior import (
    LOOSEST_LOG_SD,
    AxisProfile,
    HyperPosterior,
    fit_hyperposterior,
)
from pipeline.inference.mixed_logit.marginal_likelihood import maximise
from pipeline.inference.mixed_logit.sd_priors import SdPrior, Shared
from pipeline.inference.mixed_logit.subset_factor import SubsetFactor
from pipeline.inference.mixed_logit.variances import Slopes, evidence_slopes, exact_block_layout

_LOG_SD_BOUNDS = (np.log(0.003), np.log(8.0))  # also of the factor
_GRADIENT_STEP = 0.01  # on the log of a sd; the inner mode is exact to far less
_STEPS = (0.25, 1.0)  # by which its fall is tried: wide, for what matters is over the posterior's own width
_USUAL_SD = 0.3  # where the search starts, or at the scale of its prior where that is smaller
_RELATIVE_GAIN = 1e-6  # of the log posterior, below which the sds are not improved further

__all__ = ["MixedFit", "PosteriorDraws", "Term", "fit_maximum_likelihood", "fit_mixed_logit"]


@dataclass(frozen=True)
class PosteriorDraws:
    """Joint draws: ``fixed`` (n, columns), ``random`` by term (n, levels), ``sd`` by term, ``scale_multiplier``."""

    fixed: Floats
    random: dict[str, Floats]
    sd: dict[str, Floats]
    scale_multiplier: Floats


@dataclass(frozen=True)
class _Node:
    """One point of the design over log sds: the conditional mode there, the factor to draw about it, its weight."""

    fixed: Floats
    random: Floats
    log_sd: Floats
    factor: ArrowheadFactor | SubsetFactor
    weight: float

    @classmethod
    def of(cls, mode: Mode, weight: float) -> _Node:
        return cls(mode.fixed, mode.random, mode.log_sd, mode.factor, weight)

    def subset(self, rows: Codes) -> _Node:
        """The same with these random effects alone."""
        assert isinstance(self.factor, ArrowheadFactor)
        return replace(self, random=self.random[rows], factor=SubsetFactor.of(self.factor, rows))


@dataclass(frozen=True)
class MixedFit:
    """A fitted mixed logistic model; effects are on the logit scale.

    ``fixed`` (columns,), ``fixed_covariance`` given the sds, ``random`` and ``sd`` by term name, ``scale_multiplier``
    of the shared prior sds (1 where none are), ``log_likelihood`` the Laplace value with the binomial constants.
    """

    fixed: Floats
    fixed_covariance: Floats
    random: dict[str, Floats]
    sd: dict[str, float]
    scale_multiplier: float
    log_likelihood: float
    _terms: tuple[Term, ...]
    _later_nodes: Later[tuple[_Node, ...]]  # large, and read by none but those who draw anew

    @property
    def _nodes(self) -> tuple[_Node, ...]:
        return self._later_nodes.get()

    def draw(self, n: int, rng: np.random.Generator) -> PosteriorDraws:
        """``n`` joint posterior draws; uncertainty in the sds is included where the fit integrated over them."""
        weights = np.array([node.weight for node in self._nodes])
        counts = _systematic(weights / weights.sum(), n, rng)
        fixed, random, log_sd = [], [], []
        for node, count in zip(self._nodes, counts, strict=True):
            if count:
                noise_u, noise_b = node.factor.draw(int(count), rng)
                fixed.append(node.fixed + noise_b)
                random.append(node.random + noise_u)
                log_sd.append(np.tile(node.log_sd, (int(count), 1)))
        order = rng.permutation(n)
        sds = np.exp(np.concatenate(log_sd)[order])
        flat = np.concatenate(random)[order]
        edges = np.cumsum([0, *(term.levels for term in self._terms)])
        return PosteriorDraws(
            np.concatenate(fixed)[order],
            {t.name: flat[:, edges[k] : edges[k + 1]] for k, t in enumerate(self._terms)},
            {t.name: sds[:, k] for k, t in enumerate(self._terms)},
            sds[:, -1] if sds.shape[1] > len(self._terms) else np.ones(n),
        )

    def moved(self, by: Floats) -> MixedFit:
        """The same with ``by`` (columns,) added to the fixed effects, of a fit whose offset held that much of them."""
        nodes = tuple(replace(node, fixed=node.fixed + by) for node in self._nodes)
        return replace(self, fixed=self.fixed + by, _later_nodes=Later.of(nodes))

    def subset(self, levels: Mapping[str, Codes]) -> MixedFit:
        """The same fit with these levels of each term alone, renumbered in their order; it draws no other effect.

        Draws of what is kept are those of the same joint posterior, in another order, and do not depend on what else
        is kept. The factor of the whole is freed, so a fit can be cut to a subset once.
        """
        edges = np.cumsum([0, *(term.levels for term in self._terms)])
        rows = np.concatenate([levels[term.name] + edge for term, edge in zip(self._terms, edges, strict=False)])
        terms = tuple(Term(term.name, np.zeros(0, dtype=np.int64), len(levels[term.name])) for term in self._terms)
        return replace(
            self,
            random={name: effects[levels[name]] for name, effects in self.random.items()},
            _terms=terms,
            _later_nodes=Later.of(tuple(node.subset(rows) for node in self._nodes)),
        )


def _systematic(weights: Floats, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Systematic resampling: how many of n draws come from each point."""
    edges = np.concatenate([[0.0], np.cumsum(weights)]) * n
    edges[-1] = n
    return np.diff(np.ceil(edges - rng.random()).astype(np.int64).clip(0, n))


class _LogPosterior:
    """Log posterior of the log sds, each evaluation started from the mode nearest to hand."""

    def __init__(self, problem: MixedLogitProblem, prior: SdPrior) -> None:
        self.problem, self.base, self.prior = problem, problem.start(), prior
        self.layout = exact_block_layout(problem)
        levels = [float(term.levels) for term in problem.terms]
        self._information = np.array(levels if prior.shared is None else [*levels, prior.shared.columns.sum()])

    def mode(self, log_sd: Floats) -> Mode:
        return self.problem.mode(log_sd, self.problem.predict(self.base, log_sd), LOOSE)

    def move_to(self, log_sd: Floats) -> None:
        """Find the exact mode at ``log_sd`` and start from it from now on."""
        tolerance = EXACT if len(self.problem.owner) < HUGE else LOOSE  # the last step is taken: it ends as near
        self.base = self.problem.mode(log_sd, self.problem.predict(self.base, log_sd), tolerance)

    def value(self, mode: Mode) -> float:
        return mode.integrated + self.prior.log_density(mode.log_sd)

    def at(self, log_sd: Floats) -> float:
        return self.value(self.mode(log_sd))

    def slopes(self, mode: Mode) -> Slopes:
        """Slope of the log posterior at ``mode``, and its expected curvature along each log sd."""
        assert self.layout is not None
        found = evidence_slopes(self.layout, mode)
        slope, curve = self.prior.slopes(mode.log_sd)
        return Slopes(found.slope + slope, found.information + curve)

    def negative_with_gradient(self, log_sd: Floats) -> tuple[float, Floats]:
        """Minus the log posterior and its gradient: exact, or by forward differences where matrices would not fit."""
        self.move_to(log_sd)
        here = self.value(self.base)
        if self.layout is not None:
            found = self.slopes(self.base)
            self._information = found.information
            return -here, -found.slope
        slope = [(self.at(log_sd + step) - here) / _GRADIENT_STEP for step in np.eye(len(log_sd)) * _GRADIENT_STEP]
        return -here, -np.array(slope)

    def information(self) -> Floats:
        """Expected curvature of minus the log posterior along each log sd where it was last evaluated."""
        return np.maximum(self._information, LOOSEST_LOG_SD**-2)

    def hyperposterior(self, centre: Floats) -> HyperPosterior:
        """How the log posterior falls away from its mode ``centre``, by steps of about one sd along each axis."""
        steps = np.clip(self.information() ** -0.5, *_STEPS)
        return fit_hyperposterior(
            *(self._profile_by_values if self.layout is None else self._profile_by_slopes)(centre, steps)
        )

    def _profile_by_slopes(self, centre: Floats, steps: Floats) -> tuple[AxisProfile, Floats]:
        """Falls after a step up and down each axis, and the curvature (size, size) by the slopes above."""
        here, start = self.value(self.base), self.slopes(self.base).slope
        up, down, slopes = np.empty(len(steps)), np.empty(len(steps)), np.empty((len(steps), len(steps)))
        for i, step in enumerate(np.diag(steps)):
            mode = self.mode(centre + step)
            up[i], down[i] = here - self.value(mode), here - self.at(centre - step)
            slopes[i] = self.slopes(mode).slope
        return AxisProfile(steps, up, down, -np.diag(slopes)), (start - slopes) / steps[:, None]

    def _profile_by_values(self, centre: Floats, steps: Floats) -> tuple[AxisProfile, Floats]:
        """The same from values alone."""
        size, every = len(steps), np.diag(steps)
        here = self.value(self.base)
        up = here - np.array([self.at(centre + s) for s in every])
        down = here - np.array([self.at(centre - s) for s in every])
        farther = here - np.array([self.at(centre + (1.0 + _GRADIENT_STEP) * s) for s in every])
        curvature = np.empty((size, size))
        for i in range(size):
            for j in range(i):
                both = here - self.at(centre + every[i] + every[j])
                curvature[i, j] = curvature[j, i] = (both - up[i] - up[j]) / (steps[i] * steps[j])
        return AxisProfile(steps, up, down, (farther - up) / (_GRADIENT_STEP * steps)), curvature


def _integration_points(log_posterior: _LogPosterior, centre: Floats, nodes: int) -> tuple[_Node, ...]:
    """Points over the log sds: a quasi-random sample of their shape with truncated importance weights."""
    if nodes <= 1 or not centre.size:
        return (_Node.of(log_posterior.base, 1.0),)
    hyper = log_posterior.hyperposterior(centre)
    away, copula = hyper.points(nodes)
    points = np.clip(centre + away, *_LOG_SD_BOUNDS)
    modes = [log_posterior.mode(point) for point in points]
    log_weight = (
        np.array([log_posterior.value(m) for m in modes]) + hyper.log_drop(points - centre).sum(axis=1) - copula
    )
    weight = np.exp(log_weight - log_weight.max())
    weight = np.minimum(weight, weight.mean() * np.sqrt(nodes))  # truncated as in Ionides, JCGS 17 (2008)
    return tuple(_Node.of(mode, float(w)) for mode, w in zip(modes, weight, strict=True))


def _lbfgs(log_posterior: _LogPosterior, start: Floats) -> Floats:
    """Best log sds by L-BFGS-B, on axes scaled to equal curvature, which saves expensive evaluations."""
    log_posterior.negative_with_gradient(start)
    scale = np.sqrt(log_posterior.information())

    def scaled(point: Floats) -> tuple[float, Floats]:
        value, slope = log_posterior.negative_with_gradient(point / scale)
        return value, slope / scale

    from scipy import optimize  # slow to import

    found = optimize.minimize(
        scaled,
        start * scale,
        jac=True,
        method="L-BFGS-B",
        bounds=[(_LOG_SD_BOUNDS[0] * s, _LOG_SD_BOUNDS[1] * s) for s in scale],
        options={"ftol": _RELATIVE_GAIN, "gtol": 1e-2, "maxiter": 40},
    )
    best: Floats = found.x / scale
    return best


def _maximise(log_posterior: _LogPosterior, sds: Floats | None) -> Floats:
    axes = log_posterior.problem.axes
    if sds is not None or not axes:
        centre = np.log(sds) if sds is not None else np.zeros(0)
    else:
        centre = _lbfgs(log_posterior, log_posterior.prior.start(_USUAL_SD, axes))
    log_posterior.move_to(centre)
    return centre


def fit_mixed_logit(
    X: Floats | sparse.csr_array,
    terms: Sequence[Term],
    successes: Floats,
    trials: Floats,
    *,
    fixed_precision: Floats | None = None,
    sd_prior: float | Sequence[float] | None = 1.0,
    shared: Shared | None = None,
    sds: Sequence[float] | None = None,
    offset: Floats | None = None,
    nodes: int = 8,
) -> MixedFit:
    """Fit by the integrated Laplace likelihood of the sds.

    Args:
        X: (cells, columns), dense or, for a great many cells, sparse.
        terms: the groupings; none for a plain logistic fit.
        successes, trials: (cells,) counts.
        fixed_precision: (columns,) precision of a normal prior about 0 on each fixed effect; None or 0 is flat,
            which needs data without separation.
        sd_prior: scale of a half-t prior on every sd, or one scale a term; None switches it off.
        shared: fixed effects whose prior sds have a factor in common that is learned too.
        sds: holds the sds fixed at these, one a term and the factor last where there is one.
        offset: (cells,) added to the log odds.
        nodes: points that integrate over the sds; 1 uses the best one alone.

    Raises:
        NotDeterminedError: the fixed effects are not identified and carry no prior.
    """
    columns = None if shared is None else shared.columns
    problem = MixedLogitProblem(X, tuple(terms), successes, trials, fixed_precision, offset, columns)
    scales = None if sd_prior is None else np.broadcast_to(sd_prior, len(terms)).astype(float)
    log_posterior = _LogPosterior(problem, SdPrior(scales, shared))
    centre = _maximise(log_posterior, None if sds is None else np.asarray(sds, dtype=float))
    best = log_posterior.base
    points = _integration_points(log_posterior, centre, 1 if sds is not None else nodes)
    return _result(problem, best, points, best.integrated)


def fit_maximum_likelihood(X: Floats, terms: Sequence[Term], successes: Floats, trials: Floats) -> MixedFit:
    """Maximise the Laplace likelihood over fixed effects and sds together, without any prior.

    The objective of the usual one-point quadrature fit: random effects integrated, fixed effects not. For few columns;
    used to check the engine against published fits.
    """
    found = maximise(np.asarray(X, dtype=float), tuple(terms), successes, trials)
    problem = MixedLogitProblem(X, tuple(terms), successes, trials, None, None)
    mode = problem.evaluate(found.log_sd, found.random, found.fixed)
    return _result(problem, mode, (_Node.of(mode, 1.0),), found.value)


def _result(problem: MixedLogitProblem, mode: Mode, points: tuple[_Node, ...], log_likelihood: float) -> MixedFit:
    factor: ArrowheadFactor = mode.factor
    edges = np.cumsum([0, *(term.levels for term in problem.terms)])
    return MixedFit(
        fixed=mode.fixed,
        fixed_covariance=factor.fixed_covariance(),
        random={t.name: mode.random[edges[k] : edges[k + 1]] for k, t in enumerate(problem.terms)},
        sd={t.name: float(np.exp(mode.log_sd[k])) for k, t in enumerate(problem.terms)},
        scale_multiplier=float(np.exp(mode.log_sd[-1])) if problem.axes > len(problem.terms) else 1.0,
        log_likelihood=log_likelihood,
        _terms=problem.terms,
        _later_nodes=Later.of(points),
    )
