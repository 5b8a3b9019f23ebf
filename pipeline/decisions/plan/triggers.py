"""When to leave a step of a plan: when the next one begins, or after fewer strikes than luck alone would explain.

A bowler looks once per game, at ten first deliveries. Every look is another chance of leaving a good line because
of bad luck, so the limit is set for all looks of a stretch together.
"""

from __future__ import annotations

import numpy as np
from scipy.special import bdtr

from pipeline.arrays import Floats
from pipeline.decisions.wording.triggers import FewStrikes

_LOOK = 10  # first deliveries in a look: the frames of a game
_BY_LUCK = 0.10  # highest chance of meeting a limit by luck, over all its looks; our own choice


def so_few(rates: Floats) -> FewStrikes | None:
    """The most strikes in ten first deliveries at which to leave, and the chance of so few at some look by luck.

    Args:
        rates: (looks,) the strike probability expected at each look.

    Returns:
        None if even ten first deliveries without a strike are too likely, or if there is no look.
    """
    if len(rates) == 0:
        return None
    at_most = np.asarray(bdtr(np.arange(_LOOK + 1, dtype=float), _LOOK, rates[:, None]))
    by_luck = 1 - (1 - at_most).prod(axis=0)
    limits = np.flatnonzero(by_luck <= _BY_LUCK)
    return FewStrikes(int(limits[-1]), float(by_luck[limits[-1]])) if len(limits) else None


def in_a_stretch(rates: Floats) -> FewStrikes | None:
    """The same for looks after the games of a stretch, with strike ``rates`` (games,); the last game ends it anyway."""
    return so_few(rates[:-1])
