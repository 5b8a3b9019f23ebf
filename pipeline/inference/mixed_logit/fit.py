"""Mixed logistic regression on binomial counts by Laplace's approximation, with draws from the joint posterior.

Model: successes_i ~ Binomial(trials_i, logit^-1(offset_i + X_i b + sum over terms of w_i u[code_i])), u ~ N(0, sd^2)
level by level in each term; the prior sds of some of b may share an unknown multiplier, which is learned as the
sds are. Formulas: the Laplace deviance is that of Bates et al., J. Stat. Softw. 67 (2015), for generalised models;
integrating over the sds on a few weighted points follows Rue, Martino & Chopin, J. R. Stat. Soc. B 71 (2009). The
fixed effects carry a weak normal prior and are integrated with the random ones.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.lazy import Lazy
from pipeline.inference.mixed_logit.arrowhead import ArrowheadFactor
from pipeline.inference.mixed_logit.conditional_mode import MixedLogitProblem, Mode, Term
from pipeline.inference.mixed_logit.log_posterior import LOG_SD_BOUNDS, LogPosterior, maximise_posterior
from pipeline.inference.mixed_logit.mixed_fit import MixedFit, Node
from pipeline.inference.mixed_logit.sd_priors import SdPrior, Shared


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
        sd_prior: scale of a half-t prior on every sd, or one scale per term; None switches it off.
        shared: fixed effects whose prior sds have a multiplier in common that is learned too.
        sds: holds the sds fixed at these, one per term and the multiplier last if there is one.
        offset: (cells,) added to the log odds.
        nodes: points that integrate over the sds; 1 uses the best one alone.

    Raises:
        NotDeterminedError: the fixed effects are not identified and carry no prior.
    """
    columns = None if shared is None else shared.columns
    problem = MixedLogitProblem(X, tuple(terms), successes, trials, fixed_precision, offset, columns)
    scales = None if sd_prior is None else np.broadcast_to(sd_prior, len(terms)).astype(float)
    log_posterior = LogPosterior(problem, SdPrior(scales, shared))
    centre = maximise_posterior(log_posterior, None if sds is None else np.asarray(sds, dtype=float))
    best = log_posterior.base
    points = _integration_points(log_posterior, centre, 1 if sds is not None else nodes)
    return fitted_result(problem, best, points, best.integrated)


def _integration_points(log_posterior: LogPosterior, centre: Floats, nodes: int) -> tuple[Node, ...]:
    """Points over the log sds: a quasi-random sample of their shape with truncated importance weights."""
    if nodes <= 1 or not centre.size:
        return (Node.of(log_posterior.base, 1.0),)
    hyper = log_posterior.hyperposterior(centre)
    away, copula = hyper.points(nodes)
    points = np.clip(centre + away, *LOG_SD_BOUNDS)
    modes = [log_posterior.mode(point) for point in points]
    log_weight = (
        np.array([log_posterior.value(m) for m in modes]) + hyper.log_drop(points - centre).sum(axis=1) - copula
    )
    weight = np.exp(log_weight - log_weight.max())
    weight = np.minimum(weight, weight.mean() * np.sqrt(nodes))  # truncated as in Ionides, JCGS 17 (2008)
    return tuple(Node.of(mode, float(w)) for mode, w in zip(modes, weight, strict=True))


def fitted_result(problem: MixedLogitProblem, mode: Mode, points: tuple[Node, ...], log_likelihood: float) -> MixedFit:
    """The fit at ``mode``, drawn about the ``points``."""
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
        _lazy_nodes=Lazy.of(points),
    )
