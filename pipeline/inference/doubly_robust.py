"""A doubly robust check of one adjusted contrast: strikes with ball A against ball B on the same shots.

Bowlers change balls because the lanes get worse, so raw rates by ball compare different lanes. The augmented inverse-
probability estimate (Robins, Rotnitzky & Zhao, J. Am. Stat. Assoc. 89, 1994, 846-866) puts an outcome model and a model
of the choice of ball together and is right if either is; it is built here without the worth model, so that the two can
be set side by side. What nobody logged, neither can adjust for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.inference.mixed_logit.arrowhead import Floats

_TRIM = 0.025  # probabilities of choice nearer to 0 or 1 than this leave a shot without a counterpart
_LOOSE = 10.0  # inverse strength of the ridge on standardised columns: enough to hold back separation
_NUMBERS = ("game", "pair_load", "length_ft", "volume_ml", "ratio")
_NAMES = ("bowler", "pattern_class", "line")


@dataclass(frozen=True)
class Contrast:
    """A difference of two strike probabilities over the same shots.

    Attributes:
        difference: doubly robust estimate, treated minus other.
        se: its standard error, by block.
        df: degrees of freedom for intervals, blocks less one.
        raw: difference of the unadjusted strike rates.
        base: strike rate of all these shots.
        shots: shots in the overlap that were used.
        left_out: share of shots with no counterpart on the other ball, left out.
        used: rows of the input that were used, a mask.
    """

    difference: float
    se: float
    df: int
    raw: float
    base: float
    shots: int
    left_out: float
    used: np.ndarray

    def draws(self, n: int, rng: np.random.Generator) -> Floats:
        """``n`` draws of the difference from Student's t."""
        from scipy.stats import t as student  # slow to import

        return self.difference + self.se * student.rvs(self.df, size=n, random_state=rng)


def aipw(
    strikes: Floats, shots: Floats, treated: np.ndarray, propensity: Floats, if_treated: Floats, if_not: Floats
) -> Floats:
    """Sum over each cell's shots of the influence values whose mean is the doubly robust difference.

    Args:
        strikes, shots: counts by cell.
        treated: true where the cell's shots had the treatment.
        propensity: probability of treatment.
        if_treated, if_not: predicted strike probabilities either way.
    """
    value = shots * (if_treated - if_not)
    value = value + np.where(treated, (strikes - shots * if_treated) / propensity, 0.0)
    return np.asarray(value - np.where(treated, 0.0, (strikes - shots * if_not) / (1 - propensity)), dtype=float)


def clustered(value: Floats, shots: Floats, block: np.ndarray) -> tuple[float, float, int]:
    """Mean per shot, its standard error by block, and the number of blocks."""
    mean = float(value.sum() / shots.sum())
    beyond = pd.Series(value - mean * shots).groupby(block).sum()
    count = len(beyond)
    if count < 2:
        return mean, float("inf"), count
    return mean, float(np.sqrt((beyond**2).sum() * count / (count - 1)) / shots.sum()), count


def contrast(cells: pd.DataFrame, treated: np.ndarray) -> Contrast | None:
    """Doubly robust difference in strike probability between treated and other cells.

    Args:
        cells: columns block, shots, strikes, and any of game, pair_load, length_ft, volume_ml, ratio, bowler,
            pattern_class and line, which are adjusted for.
        treated: mask of the cells thrown with the first of the two balls (or classes).

    Returns:
        None where a side has no shots, fewer than three blocks are left, or a side has only strikes or none.
    """
    X = covariates(cells)
    shots = cells["shots"].to_numpy(dtype=float)
    strikes = cells["strikes"].to_numpy(dtype=float)
    treated = np.asarray(treated, dtype=bool)
    if not _both_sides(strikes, shots, treated):
        return None
    choice = _logistic(X, treated * shots, ~treated * shots)
    used = (choice > _TRIM) & (choice < 1 - _TRIM)
    block = cells["block"].to_numpy()[used]
    X, shots, strikes, side = X[used], shots[used], strikes[used], treated[used]
    if len(np.unique(block)) < 3 or not _both_sides(strikes, shots, side):
        return None
    propensity = np.clip(_logistic(X, side * shots, ~side * shots), _TRIM / 2, 1 - _TRIM / 2)
    if_treated, if_not = (_outcome(X, strikes, shots, arm) for arm in (side, ~side))
    mean, se, count = clustered(aipw(strikes, shots, side, propensity, if_treated, if_not), shots, block)
    total = float(cells["shots"].sum())
    return Contrast(
        difference=mean,
        se=se,
        df=count - 1,
        raw=float(strikes[side].sum() / shots[side].sum() - strikes[~side].sum() / shots[~side].sum()),
        base=float(strikes.sum() / shots.sum()),
        shots=int(shots.sum()),
        left_out=float(1 - shots.sum() / total),
        used=used,
    )


def covariates(cells: pd.DataFrame) -> Floats:
    """Standardised columns to adjust for: the numbers that vary, game squared, and a mark for each level but one.

    A missing number counts as the mean, a missing name as a level of its own.
    """
    columns: list[Floats] = []
    for name in _NUMBERS:
        if name in cells:
            values = pd.to_numeric(cells[name]).to_numpy(dtype=float)
            if not np.isnan(values).all():
                columns.append(np.where(np.isnan(values), np.nanmean(values), values))
    if "game" in cells:
        columns.append(cells["game"].to_numpy(dtype=float) ** 2)
    for name in _NAMES:
        if name in cells:
            marks = pd.get_dummies(cells[name].astype(object).fillna("not logged"), dtype=float).to_numpy()
            columns += list(marks.T[1:])
    varying = [column for column in columns if column.std() > 0]
    if not varying:
        return np.zeros((len(cells), 1))
    X = np.column_stack(varying)
    return np.asarray((X - X.mean(axis=0)) / X.std(axis=0), dtype=float)


def _both_sides(strikes: Floats, shots: Floats, treated: np.ndarray) -> bool:
    """Whether either side has both strikes and misses."""
    return all(0 < strikes[side].sum() < shots[side].sum() for side in (treated, ~treated))


def _outcome(X: Floats, strikes: Floats, shots: Floats, arm: np.ndarray) -> Floats:
    """Predicted strike probability of every cell by the model of one arm."""
    return _logistic(X, strikes * arm, (shots - strikes) * arm)


def _logistic(X: Floats, yes: Floats, no: Floats) -> Floats:
    """Fitted probabilities of a lightly ridged logistic regression on counts of yes and no by row."""
    from sklearn.linear_model import LogisticRegression  # slow to import

    said, denied = yes > 0, no > 0
    model = LogisticRegression(C=_LOOSE, solver="newton-cholesky", max_iter=100)
    model.fit(
        np.vstack([X[said], X[denied]]),
        np.repeat([1, 0], [said.sum(), denied.sum()]),
        sample_weight=np.concatenate([yes[said], no[denied]]),
    )
    return np.asarray(model.predict_proba(X)[:, 1], dtype=float)
