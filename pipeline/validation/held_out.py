"""A challenger for the worth model: boosted trees on the same counts, both judged on blocks they have not seen.

Folds keep whole blocks together, since shots of one block share the oil and the day. Both sides predict every held-out
cell once; losses are per shot. If the challenger wins clearly, the worth model is missing something that was logged.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import logit, xlog1py, xlogy

from pipeline.arrays import Floats
from pipeline.inference.doubly_robust import clustered
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.named_effects import MixedLogit, fit_named
from pipeline.models.strike_cells import STRIKE_CELLS
from pipeline.models.strikes.strike_worth import WorthFit

if TYPE_CHECKING:
    from statsmodels.genmod.generalized_linear_model import GLM, GLMResults

Predict = Callable[[pd.DataFrame, pd.DataFrame], Floats]
"""From training cells and test cells (columns shots, strikes and predictors) to a probability a test cell."""

Learn = Callable[[pd.DataFrame], Callable[[pd.DataFrame], Floats]]
"""From training cells to a predictor of any grid of choices; see ``followed``."""

_NUMBERS = ("length_ft", "volume_ml", "ratio", "game", "pair_load", "worn")
_NAMES = ("bowler", "ball", "ball_class", "line", "pattern_class")
_IDENTIFYING = ["block", "bowler", "ball", "line", "game", "pair_load", "shots", "strikes"]  # by which cells differ
_MOST_LEVELS = 250  # of one name; the trees take 255
_DRAWS = 100
_TINY = 1e-6
_LEAST_SPREAD = 0.05  # logits; predictions that differ less have no calibration slope


@dataclass(frozen=True)
class Score:
    """How well held-out shots were predicted.

    Attributes:
        log_loss: mean of minus the log probability given to what happened, natural logs, per shot.
        brier: mean squared distance of the probability from 0 or 1, per shot.
        slope: calibration slope, the coefficient of the predicted log odds in a logistic regression of the outcome
            (Cox, Biometrika 45, 1958); 1 is ideal, below 1 predictions are too extreme.
        slope_se: its standard error, by block.
        intercept: of the same regression.
        bins: columns predicted, observed, shots; equal shots per bin, by rising prediction.
    """

    log_loss: float
    brier: float
    slope: float
    slope_se: float
    intercept: float
    bins: pd.DataFrame


@dataclass(frozen=True)
class Comparison:
    """The worth model and its challenger on the same held-out blocks.

    Attributes:
        scores: ``model``, ``challenger``, and ``rate``, the training strike rate for everyone.
        gain: log loss of the challenger minus the model's, per shot; above 0 the model is better.
        gain_se: its standard error, from the differences by block.
        blocks, shots: what was judged.
    """

    scores: dict[str, Score]
    gain: float
    gain_se: float
    blocks: int
    shots: int


def boosted(train: pd.DataFrame, test: pd.DataFrame) -> Floats:
    """Strike probabilities of ``test`` by gradient-boosted trees on the counts of ``train``."""
    from sklearn.ensemble import HistGradientBoostingClassifier  # slow to import
    from threadpoolctl import threadpool_limits

    levels = {name: list(train.groupby(name)["shots"].sum().nlargest(_MOST_LEVELS).index) for name in _NAMES}
    # a column without a value cannot be binned
    numeric = [name for name in _NUMBERS if name in train and train[name].notna().any()]
    columns = _columns(train, levels, numeric)
    strikes = train["strikes"].to_numpy(dtype=float)
    misses = train["shots"].to_numpy(dtype=float) - strikes
    hit, missed = strikes > 0, misses > 0
    if not (hit.any() and missed.any()):
        return rate_only(train, test)
    trees = HistGradientBoostingClassifier(
        learning_rate=0.07,
        max_iter=60,
        max_leaf_nodes=8,
        min_samples_leaf=40,
        l2_regularization=5.0,
        categorical_features=list(range(len(_NAMES))),
        early_stopping=False,
        random_state=0,
    )
    # one thread: on trees this small, threads that wait for each other on a busy machine cost more than they give
    with threadpool_limits(limits=1, user_api="openmp"):
        trees.fit(
            np.vstack([columns[hit], columns[missed]]),
            np.repeat([1, 0], [hit.sum(), missed.sum()]),
            sample_weight=np.concatenate([strikes[hit], misses[missed]]),
        )
        return np.asarray(trees.predict_proba(_columns(test, levels, numeric))[:, 1], dtype=float)


def _columns(cells: pd.DataFrame, levels: dict[str, list[str]], numeric: list[str]) -> Floats:
    """Codes of the names (nan for a level not in ``levels``), then the numbers."""
    codes = [pd.Index(levels[name]).get_indexer(pd.Index(cells[name])).astype(float) for name in _NAMES]
    numbers = [pd.to_numeric(cells[name]).to_numpy(dtype=float) for name in numeric]
    return np.column_stack([*(np.where(code < 0, np.nan, code) for code in codes), *numbers])


def rate_only(train: pd.DataFrame, test: pd.DataFrame) -> Floats:
    """The training strike rate for every test cell."""
    return np.full(len(test), train["strikes"].sum() / train["shots"].sum())


class Refits:
    """The worth model fitted again to some of its cells; cells that were learned from before are not fitted again."""

    def __init__(self, worth: WorthFit) -> None:
        self._worth = worth
        self._made: dict[bytes, tuple[MixedLogit, WorthFit]] = {}

    def to(self, train: pd.DataFrame) -> tuple[MixedLogit, WorthFit]:
        """The model of these cells, and the fit with the usual line learned from them alone."""
        of_row = pd.util.hash_pandas_object(train[_IDENTIFYING], index=False)
        key = of_row.to_numpy().tobytes()
        if key not in self._made:
            design, groups = self._worth.model.design.unlearned(), self._worth.model.groups
            frame, learned = self._worth.relearned(train)
            self._made[key] = fit_named(design, groups, frame, STRIKE_CELLS, like=self._worth.model.fit), learned
        return self._made[key]


def refitted(refits: Refits) -> Predict:
    """The worth model fitted again to the training cells alone, as a predictor of new blocks.

    The few standard deviations of its random effects are kept from the whole season, which saves most of the time;
    every effect itself is learned from the training blocks only.
    """

    def predict(train: pd.DataFrame, test: pd.DataFrame) -> Floats:
        model, learned = refits.to(train)
        return _probability(model, learned.as_thrown(test))

    return predict


def followed(refits: Refits) -> Learn:
    """The worth model fitted again as in ``refitted``, predicting any grid with its lines following the lane."""

    def learn(train: pd.DataFrame) -> Callable[[pd.DataFrame], Floats]:
        model, learned = refits.to(train)
        return lambda grid: _probability(model, learned.as_followed(grid))

    return learn


def _probability(model: MixedLogit, frame: pd.DataFrame) -> Floats:
    return np.asarray(logistic(model.logit_draws(frame, _DRAWS, np.random.default_rng(0))).mean(axis=0), dtype=float)


def compare(
    cells: pd.DataFrame, model: Predict, challenger: Predict = boosted, folds: int = 4, bins: int = 10
) -> Comparison | None:
    """Judge the model and its challenger by cross-validation grouped by block.

    Args:
        cells: one row per cell of counts: block, shots, strikes and what the predictors read.
        model, challenger: predictors; see ``refitted`` and ``boosted``.
        folds: at most this many, and at most one per block.
        bins: bins of the calibration curve.

    Returns:
        None if there are fewer than two blocks, or only strikes or none at all.
    """
    cells = cells[cells["shots"] > 0].reset_index(drop=True)
    blocks = cells["block"].nunique()
    if blocks < 2 or cells["strikes"].sum() in (0, cells["shots"].sum()):
        return None
    makers: dict[str, Predict] = {"model": model, "challenger": challenger, "rate": rate_only}
    predicted = {name: np.zeros(len(cells)) for name in makers}
    for train, test in block_folds(cells, min(folds, blocks)):
        for name, predict in makers.items():
            predicted[name][test] = np.clip(predict(cells.iloc[train], cells.iloc[test]), _TINY, 1 - _TINY)
    lost = _losses(cells, predicted["challenger"]) - _losses(cells, predicted["model"])
    gain, gain_se, _ = clustered(lost, cells["shots"].to_numpy(dtype=float), cells["block"].to_numpy())
    scores = {name: score(cells, p, bins) for name, p in predicted.items()}
    return Comparison(scores, gain, gain_se, blocks, int(cells["shots"].sum()))


def block_folds(cells: pd.DataFrame, folds: int) -> Iterable[tuple[np.ndarray, np.ndarray]]:
    """Train and test places, whole blocks together."""
    from sklearn.model_selection import GroupKFold  # slow to import

    return GroupKFold(n_splits=folds, shuffle=True, random_state=0).split(cells, groups=cells["block"])


def _losses(cells: pd.DataFrame, p: Floats) -> Floats:
    """Log loss summed over the shots of each cell."""
    strikes = cells["strikes"].to_numpy(dtype=float)
    misses = cells["shots"].to_numpy(dtype=float) - strikes
    return -(xlogy(strikes, p) + xlog1py(misses, -p))


def score(cells: pd.DataFrame, p: Floats, bins: int = 10) -> Score:
    """Losses and calibration of the probabilities ``p`` (one per cell) on cells with block, shots and strikes."""
    shots = cells["shots"].to_numpy(dtype=float)
    strikes = cells["strikes"].to_numpy(dtype=float)
    p = np.clip(p, _TINY, 1 - _TINY)
    squared = strikes * (1 - p) ** 2 + (shots - strikes) * p**2
    intercept, slope, se = _calibration_line(cells, logit(p))
    return Score(
        log_loss=float(_losses(cells, p).sum() / shots.sum()),
        brier=float(squared.sum() / shots.sum()),
        slope=slope,
        slope_se=se,
        intercept=intercept,
        bins=calibration_bins(p, strikes, shots, bins),
    )


def calibration_bins(p: Floats, strikes: Floats, shots: Floats, bins: int) -> pd.DataFrame:
    """Mean prediction and strike rate in bins of about equal shots, columns predicted, observed, shots."""
    order = np.argsort(p, kind="stable")
    upto = np.cumsum(shots[order]) - shots[order] / 2
    place = np.minimum((upto / shots.sum() * bins).astype(int), bins - 1)
    table = pd.DataFrame({"sum": (p * shots)[order], "strikes": strikes[order], "shots": shots[order]})
    sums = table.groupby(place).sum()
    return pd.DataFrame(
        {
            "predicted": sums["sum"] / sums["shots"],
            "observed": sums["strikes"] / sums["shots"],
            "shots": sums["shots"].astype(int),
        }
    ).reset_index(drop=True)


def _calibration_line(cells: pd.DataFrame, log_odds: Floats) -> tuple[float, float, float]:
    """Intercept and slope of outcome on predicted log odds, and the slope's standard error by block.

    The slope and its error are nan, and the intercept alone is fitted, if predictions hardly differ (a spread under
    0.05 logits), or if they separate strikes from other deliveries, so that the likelihood has no maximum.
    """
    from statsmodels.genmod.families import Binomial  # slow to import
    from statsmodels.genmod.generalized_linear_model import GLM

    shots = cells["shots"].to_numpy(dtype=float)
    strikes = cells["strikes"].to_numpy(dtype=float)
    spread = np.average((log_odds - np.average(log_odds, weights=shots)) ** 2, weights=shots)
    outcomes, blocks = np.column_stack([strikes, shots - strikes]), pd.factorize(cells["block"])[0]
    if spread >= _LEAST_SPREAD**2 and not _separated(strikes, shots, log_odds):
        line = _fitted(GLM(outcomes, np.column_stack([np.ones(len(log_odds)), log_odds]), family=Binomial()), blocks)
        if line is not None:
            clusters = int(blocks.max()) + 1
            return float(line.params[0]), float(line.params[1]), float(line.bse[1] * np.sqrt(clusters / (clusters - 1)))
    level = _fitted(GLM(outcomes, np.ones((len(log_odds), 1)), family=Binomial(), offset=log_odds), blocks)
    return float("nan") if level is None else float(level.params[0]), float("nan"), float("nan")


def _fitted(model: GLM, blocks: np.ndarray) -> GLMResults | None:
    """The fit with errors clustered by block; None if it did not converge, checked here instead of by warnings."""
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit: GLMResults = model.fit(cov_type="cluster", cov_kwds={"groups": blocks, "use_correction": False})
    usable = fit.converged and np.isfinite(fit.params).all() and np.isfinite(fit.bse).all()
    return fit if usable else None


def _separated(strikes: Floats, shots: Floats, log_odds: Floats) -> bool:
    """Whether a threshold of the prediction separates all strikes from all other deliveries."""
    hit, missed = log_odds[strikes > 0], log_odds[strikes < shots]
    return bool(hit.min() >= missed.max() or hit.max() <= missed.min())
