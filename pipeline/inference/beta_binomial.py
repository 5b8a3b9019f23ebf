"""The beta-binomial distribution: its likelihood and its slopes on the log-odds scale."""

from __future__ import annotations

import numpy as np
from scipy.special import expit, polygamma, psi


def log_likelihood(
    made: np.ndarray, attempts: np.ndarray, alpha: np.ndarray | float, beta: np.ndarray | float
) -> np.ndarray:
    """Log probability of each count ``made`` out of ``attempts`` under Beta(alpha, beta); shapes broadcast."""
    from scipy.stats import betabinom  # slow to import

    return np.asarray(betabinom.logpmf(made, attempts, alpha, beta))


def slopes(made: np.ndarray, attempts: np.ndarray, eta: np.ndarray, precision: float) -> tuple[np.ndarray, np.ndarray]:
    """First derivative and minus the second derivative of the log-likelihood in the log odds ``eta`` of the mean.

    ``made``, ``attempts`` and ``eta``: (rows,), as both results; ``precision``: alpha plus beta, one for all rows.
    """
    mean = expit(eta)
    spread = mean * (1 - mean)
    a, b = precision * mean, precision * (1 - mean)
    first = precision * (psi(made + a) - psi(a) - psi(attempts - made + b) + psi(b))
    second = polygamma(1, made + a) - polygamma(1, a) + polygamma(1, attempts - made + b) - polygamma(1, b)
    second = precision**2 * second
    return first * spread, -(second * spread**2 + first * spread * (1 - 2 * mean))
