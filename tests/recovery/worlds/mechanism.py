"""What a world must say of its lanes, and what all of them share: execution, leaves after a miss, the mean score."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from sample_logs import mechanism as m

POCKET = 17.5
LOOSE_SHARE, LOOSE_WIDTH = 0.06, 2.5  # loose shots, and how many times wider they spread at the pins
ANGLE_BEST = 5.8  # degrees; common practice puts the best entry angle near six


@dataclass(frozen=True)
class Shot:
    """Who throws what where; arrays (k,), ``arrow`` the board crossed at the arrows, ``wear`` games on the surface.

    ``grit`` is what the surface was last set to; None stands for that of the ball as it came.
    """

    pattern: np.ndarray
    bowler: np.ndarray
    ball: np.ndarray
    wear: np.ndarray
    arrow: np.ndarray
    grit: np.ndarray | None = None


class Mechanism(Protocol):
    """A lane. A state is one lane's oil as one side plays it; its first axis counts lanes.

    ``per_board``: boards by which bowlers take one at the arrows to move a ball at the pins.
    """

    per_board: float

    def nights(self, rng: np.random.Generator, pattern: int, replicas: int, pairs: int) -> np.ndarray:
        """Freshly oiled lanes of one block, (replicas, pairs, 2 sides, ...): what is hidden of the night is drawn."""
        ...

    def usual(self, pattern: int) -> np.ndarray:
        """The average fresh lane of a pattern, (1, ...)."""
        ...

    def arrive(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """Mean entry board and entry angle in degrees, (k,), on states (k, ...)."""
        ...

    def strike_logit(self, state: np.ndarray, shot: Shot, entry: np.ndarray, angle: np.ndarray) -> np.ndarray:
        """Log odds of a strike; ``entry`` (k,) or (nodes, k)."""
        ...

    def wear_lane(self, rng: np.random.Generator, states: np.ndarray, at: np.ndarray, shot: Shot) -> None:
        """Roll balls over lanes: changes ``states`` (lanes, ...) at ``at`` (k,) in place."""
        ...

    def strength(self, ball: np.ndarray) -> np.ndarray:
        """How strong bowlers take a ball to be, from 0 (straight) to 1."""
        ...


def place_logit(entry: np.ndarray) -> np.ndarray:
    """What the entry board adds: best at the pocket's centre, and a lower hill on the far side."""
    off = entry - POCKET
    return np.maximum(-0.5 * off**2, -3.4) + 1.5 * np.exp(-((off - 5) ** 2) / 2)


def execution() -> tuple[np.ndarray, np.ndarray]:
    """Nodes (in sds at the pins) and weights, loose shots included."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    weights = weights / weights.sum()
    every = np.concatenate([nodes, LOOSE_WIDTH * nodes])
    return every, np.concatenate([(1 - LOOSE_SHARE) * weights, LOOSE_SHARE * weights])


class Misses:
    """By bowler and entry board: chance of a spare, first pinfall, and pinfall of frames left open, given no strike."""

    _STEP = 8  # places a board

    def __init__(self, spare_chance: np.ndarray) -> None:
        boards = np.arange(0, 40 * self._STEP + 1) / self._STEP
        mix = m.leave_probabilities(boards)
        made = spare_chance[:, m.LEAVE_MASKS]
        standing = m.LEAVE_PINS.astype(float)
        left = np.where(standing == 1, 1.0, m.MISS_ALL * standing + (1 - m.MISS_ALL))
        parts = [made, np.broadcast_to(10 - standing, made.shape), (1 - made) * (10 - left)]
        self._table = np.stack([part @ mix.T for part in parts])  # (3, bowlers, boards)

    def at(self, bowler: np.ndarray, entry: np.ndarray) -> np.ndarray:
        """(3, ...) for ``bowler`` broadcast against ``entry``."""
        place = np.clip(np.rint(entry * self._STEP), 0, self._table.shape[2] - 1).astype(int)
        return self._table[:, np.broadcast_to(bowler, place.shape), place]


def mean_score(strike: np.ndarray, missed: np.ndarray) -> np.ndarray:
    """Mean score of a game of like frames; ``missed`` (3, ...) sums of ``Misses`` over shots that do not strike.

    Ten times the mean frame: the fill balls of the tenth are the bonus of any other frame.
    """
    spare, first, open_ = missed
    one = 10 * strike + first
    two = strike * (10 + one) + 10 * spare + open_
    return 10 * (strike * (10 + two) + spare * (10 + one) + open_)
