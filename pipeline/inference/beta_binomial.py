"""The beta-binomial distribution: its likelihood, its maximum, and its slopes on the log-odds scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import betaln, expit, gammaln, logit, psi, zeta


@dataclass(frozen=True)
class BetaBinomialFit:
    """Maximum-likelihood Beta(alpha, beta) behind binomial counts; ``loglik`` has the binomial coefficients in."""

    alpha: float
    beta: float
    loglik: float

    @property
    def mean(self) -> float:
        """Mean of the Beta distribution."""
        return self.alpha / (self.alpha + self.beta)


def log_likelihood(
    made: np.ndarray, attempts: np.ndarray, alpha: np.ndarray | float, beta: np.ndarray | float
) -> np.ndarray:
    """Log probability of each count ``made`` out of ``attempts`` under Beta(alpha, beta); shapes broadcast."""
    coefficient = gammaln(attempts + 1) - gammaln(made + 1) - gammaln(attempts - made + 1)
    result: np.ndarray = coefficient + betaln(made + alpha, attempts - made + beta) - betaln(alpha, beta)
    return result


def fit_beta_binomial(made: np.ndarray, attempts: np.ndarray, weights: np.ndarray | None = None) -> BetaBinomialFit:
    """Maximise the likelihood over alpha and beta; ``weights`` says how often each count was seen.

    The precision alpha + beta is held below 1e6, where the beta-binomial is a binomial to all purposes.

    Raises:
        ValueError: no attempt at all.
    """
    made, attempts = np.asarray(made, float), np.asarray(attempts, float)
    weights = np.ones(len(made)) if weights is None else np.asarray(weights, float)
    total = float((weights * attempts).sum())
    if total <= 0:
        raise ValueError("a beta-binomial needs at least one attempt")
    start = logit(np.clip((weights * made).sum() / total, 0.5 / total, 1 - 0.5 / total))

    def loss(point: np.ndarray) -> float:
        mean, precision = expit(point[0]), np.exp(point[1])
        return -float((weights * log_likelihood(made, attempts, mean * precision, (1 - mean) * precision)).sum())

    bounds = [(start - 6, start + 6), (np.log(0.05), np.log(1e6))]
    # Nelder-Mead to get near from anywhere, then quasi-Newton for the last digits.
    rough = minimize(loss, np.array([start, np.log(20.0)]), method="Nelder-Mead", bounds=bounds)
    fine = minimize(loss, rough.x, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-14, "gtol": 1e-10})
    best = fine if fine.fun <= rough.fun else rough
    mean, precision = float(expit(best.x[0])), float(np.exp(best.x[1]))
    return BetaBinomialFit(alpha=mean * precision, beta=(1 - mean) * precision, loglik=-float(best.fun))


def slopes(made: np.ndarray, attempts: np.ndarray, eta: np.ndarray, precision: float) -> tuple[np.ndarray, np.ndarray]:
    """First derivative and negative second derivative of the log-likelihood in the log-odds ``eta`` of the mean."""
    mean = expit(eta)
    spread = mean * (1 - mean)
    a, b = precision * mean, precision * (1 - mean)
    first = precision * (psi(made + a) - psi(a) - psi(attempts - made + b) + psi(b))
    # zeta(2, x) is the trigamma function.
    second = precision**2 * (zeta(2, made + a) - zeta(2, a) + zeta(2, attempts - made + b) - zeta(2, b))
    return first * spread, -(second * spread**2 + first * spread * (1 - 2 * mean))
