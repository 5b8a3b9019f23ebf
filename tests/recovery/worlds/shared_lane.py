"""A world of hidden lane state: the ideal line differs from night to night, drifts with traffic, and nobody logs it.

Why so: the same sheet is never the same lane. Humidity, the age of the surface and of the machine shift where a ball
must be played, alike for everybody on a pair; every ball then takes oil off, and the place to play moves inward, by
some
six boards over four games. Lanes also ask for more or less grip than the sheet says. There are no paths here: a ball
enters higher by a third of a board for each board it is played outside... inside of its ideal line it comes in light.
Strength ``nights`` is the sd of the night's shift in boards: 1 (``shared_lane``) or 2.5 (``shared_lane_strong``).
"""

from __future__ import annotations

from copy import copy

import numpy as np

from tests.recovery.worlds.club import Club, make_club
from tests.recovery.worlds.mechanism import ANGLE_BEST, POCKET, Shot, place_logit
from tests.recovery.worlds.season import WorldSeason, play_season

_SHIFT, _DRIFT, _LOAD, _DEMAND = range(4)  # columns of a state
_STRENGTH = np.array([0.0, 0.3, 0.45, 0.55, 0.7, 0.6, 0.85])  # by class of ball, before its own departure
_ENTRY_PER_BOARD = 0.32
_HALF_LOAD = 90.0  # deliveries on a side by which a good half of the drift has come


class SharedLane:
    """The lane; state (lanes, 4): shift in boards, drift in boards in the long run, load, demand for grip."""

    per_board = 0.3

    def __init__(self, club: Club, rng: np.random.Generator, nights: float) -> None:
        self.club, self.sd = club, nights
        kind = _kinds(club)
        self._strength = np.clip(_STRENGTH[kind] + rng.normal(0, 0.07, len(kind)), 0.0, 1.0)
        self._ball = rng.normal(0, 0.12, len(kind))

    def strength(self, ball: np.ndarray) -> np.ndarray:
        """Hook of a fresh ball, 0 to 1."""
        return self._strength[ball]

    def nights(self, rng: np.random.Generator, pattern: int, replicas: int, pairs: int) -> np.ndarray:
        """One shift for the house, a little of its own for each pair; sides of a pair share both."""
        state = np.zeros((replicas, pairs, 2, 4))
        house, own = rng.normal(0, self.sd, (replicas, 1)), rng.normal(0, 0.3 * self.sd, (replicas, pairs))
        state[..., _SHIFT] = (house + own)[..., None]
        state[..., _DRIFT] = rng.gamma(16, 8.5 / 16, (replicas, pairs))[..., None]
        night = rng.normal(0, 0.06 * self.sd, (replicas, 1, 1))
        state[..., _DEMAND] = self._demand(pattern) + night
        return state

    def usual(self, pattern: int) -> np.ndarray:
        """No shift, the mean drift and demand."""
        return np.array([[0.0, 8.5, 0.0, self._demand(pattern)]])

    def _demand(self, pattern: int) -> float:
        return 0.55 + 0.02 * (self.club.length[pattern] - 40) + 0.02 * (self.club.volume[pattern] - 25)

    def _ideal(self, state: np.ndarray, shot: Shot) -> np.ndarray:
        club = self.club
        strength = self._strength[shot.ball] - 0.002 * shot.wear
        board = 0.8 * (club.length[shot.pattern] - 28) - 0.2 * (club.volume[shot.pattern] - 25)
        moved = state[:, _DRIFT] * (1 - np.exp(-state[:, _LOAD] / _HALF_LOAD))
        return board + 7 * (strength - 0.5) + 1.5 * club.revs[shot.bowler] + state[:, _SHIFT] + moved

    def arrive(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """Light inside of the ideal line, high outside of it."""
        entry = POCKET - _ENTRY_PER_BOARD * (shot.arrow - self._ideal(state, shot))
        strength = self._strength[shot.ball]
        angle = 4.9 + 1.6 * (strength - 0.5) + 0.25 * self.club.revs[shot.bowler] + 0.06 * (shot.arrow - 12)
        return entry, angle

    def strike_logit(self, state: np.ndarray, shot: Shot, entry: np.ndarray, angle: np.ndarray) -> np.ndarray:
        """Place and angle, and how far the ball's grip is from what the lane asks for, which falls as oil goes."""
        wanted = state[:, _DEMAND] - 0.15 * (1 - np.exp(-state[:, _LOAD] / _HALF_LOAD))
        apart = self._strength[shot.ball] - 0.002 * shot.wear - wanted
        base = 0.95 + self.club.skill[shot.bowler] + self._ball[shot.ball] - 0.005 * shot.wear
        return base - 5.0 * apart**2 - 0.12 * (angle - ANGLE_BEST) ** 2 + place_logit(entry)

    def wear_lane(self, rng: np.random.Generator, states: np.ndarray, at: np.ndarray, shot: Shot) -> None:
        """A delivery counts on its own side; the shift wanders a little besides."""
        np.add.at(states[:, _LOAD], at, 1.0)
        np.add.at(states[:, _SHIFT], at, rng.normal(0, 0.06, len(at)))


def typical_balls(lane: SharedLane) -> SharedLane:
    """The same lane with every ball as the mean of its class."""
    plain = copy(lane)
    kind = _kinds(lane.club)
    plain._strength, plain._ball = _STRENGTH[kind], np.zeros(len(kind))
    return plain


def _kinds(club: Club) -> np.ndarray:
    from tests.recovery.worlds.club import CLASSES

    pairs = zip(club.balls["cover"], club.balls["core"], strict=True)
    return np.array([CLASSES.index(pair) for pair in pairs])


def shared_lane(seed: int, nights: float = 1.0) -> WorldSeason:
    """One season; ``nights`` in boards."""
    rng = np.random.default_rng([seed, 101])
    club = make_club(rng)
    return play_season(club, SharedLane(club, rng, nights), rng)


def shared_lane_strong(seed: int) -> WorldSeason:
    """The same with nights that differ by two to three boards."""
    return shared_lane(seed, 2.5)
