"""Which observations to buy before some choices are made: a batch by knowledge gradient.

Options have a joint normal belief. After the observations one option of each set is chosen, the one then believed
best. The worth of a batch is what the expected best means gain by it; slots are filled one by one, each with what adds
most to those already filled (Frazier, Powell & Dayanik, SIAM Journal on Control and Optimization 47, 2008, from memory;
filling a batch greedily is our own choice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipeline.arrays import Floats

Places = NDArray[np.intp]
_FUTURES = 1024  # ways the means may come out; the same for every batch compared
_NODES = ndtri((np.arange(_FUTURES) + 0.5) / _FUTURES)  # equally likely, so the value of one slot is nearly exact


@dataclass(frozen=True)
class Belief:
    """What is believed of the options, and which of them compete.

    ``mean`` (k,) and ``covariance`` (k, k) of the options; ``noise`` (k,): variance of one observation of each.
    ``sets``: places of the options among which one is chosen; ``weights``: how much each set counts.
    """

    mean: Floats
    covariance: Floats
    noise: Floats
    sets: Sequence[Places]
    weights: Sequence[float]

    @classmethod
    def from_draws(cls, draws: Floats, noise: Floats, sets: Sequence[Places], weights: Sequence[float]) -> Belief:
        """The normal belief with mean and covariance of ``draws`` (n, k)."""
        return cls(draws.mean(axis=0), np.atleast_2d(np.cov(draws, rowvar=False)), noise, sets, weights)


@dataclass(frozen=True)
class Batch:
    """Observations to make: ``choices`` one option per slot; ``gain`` and ``p_change`` (sets,) that they bring."""

    choices: list[int]
    gain: float
    p_change: list[float]


def best_batch(belief: Belief, slots: Sequence[Places], size: int, rng: np.random.Generator) -> Batch:
    """Fill each slot, with ``size`` observations of one of the options it allows; empty slots stay out.

    ``gain`` is the expected rise of the weighted sum of the best means, ``p_change`` the probability that another
    option of a set is believed best afterwards.
    """
    futures = rng.permuted(np.tile(_NODES, (len(slots), 1)), axis=1)
    means = np.tile(belief.mean, (_FUTURES, 1))
    left, choices = belief.covariance.copy(), []
    for future, allowed in zip(futures, slots, strict=True):
        if len(allowed) == 0:
            continue
        moves = [_move(left, belief.noise, int(option), size) for option in allowed]
        at = int(np.argmax([_worth(belief, means + np.outer(future, move)) for move in moves]))
        means = means + np.outer(future, moves[at])
        left = left - np.outer(moves[at], moves[at])
        choices.append(int(allowed[at]))
    gain = _worth(belief, means) - _worth(belief, belief.mean[None, :])
    return Batch(choices, max(gain, 0.0), _changes(belief, means))


def perfect_gain(belief: Belief, draws: Floats) -> float:
    """The same gain if every option were known for sure; ``draws`` (n, k) are those of the belief."""
    return _worth(belief, draws) - _worth(belief, belief.mean[None, :])


def _move(covariance: Floats, noise: Floats, option: int, size: int) -> Floats:
    """(k,) by how much all means move for one standard deviation of what ``size`` observations of an option show."""
    seen = covariance[option, option] + noise[option] / size
    return covariance[:, option] / np.sqrt(seen) if seen > 0 else np.zeros(len(noise))


def _worth(belief: Belief, means: Floats) -> float:
    """Expected weighted sum of the best means; ``means`` (futures, k)."""
    best = [weight * means[:, at].max(axis=1).mean() for weight, at in zip(belief.weights, belief.sets, strict=True)]
    return float(sum(best))


def _changes(belief: Belief, means: Floats) -> list[float]:
    return [float((means[:, at].argmax(axis=1) != belief.mean[at].argmax()).mean()) for at in belief.sets]
