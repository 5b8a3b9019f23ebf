"""The beta-binomial distribution: its likelihood and its slopes on the log-odds scale."""

from __future__ import annotations

import numpy as np
from scipy.special import betaln, expit, gammaln, psi, zeta


def log_likelihood(
    made: np.ndarray, attempts: np.ndarray, alpha: np.ndarray | float, beta: np.ndarray | float
) -> np.ndarray:
    """Log probability of each count ``made`` out of ``attempts`` under Beta(alpha, beta); shapes broadcast."""
    coefficient = gammaln(attempts + 1) - gammaln(made + 1) - gammaln(attempts - made + 1)
    result: np.ndarray = coefficient + betaln(made + alpha, attempts - made + beta) - betaln(alpha, beta)
    return result


def slopes(made: np.ndarray, attempts: np.ndarray, eta: np.ndarray, precision: float) -> tuple[np.ndarray, np.ndarray]:
    """First derivative and negative second derivative of the log-likelihood in the log-odds ``eta`` of the mean."""
    mean = expit(eta)
    spread = mean * (1 - mean)
    a, b = precision * mean, precision * (1 - mean)
    first = precision * (psi(made + a) - psi(a) - psi(attempts - made + b) + psi(b))
    # zeta(2, x) is the trigamma function.
    second = precision**2 * (zeta(2, made + a) - zeta(2, a) + zeta(2, attempts - made + b) - zeta(2, b))
    return first * spread, -(second * spread**2 + first * spread * (1 - 2 * mean))
