"""Which act on a ball may be called: clean, resurface and retire only on evidence, else the ball is watched.

An act is called if its gain over keeping the ball as it is has an 80 % interval that excludes zero, or is above zero
with ``evidence.best_probability``. Retiring is called only if the interval excludes zero and retiring is also the best
of the four with that probability: over simulated seasons two in five retirements called on the probability of a gain
gained nothing, and one in four called on the interval. Keeping costs nothing and changes nothing, so it is called as
soon as it is more likely than not to be the best, unless the gain of the next best act is too uncertain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.arrays import Floats
from pipeline.decisions.estimates import quantiles
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import CareAct, CareVerdict
from pipeline.inference.sample_size import MOST_SHOTS, NODES, smallest_sample
from pipeline.settings import Settings

ACTIONS: tuple[CareAct, ...] = ("keep", "clean", "resurface", "retire")
_LEANING = 0.5  # keeping must be more likely than not to be the best; our own choice


@dataclass(frozen=True)
class _Judged:
    """The act that looks best, the probability that it is, and whether the evidence allows calling it."""

    best: int
    probability: float
    called: bool


def choose(worth: Floats, now: Floats, shots: int, settings: Settings) -> tuple[CareVerdict, float, int]:
    """Verdict, its probability, and the shots needed: if it is withheld, about how many more would call one; else 0.

    A verdict withheld is "not enough shots" with fewer than ``min_shots``, else "watch"; its probability is that of the
    act that looks best so far. The shots counted are with the ball as it is: they inform how it carries now, and an act
    only as far as its gain goes with that. ``MOST_SHOTS`` if no number would suffice.

    Args:
        worth: (n, 4) draws of the utilities.
        now: (n,) draws of the strike probability today.
        shots: logged so far.
        settings: the limits of evidence, and the costs.
    """
    judged, short = _judge(worth, settings), settings.evidence.min_shots - shots
    if short > 0 or not judged.called:
        withheld: CareVerdict = "not enough shots" if short > 0 else "watch"
        return withheld, judged.probability, max(short, 0 if judged.called else _until_called(worth, now, settings))
    return ACTIONS[judged.best], judged.probability, 0


def _judge(worth: Floats, settings: Settings) -> _Judged:
    """Judge draws (n, 4) of the utilities by the limits of evidence; see the head of this module."""
    evidence = settings.evidence
    means = worth.mean(axis=0)
    order = np.argsort(-means, kind="stable")
    best, keep = int(order[0]), ACTIONS.index("keep")
    lead = worth[:, best] - worth[:, int(order[1]) if best == keep else keep]
    probability = float(probability_best(worth)[best])
    low, high = (float(end) for end in quantiles(lead[:, None], np.array([0.1, 0.9]))[0])
    if best != keep:
        if ACTIONS[best] == "retire":
            return _Judged(best, probability, low > 0 and probability >= evidence.best_probability)
        return _Judged(best, probability, low > 0 or float((lead > 0).mean()) >= evidence.best_probability)
    vague = high - low > evidence.interval_width_pins and low <= 0
    return _Judged(best, probability, probability >= _LEANING and not vague)


def _until_called(worth: Floats, now: Floats, settings: Settings) -> int:
    """Shots after which a verdict is called with probability ``evidence.best_probability``.

    Every utility is regressed on how the ball carries now, and shrunk by what that many shots say about it: a normal
    approximation of the preposterior, as in ``next_shots``.
    """
    away, spread = now - now.mean(), float(now.var())
    if spread == 0:
        return MOST_SHOTS
    slope = away @ worth / len(away) / spread
    rate = float(now.mean())

    def sufficient(shots: int) -> bool:
        learned = spread / (spread + rate * (1 - rate) / shots)
        left = worth - np.outer((1 - np.sqrt(1 - learned)) * away, slope)
        then = np.sqrt(learned * spread) * NODES
        called = [_judge(left + at * slope, settings).called for at in then]
        return float(np.mean(called)) >= settings.evidence.best_probability

    return smallest_sample(sufficient)
