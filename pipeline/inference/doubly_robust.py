"""A doubly robust check of one adjusted contrast: success under a treatment against success without it.

A treatment that is chosen because conditions changed makes raw rates compare different conditions. The augmented
inverse-probability estimate (Robins, Rotnitzky & Zhao, J. Am. Stat. Assoc. 89, 1994, 846-866) puts an outcome model and
a model of the choice together and is right if either is. What nobody recorded, neither can adjust for.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pipeline.arrays import Floats

if TYPE_CHECKING:
    from sklearn.linear_model import LogisticRegression

_TRIM = 0.025  # probabilities of choice nearer to 0 or 1 than this leave a trial without a counterpart
_LOOSE = 10.0  # inverse strength of the ridge on standardised columns: enough to hold back separation


@dataclass(frozen=True)
class Roles:
    """What the columns of the cells are.

    Attributes:
        successes, trials: counts of each cell.
        cluster: cells of one cluster may be correlated; standard errors are clustered by it.
        numbers, squared, names: columns to adjust for, if present: as numbers, as their squares, as categories.
    """

    successes: str
    trials: str
    cluster: str
    numbers: tuple[str, ...] = ()
    squared: tuple[str, ...] = ()
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Contrast:
    """A difference of two probabilities of success over the same trials.

    Attributes:
        difference: doubly robust estimate, treated minus other.
        se: its standard error, by cluster.
        df: degrees of freedom for intervals, clusters less one.
        raw: difference of the unadjusted rates.
        base: rate of all these trials.
        trials: those in the overlap that were used.
        left_out: share of trials with no counterpart on the other side, left out.
        used: rows of the input that were used, a mask.
    """

    difference: float
    se: float
    df: int
    raw: float
    base: float
    trials: int
    left_out: float
    used: np.ndarray

    def draws(self, n: int, rng: np.random.Generator) -> Floats:
        """``n`` draws of the difference from Student's t."""
        from scipy.stats import t as student  # slow to import

        return self.difference + self.se * student.rvs(self.df, size=n, random_state=rng)


def aipw(
    successes: Floats, trials: Floats, treated: np.ndarray, propensity: Floats, if_treated: Floats, if_not: Floats
) -> Floats:
    """Sum over each cell's trials of the influence values whose mean is the doubly robust difference.

    Args:
        successes, trials: counts by cell.
        treated: true where the cell's trials had the treatment.
        propensity: probability of treatment.
        if_treated, if_not: predicted probabilities of success either way.
    """
    value = trials * (if_treated - if_not)
    value = value + np.where(treated, (successes - trials * if_treated) / propensity, 0.0)
    return np.asarray(value - np.where(treated, 0.0, (successes - trials * if_not) / (1 - propensity)), dtype=float)


def clustered(value: Floats, trials: Floats, cluster: np.ndarray) -> tuple[float, float, int]:
    """Mean per trial, its standard error by cluster, and the number of clusters."""
    mean = float(value.sum() / trials.sum())
    beyond = pd.Series(value - mean * trials).groupby(cluster).sum()
    count = len(beyond)
    if count < 2:
        return mean, float("inf"), count
    return mean, float(np.sqrt((beyond**2).sum() * count / (count - 1)) / trials.sum()), count


