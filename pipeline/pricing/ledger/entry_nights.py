"""The uncertainty of a ball's usual entry boards, from the nights it was seen on.

A ball's entry boards differ between nights, and part of the difference belongs to the pattern and returns with it. The
expectation before a board is known is a mean over the ball's boards on all patterns; its deviation on one pattern is
drawn. The share of the variance between nights that belongs to the pattern is learned from nights on the same pattern,
which are then more alike than nights on different ones; a season has few of them, so the share has a prior.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import beta

from pipeline.inference.mixed_logit.effect_draws import keyed_noise

_BELIEVED = beta(1, 19)  # prior of the share: a twentieth on average; our own choice
_SHARES = (np.arange(200) + 0.5) / 200
_OF_LINES = 0.5  # of the variance that goes with the pattern, what a ball's lines do each on its own; our own choice
_FEWEST = 5  # nights from which a mean over nights has a variance worth the name


@dataclass(frozen=True)
class BetweenNights:
    """For chances of a strike by entry board alone: ``variance`` between a ball's nights, and posterior ``weight``
    (200,) of the shares of it that belong to the pattern."""

    variance: float
    weight: np.ndarray

    def pattern_sd(self, n: int, rng: np.random.Generator) -> np.ndarray:
        """Draws (n,) of the sd of the pattern's part."""
        return np.sqrt(self.variance * rng.choice(_SHARES, size=n, p=self.weight))

    def line_sd(self, n: int, rng: np.random.Generator) -> np.ndarray:
        """The same for the part that belongs to a line on a pattern."""
        return np.sqrt(_OF_LINES) * self.pattern_sd(n, rng)

    def of_patterns(self, keys: list[str], n: int, rng: np.random.Generator) -> np.ndarray:
        """Draws (n, keys) of the pattern's part; equal keys share theirs."""
        return _by_key(self.pattern_sd(n, rng), keys, rng)

    def of_lines(self, keys: list[str], n: int, rng: np.random.Generator) -> np.ndarray:
        """The same for the part that belongs to a line on a pattern."""
        return _by_key(self.line_sd(n, rng), keys, rng)


def _by_key(sd: np.ndarray, keys: list[str], rng: np.random.Generator) -> np.ndarray:
    noise = keyed_noise(keys, len(sd), int(rng.integers(2**32)))
    return noise * sd[:, None]


def between_nights(shots: pd.DataFrame) -> BetweenNights:
    """Learn from ``shots``: columns ball, pattern, night, shots, and ``chance``, of a strike by the entry board."""
    by = shots.assign(total=shots["shots"] * shots["chance"]).groupby(["ball", "pattern", "night"], dropna=False)
    nights = by[["shots", "total"]].sum().reset_index()
    of_ball = nights.groupby("ball")[["shots", "total"]].transform("sum")
    off = nights["total"] - nights["shots"] * of_ball["total"] / of_ball["shots"]
    variance = float((off**2 / nights["shots"]).sum() / nights["shots"].sum())
    alike, error = _alike(nights.assign(off=off))
    prior = _BELIEVED.pdf(_SHARES)
    far = (alike - variance * _SHARES) / error if error > 0 else np.zeros(len(_SHARES))
    likely = prior * np.exp(-(far**2 - (far**2).min()) / 2)
    return BetweenNights(variance, likely / likely.sum())


def _alike(nights: pd.DataFrame) -> tuple[float, float]:
    """How much more two nights of a ball on one pattern covary than two on different ones, and its standard error.

    The error is the jackknife's, a ball left out at a time; 0 if there are no such nights to compare.
    """
    same, any_two = _pairs(nights, ["ball", "pattern"]), _pairs(nights, ["ball"])
    other = any_two - same
    totals = np.array([same.sum(), other.sum()])  # (2, products and weights)
    if len(same) < 2 or (totals[:, 1] <= 0).any():
        return 0.0, 0.0
    left = totals[:, None] - np.stack([same.to_numpy(), other.to_numpy()])
    with np.errstate(divide="ignore", invalid="ignore"):
        each = left[0, :, 0] / left[0, :, 1] - left[1, :, 0] / left[1, :, 1]
    whole = totals[0, 0] / totals[0, 1] - totals[1, 0] / totals[1, 1]
    each = np.where(np.isfinite(each), each, whole)
    return float(whole), float(np.sqrt((len(each) - 1) / len(each) * ((each - each.mean()) ** 2).sum()))


def _pairs(nights: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """By ball: products of what pairs of nights with the same ``keys`` are off, and their weights, summed."""
    by_night = nights.groupby([*keys, "night"], dropna=False)[["off", "shots"]].sum()
    squares = (by_night**2).groupby(keys, dropna=False).sum()
    pairs = by_night.groupby(keys, dropna=False).sum() ** 2 - squares
    return pairs.groupby("ball").sum()


def night_weights(spread: pd.DataFrame, n: int, groups: int, rng: np.random.Generator) -> np.ndarray:
    """Draws (n, groups) of how often each night counts: the Bayesian bootstrap (Rubin, Annals of Statistics 9, 1981,
    from memory), whose variance is widened to that of a mean of so few nights (a t distribution).

    ``spread``: columns ball, night and shots; a ball's nights count.
    """
    nights = spread.groupby("ball")["night"].transform("nunique")
    number = float(np.average(nights, weights=spread["shots"])) if len(spread) else 1.0
    number = max(number, _FEWEST)
    shape = (number - 3) / (number + 1)
    return rng.gamma(shape, size=(n, groups)) / shape
