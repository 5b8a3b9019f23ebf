"""Differences between two stretches of time, shrunk toward zero as far as real changes are usually small.

Each stretch is a handful of clusters (evenings), and an average is a ratio of two sums over clusters. The sampling
variance of a ratio is that of its clusters' residuals (Cochran, Sampling Techniques, 3rd edition 1977, section 6.3,
from memory). It is itself estimated from few clusters, so it stands here with its degrees of freedom (Satterthwaite,
Biometrics Bulletin 2, 1946, 110-114, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import softmax

from pipeline.arrays import Floats

_SDS = 60
"""Points over the sd of real changes."""
_WIDEST = 5.0
"""Scales beyond which that sd is not looked for."""
_VARIANCES = 25
"""Points over each sampling variance."""


@dataclass(frozen=True)
class Change:
    """A difference, the later stretch less the earlier.

    Attributes:
        difference: of the two averages.
        variance: its sampling variance, plus any other variance that is known.
        freedom: degrees of freedom behind ``variance``.
    """

    difference: float
    variance: float
    freedom: float


def change_of(
    earlier: tuple[Floats, Floats], later: tuple[Floats, Floats], more_variance: float = 0.0
) -> Change | None:
    """The change of an average that is a sum over another sum, from clusters.

    Args:
        earlier, later: the two sums of each cluster, (k,) each; two clusters at least with a positive second sum.
        more_variance: known variance on top of that between clusters.

    Returns:
        None if nothing varies, which leaves no standard error.
    """
    (one, first, one_freedom), (two, second, two_freedom) = (_ratio(*sums) for sums in (earlier, later))
    variance = first + second
    if variance <= 0:
        return None
    freedom = variance**2 / (first**2 / one_freedom + second**2 / two_freedom)
    return Change(two - one, variance + more_variance, freedom)


def _ratio(sums: Floats, sizes: Floats) -> tuple[float, float, float]:
    """Average, its variance from clusters and the degrees of freedom."""
    total, clusters = float(sizes.sum()), len(sums)
    average = float(sums.sum()) / total
    off = sums - average * sizes
    variance = clusters / (clusters - 1) * float(off @ off) / total**2
    return average, variance, clusters - 1.0


def real_changes(changes: list[Change], scale: float, n: int, rng: np.random.Generator) -> Floats:
    """Posterior draws (n, changes) of the true changes.

    True changes are normal about 0 with one sd, learned from all ``changes`` together under a half-normal prior with
    ``scale``. Sampling variances are scaled inverse chi-square about what was estimated.

    Raises:
        ValueError: no change, or a scale that is not positive.
    """
    if not changes or scale <= 0:
        raise ValueError("at least one change and a positive scale are needed")
    sds = (np.arange(_SDS) + 0.5) / _SDS * _WIDEST * scale
    difference = np.array([change.difference for change in changes])
    variances = np.stack([_variances(change) for change in changes])
    density = _density(difference[:, None, None], sds[None, :, None] ** 2 + variances[:, None, :])
    log_weight = np.log(density.mean(axis=2)).sum(axis=0) - 0.5 * (sds / scale) ** 2
    at = rng.choice(_SDS, size=n, p=softmax(log_weight))
    out = np.empty((n, len(changes)))
    for k, drawn in enumerate(variances):
        cumulated = np.cumsum(density[k], axis=1)
        places = (rng.random(n)[:, None] > cumulated[at] / cumulated[at, -1:]).sum(axis=1)
        variance, between = drawn[np.minimum(places, len(drawn) - 1)], sds[at] ** 2
        share_real = between / (between + variance)
        out[:, k] = share_real * difference[k] + np.sqrt(share_real * variance) * rng.standard_normal(n)
    return out


def _variances(change: Change) -> Floats:
    """Equally likely values (points,) of the true sampling variance."""
    from scipy.stats import chi2  # slow to import

    levels = (np.arange(_VARIANCES) + 0.5) / _VARIANCES
    variances: Floats = change.variance * change.freedom / chi2.ppf(levels, change.freedom)
    return variances


def _density(value: Floats, variance: Floats) -> Floats:
    result: Floats = np.exp(-0.5 * value**2 / variance) / np.sqrt(variance) + 1e-300
    return result
