"""The best way through the games of a block: which choice is bowled in each of them."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.advice.next_line import WORTH_SAYING

CHANGE_COSTS = 4.0
"""Pins in total that a change must be expected to gain; our own choice."""


class Compared(Protocol):
    """Choices in each game: ``pins`` (n, games, choices) draws, ``tried`` (games, choices) those advised there."""

    @property
    def pins(self) -> NDArray[np.float64]:
        """Draws of each choice in each game."""

    @property
    def tried(self) -> NDArray[np.bool_]:
        """Choices that may be advised in each game."""


def best_sequence(options: Compared) -> list[int]:
    """The choice of every game with the highest total of pins, less ``CHANGE_COSTS`` per change.

    Computed backwards over the games (dynamic programming). Three rules bound it:

    - Change only to a choice that was tried so late, and that is better then with the probability the playbook asks
      for.
    - Leave a choice never tried so late at no cost. Most were not tried because they do not work then, so their price
      is too high.
    - Do not start with a choice for what comes later if another is better at first with that probability, by more than
      a change costs.
    """
    mean = options.pins.mean(axis=0)
    tried = np.where(options.tried.any(axis=1, keepdims=True), options.tried, True)
    games, count = mean.shape
    worth, after = mean[-1], np.empty((games - 1, count), dtype=np.intp)
    for game in range(games - 2, -1, -1):
        usable = tried[game + 1]
        cost = np.where(usable, CHANGE_COSTS, 0.0)[:, None]
        then = np.where(_may_change(options.pins[:, game + 1], usable), worth[None, :] - cost, -np.inf)
        np.fill_diagonal(then, np.where(usable, worth, -np.inf))
        after[game] = then.argmax(axis=1)
        worth = mean[game] + then.max(axis=1)
    order = [int(np.where(_may_start(options.pins[:, 0], tried[0]), worth, -np.inf).argmax())]
    for game in range(games - 1):
        order.append(int(after[game, order[-1]]))
    return order


def _may_start(pins: NDArray[np.float64], usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Whether each choice may be bowled in the first game, of these draws."""
    mean = pins.mean(axis=0)
    beaten = _may_change(pins, usable) & (mean[None, :] - mean[:, None] >= CHANGE_COSTS)
    result: NDArray[np.bool_] = usable & ~beaten.any(axis=1)
    return result


def _may_change(pins: NDArray[np.float64], usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Whether each choice in hand (rows) may be left for each other one (columns) as a game of these draws begins."""
    likely = np.array([(pins > pins[:, [now]]).mean(axis=0) for now in range(pins.shape[1])])
    result: NDArray[np.bool_] = ((likely >= WORTH_SAYING) | ~usable[:, None]) & usable
    return result
