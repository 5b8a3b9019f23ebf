"""Shrinkage of the differences between choices toward what the bowler throws, since lanes vary more than logs show.

Bowlers keep a ball on nights that suit it, and a pattern is met on a few nights alone. So the choices of a cell
differ less than the models say: the error variance of a difference is larger than stated, by a share that was learned
in simulated worlds. If a difference has variance ``V`` over choices and posterior variance ``s2``, evidence
whose error variance is ``1 + _UNSEEN`` times as large moves its posterior mean by the factor

    1 / (1 + _UNSEEN * s2 / V)

(a normal mean with a normal prior; Gelman et al., Bayesian Data Analysis, chapter 2, from memory), so what is well
known hardly moves. The spread of the draws is unchanged: about the shrunk means its intervals held the truth as often
as stated. The centre is what is thrown on average, because that is on record.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.arrays import Draws, Floats

_UNSEEN = 0.7  # see DECISIONS.md, "Why are choices drawn toward what is thrown?"


def shift(draws: Draws, mix: Draws, thrown: NDArray[np.bool_]) -> Floats:
    """What to add to the draws (n, k) of one bowler's choices, shape (k,).

    ``mix`` (n, k) is what is thrown in the cell of each, draw by draw. ``thrown`` (k,) marks the choices that
    the variance between choices is learned from; all of them if none is marked.
    """
    apart = draws - mix
    mean, variance = apart.mean(axis=0), apart.var(axis=0)
    among = thrown if thrown.any() else np.ones(len(mean), dtype=bool)
    between = float((mean**2 + variance)[among].mean()) if len(mean) else 0.0
    if between <= 0:
        return np.zeros(len(mean))
    result: Floats = mean / (1.0 + _UNSEEN * variance / between) - mean
    return result
