"""The beta-binomial behind spare conversion, against families counted long ago."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy import optimize, special, stats

from pipeline.inference.beta_binomial import log_likelihood

# Geissler 1889, as in Sokal and Rohlf: boys among the 12 children of 6,115 Saxon families. VERIFIED (text seen).
SAXONY = np.array([3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7], dtype=float)
# Girls among 8 children of 38,495 families. VERIFIED (Hjort, arXiv 2604.09660).
EIGHT = np.array([264, 1655, 4948, 8498, 10263, 7603, 3951, 1152, 161], dtype=float)


@dataclass(frozen=True)
class Fit:
    """Maximum-likelihood Beta(alpha, beta) behind binomial counts."""

    alpha: float
    beta: float
    loglik: float

    @property
    def mean(self) -> float:
        return self.alpha / (self.alpha + self.beta)


def fit_beta_binomial(made: np.ndarray, attempts: np.ndarray, weights: np.ndarray) -> Fit:
    """Maximise the product's likelihood over the log odds of the mean and the log of alpha + beta."""

    def loss(point: np.ndarray) -> float:
        mean, precision = special.expit(point[0]), np.exp(point[1])
        return -float((weights * log_likelihood(made, attempts, mean * precision, (1 - mean) * precision)).sum())

    # Nelder-Mead to get near, then quasi-Newton for the last digits.
    rough = optimize.minimize(loss, np.array([0.0, np.log(20.0)]), method="Nelder-Mead")
    fine = optimize.minimize(loss, rough.x, method="L-BFGS-B", options={"ftol": 1e-14, "gtol": 1e-10})
    best = min(rough, fine, key=lambda result: result.fun)
    mean, precision = float(special.expit(best.x[0])), float(np.exp(best.x[1]))
    return Fit(mean * precision, (1 - mean) * precision, -float(best.fun))


def test_saxony() -> None:
    fit = fit_beta_binomial(np.arange(13), np.full(13, 12), SAXONY)
    # Log-likelihood and AIC COMPUTED from the verified counts, with binomial coefficients.
    assert fit.loglik == pytest.approx(-12492.8714, abs=1e-3)
    assert 4 - 2 * fit.loglik == pytest.approx(24989.74, abs=0.005)
    # Share of boys .5192 and variance 3.490 against a binomial 2.996: VERIFIED (text seen).
    assert fit.mean == pytest.approx(0.5192, abs=5e-5)
    published = stats.betabinom(12, fit.alpha, fit.beta)
    assert published.var() == pytest.approx(3.490, abs=0.01)
    assert 12 * fit.mean * (1 - fit.mean) == pytest.approx(2.996, abs=5e-4)
    # By moments alpha is 34.1350 and beta 31.6085: VERIFIED as quoted. Maximum likelihood lies close by, not upon it.
    assert fit.alpha == pytest.approx(34.1350, abs=0.1)
    assert fit.beta == pytest.approx(31.6085, abs=0.1)


def test_saxony_is_no_binomial() -> None:
    # AIC 25070.34 of the binomial, COMPUTED: the beta-binomial is better by 80.6.
    children = np.arange(13)
    share = (SAXONY * children).sum() / (12 * SAXONY.sum())
    binomial = 2 - 2 * float((SAXONY * stats.binom.logpmf(children, 12, share)).sum())
    assert binomial == pytest.approx(25070.34, abs=0.005)
    fit = fit_beta_binomial(children, np.full(13, 12), SAXONY)
    assert binomial - (4 - 2 * fit.loglik) == pytest.approx(80.6, abs=0.05)


def test_families_of_eight() -> None:
    assert EIGHT.sum() == 38495
    girls = np.arange(9)
    fit = fit_beta_binomial(girls, np.full(9, 8), EIGHT)

    def loglik(alpha: float, beta: float) -> float:
        return float((EIGHT * stats.betabinom.logpmf(girls, 8, alpha, beta)).sum())

    # SciPy's own distribution agrees on the value, and no neighbour is better.
    assert fit.loglik == pytest.approx(loglik(fit.alpha, fit.beta), abs=1e-6)
    for factor in (0.99, 1.01):
        assert loglik(fit.alpha * factor, fit.beta) < fit.loglik
        assert loglik(fit.alpha * factor, fit.beta * factor) < fit.loglik
    assert fit.mean == pytest.approx((EIGHT * girls).sum() / (8 * EIGHT.sum()), abs=1e-5)
