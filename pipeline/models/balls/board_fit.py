"""Least squares on boards for one bowler: what a ball, its age and a line do to where the ball comes in.

Weighted by shots. The shots of one block share its oil, so of the ordinary and the block-clustered standard error of a
coefficient the larger is taken, with the ordinary correlations: a clustered covariance of many coefficients from few
blocks is nearly singular, and would pass off some combinations of balls as known exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.arrays import Floats

HALF_BOARD = 0.5**2 / 12
"""Variance of one board as logged: to the half board at best."""
_MIN_CLUSTERS = 10  # clustered standard errors are unreliable below this; our own choice


@dataclass(frozen=True)
class Measured:
    """The wanted coefficients and their sampling covariance: shapes (k,) and (k, k)."""

    names: tuple[str, ...]
    value: Floats
    covariance: Floats


def dummies(labels: pd.Series, leave_out: str | None = None) -> pd.DataFrame:
    """One 0/1 column per level, named by the level; ``leave_out`` or else the first level is the base."""
    table = pd.get_dummies(labels.astype(str).reset_index(drop=True), dtype=float)
    base = leave_out if leave_out in table.columns else (table.columns[0] if table.shape[1] else None)
    return table.drop(columns=[base]) if base is not None else table


def centred(values: pd.Series, weights: Floats) -> Floats:
    """Values less their weighted mean; a missing value counts as the mean. All zero if nothing is logged."""
    x = values.to_numpy(dtype=float)
    known = np.isfinite(x)
    if not known.any():
        return np.zeros(len(x))
    centre = np.average(x[known], weights=weights[known])
    return np.where(known, x - centre, 0.0)


def measure(
    outcome: npt.ArrayLike,
    weights: npt.ArrayLike,
    columns: pd.DataFrame,
    blocks: pd.Series,
    wanted: Sequence[str],
    least_variance: float = HALF_BOARD,
) -> Measured | None:
    """Fit ``outcome`` on ``columns`` and a constant; return the ``wanted`` coefficients that can be told apart.

    Args:
        outcome: (rows,) finite values.
        weights: (rows,) positive shots.
        columns: (rows, k) numbers; names must be unique. Constant and duplicate directions are dropped.
        blocks: (rows,) block of each row.
        wanted: names of columns.
        least_variance: of one shot; an outcome that hardly varies is known no better than this allows.

    Returns:
        None if fewer than three rows more than coefficients are left, or nothing wanted is identified.
    """
    y = np.asarray(outcome, dtype=float)
    from statsmodels.regression.linear_model import WLS  # slow to import

    w = np.asarray(weights, dtype=float)
    X = np.column_stack([np.ones(len(y)), columns.to_numpy(dtype=float)])
    keep = _independent(X * np.sqrt(w)[:, None])
    names = ["", *columns.columns]
    estimable = [name for name in wanted if names.index(name) in keep]
    if not estimable or len(y) < len(keep) + 3:
        return None
    X = X[:, keep]
    codes = pd.factorize(blocks)[0]
    model = WLS(y, X, weights=w)
    clusters = int(codes.max()) + 1
    fit = model.fit()
    at = [keep.index(names.index(name)) for name in estimable]
    scale = max(float(fit.scale), least_variance)
    covariance = np.asarray(fit.normalized_cov_params)[np.ix_(at, at)] * scale
    if clusters >= _MIN_CLUSTERS:
        clustered = fit.get_robustcov_results(cov_type="cluster", groups=codes)
        larger = np.maximum(np.asarray(clustered.bse)[at] / np.sqrt(np.diag(covariance)), 1.0)
        covariance = covariance * np.outer(larger, larger)
    return Measured(tuple(estimable), np.asarray(fit.params)[at], covariance)


def _independent(X: Floats) -> list[int]:
    """Indices of columns that are not linear combinations of the columns before them (Gram-Schmidt)."""
    independent: list[int] = []
    scale = float(np.linalg.norm(X[:, 0]))  # of the constant: what is smaller by far is rounding
    basis = np.empty((len(X), 0))
    for j in range(X.shape[1]):
        column = X[:, j]
        rest = column - basis @ (basis.T @ column)
        size = float(np.linalg.norm(rest))
        if size > 1e-7 * scale:
            independent.append(j)
            basis = np.column_stack([basis, rest / size])
    return independent