def contrast(cells: pd.DataFrame, treated: np.ndarray, roles: Roles) -> Contrast | None:
    """Doubly robust difference in the probability of success between treated and other cells.

    Args:
        cells: one row per cell.
        treated: mask of the treated cells.
        roles: what the columns are.

    Returns:
        None if a side has no trials, fewer than three clusters are left, or a side has only successes or none.
    """
    X = covariates(cells, roles)
    trials = cells[roles.trials].to_numpy(dtype=float)
    successes = cells[roles.successes].to_numpy(dtype=float)
    treated = np.asarray(treated, dtype=bool)
    if not _both_sides(successes, trials, treated):
        return None
    choice = _logistic(X, treated * trials, ~treated * trials)
    used = (choice > _TRIM) & (choice < 1 - _TRIM)
    cluster = cells[roles.cluster].to_numpy()[used]
    X, trials, successes, side = X[used], trials[used], successes[used], treated[used]
    if len(np.unique(cluster)) < 3 or not _both_sides(successes, trials, side):
        return None
    propensity = np.clip(_logistic(X, side * trials, ~side * trials), _TRIM / 2, 1 - _TRIM / 2)
    if_treated, if_not = (_outcome(X, successes, trials, arm) for arm in (side, ~side))
    mean, se, count = clustered(aipw(successes, trials, side, propensity, if_treated, if_not), trials, cluster)
    total = float(cells[roles.trials].sum())
    return Contrast(
        difference=mean,
        se=se,
        df=count - 1,
        raw=float(successes[side].sum() / trials[side].sum() - successes[~side].sum() / trials[~side].sum()),
        base=float(successes.sum() / trials.sum()),
        trials=int(trials.sum()),
        left_out=float(1 - trials.sum() / total),
        used=used,
    )


def covariates(cells: pd.DataFrame, roles: Roles) -> Floats:
    """Standardised columns to adjust for: the numbers that vary, squares, and a mark for each level but one.

    A missing number counts as the mean, a missing name as a level of its own.
    """
    columns: list[Floats] = []
    for name in roles.numbers:
        if name in cells:
            values = pd.to_numeric(cells[name]).to_numpy(dtype=float)
            if not np.isnan(values).all():
                columns.append(np.where(np.isnan(values), np.nanmean(values), values))
    columns += [cells[name].to_numpy(dtype=float) ** 2 for name in roles.squared if name in cells]
    for name in roles.names:
        if name in cells:
            marks = pd.get_dummies(cells[name].astype(object).fillna("not logged"), dtype=float).to_numpy()
            columns += list(marks.T[1:])
    varying = [column for column in columns if column.std() > 0]
    if not varying:
        return np.zeros((len(cells), 1))
    X = np.column_stack(varying)
    return np.asarray((X - X.mean(axis=0)) / X.std(axis=0), dtype=float)


def predicted_choice(seen: pd.DataFrame, treated: np.ndarray, unseen: pd.DataFrame, roles: Roles) -> Floats:
    """Probability by cell of ``unseen`` that a trial is one ``treated``, learned from the cells of ``seen``."""
    trials = seen[roles.trials].to_numpy(dtype=float)
    yes, no = trials * treated, trials * ~treated
    if yes.sum() == 0 or no.sum() == 0:
        return np.full(len(unseen), float(yes.sum() > 0))
    X = covariates(pd.concat([seen, unseen], ignore_index=True), roles)
    return np.asarray(_fitted(X[: len(seen)], yes, no).predict_proba(X[len(seen) :])[:, 1], dtype=float)


def _both_sides(successes: Floats, trials: Floats, treated: np.ndarray) -> bool:
    """Whether either side has both successes and failures."""
    return all(0 < successes[side].sum() < trials[side].sum() for side in (treated, ~treated))


def _outcome(X: Floats, successes: Floats, trials: Floats, arm: np.ndarray) -> Floats:
    """Predicted probability of success of every cell by the model of one arm."""
    return _logistic(X, successes * arm, (trials - successes) * arm)


def _logistic(X: Floats, yes: Floats, no: Floats) -> Floats:
    """Fitted probabilities of a lightly ridged logistic regression on counts of yes and no by row."""
    return np.asarray(_fitted(X, yes, no).predict_proba(X)[:, 1], dtype=float)


def _fitted(X: Floats, yes: Floats, no: Floats) -> LogisticRegression:
    from sklearn.linear_model import LogisticRegression  # slow to import

    with_yes, with_no = yes > 0, no > 0
    model = LogisticRegression(C=_LOOSE, solver="newton-cholesky", max_iter=100)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a step that fails is tried again by another method, which is no news
        model.fit(
            np.vstack([X[with_yes], X[with_no]]),
            np.repeat([1, 0], [with_yes.sum(), with_no.sum()]),
            sample_weight=np.concatenate([yes[with_yes], no[with_no]]),
        )
    return model
