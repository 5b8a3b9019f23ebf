"""The ball of each game of a plan: that of the advice by phase, unless another is better on this pattern."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.advice.change_cost import CHANGE_COSTS, best_sequence
from pipeline.decisions.advice.next_line import WORTH_SAYING
from pipeline.decisions.plan.choices import AdviceByPhase, Options
from pipeline.decisions.wording.block_plan import departs_sentence


@dataclass(frozen=True)
class Order:
    """The place of each game's ball among the options, and why they differ from the season review's (empty if not)."""

    balls: list[int]
    departs: str


def order_of(options: Options, answers: AdviceByPhase, pattern_class: str) -> Order:
    """The balls of the advice by phase, or the best sequence on this pattern if that is probably better by enough.

    Enough is the cost of a change of ball, over all games. A phase without a comparison continues with the ball in
    hand if that was tried there, else with the best of those that were.
    """
    free = best_sequence(options)
    if not answers:
        return Order(free, "")
    usual = _as_advised(options, answers)
    more = _worth(options, free) - _worth(options, usual)
    likely = float((more > 0).mean())
    if free == usual or more.mean() < CHANGE_COSTS or likely < WORTH_SAYING:
        return Order(usual, "")
    return Order(free, departs_sentence(pattern_class, float(more.mean()) / len(free), likely))


def _as_advised(options: Options, answers: AdviceByPhase) -> list[int]:
    place = {row["ball"]: k for k, row in enumerate(options.rows)}
    mean = options.pins.mean(axis=0)
    order: list[int] = []
    for game, phase in enumerate(options.phase):
        if phase in answers:
            order.append(place[answers[phase].ball])
        elif order and options.tried[game, order[-1]]:
            order.append(order[-1])
        else:
            order.append(int(np.where(options.tried[game], mean[game], -np.inf).argmax()))
    return order


def _worth(options: Options, order: list[int]) -> NDArray[np.float64]:
    """Draws (n,) of a sequence's total pins less the cost of its changes; leaving a ball not tried so late is free."""
    pins: NDArray[np.float64] = sum((options.pins[:, g, k] for g, k in enumerate(order)), np.zeros(len(options.pins)))
    paid = sum(a != b and bool(options.tried[g + 1, a]) for g, (a, b) in enumerate(pairwise(order)))
    return pins - CHANGE_COSTS * paid
