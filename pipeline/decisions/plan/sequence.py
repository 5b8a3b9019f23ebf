"""The best way through the games of a plan: which choice is bowled in each of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.advice.next_phase import WORTH_SAYING
from pipeline.decisions.plan.choices import Options

_CHANGE_COSTS = 4.0  # pins in all that a change must be expected to gain; our own choice


def best_sequence(options: Options) -> list[int]:
    """The choice of every game that adds up to most pins, each change costing ``_CHANGE_COSTS``.

    Backwards over the games: what each choice in hand leads to at best. A choice is gone to only where it was tried in
    that phase and is better then as likely as the playbook asks for. One never tried so late is left for nothing: most
    were not tried because they do not work then, so their price is too high.
    """
    mean = options.pins.mean(axis=0)
    games, count = mean.shape
    worth, after = mean[-1], np.empty((games - 1, count), dtype=np.intp)
    for game in range(games - 2, -1, -1):
        cost = np.where(options.tried[game + 1], _CHANGE_COSTS, 0.0)[:, None]
        then = np.where(_may_change(options, game + 1), worth[None, :] - cost, -np.inf)
        np.fill_diagonal(then, worth)
        after[game] = then.argmax(axis=1)
        worth = mean[game] + then.max(axis=1)
    order = [int(np.where(options.tried[0], worth, -np.inf).argmax())]
    for game in range(games - 1):
        order.append(int(after[game, order[-1]]))
    return order


def _may_change(options: Options, game: int) -> NDArray[np.bool_]:
    """Whether each choice in hand (rows) may be left for each other one (columns) as the game begins."""
    pins = options.pins[:, game]
    likely = np.array([(pins > pins[:, [now]]).mean(axis=0) for now in range(pins.shape[1])])
    result: NDArray[np.bool_] = (likely >= WORTH_SAYING) & options.tried[game]
    return result
