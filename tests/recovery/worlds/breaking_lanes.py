"""A world of lanes that break: alike for some games, then another lane within a few frames, and nobody knows when.

There are no paths and there is no smooth drift. A pair plays where the sheet and its own surface put it, some boards
off on each night, until enough oil is gone. Within two dozen deliveries the place to play then moves inward by some
five boards and the lane wants another ball. A ball has two characters, how soon it reads the lane and how sharply it
turns; cover, core, RG and grit tell them in part. Fresh oil wants a ball that reads as soon as the pattern asks, broken
oil one that reads late and turns. A ball that nearly fits loses nothing and one that does not fit loses much, and so
does a shot that misses the pocket's width: cliffs, where smooth curves would be easy. Revolutions make every ball read
sooner, and some bowlers tire as the block goes on (common practice). The sizes are invented.
"""

from __future__ import annotations

import numpy as np

from tests.recovery.worlds.club import PAIRS, Club, make_club
from tests.recovery.worlds.mechanism import POCKET, Shot
from tests.recovery.worlds.season import WorldSeason, play_season

_SHIFT, _HOLDS, _JUMP, _LOAD, _WANTED = range(5)  # columns of a state
_PAIR_SD, _NIGHT_SD = 1.3, 1.2  # boards: a pair's own for the season, and a night's
_HOLDS_MEAN, _HOLDS_SD = 75.0, 30.0  # first balls on a side until the lane breaks
_BREAKS_IN = 6.0  # first balls; nine tenths of a change come within four times as many
_JUMP_MEAN, _JUMP_SD = 5.0, 1.8  # boards
_SLOW = 0.012  # boards per first ball, before and after
_READ = {"polyester": 0.05, "urethane": 0.75, "pearl": 0.40, "hybrid": 0.52, "solid": 0.65}
_TURN = {"polyester": 0.10, "urethane": 0.15, "pearl": 0.70, "hybrid": 0.55, "solid": 0.45}
_PATTERN_SD, _WANTED_SD = 0.07, 0.05  # how soon to read, by pattern and by night
_LATER, _TURN_WANTED = 0.22, 0.75  # on broken oil: how much later to read, and how sharply to turn
_FREE, _SLOPE = 0.08, 7.0  # misfit without a cost, and log odds per unit beyond
_WIDTH, _STEEP = 1.25, 3.2  # boards from the pocket's centre to its edge, and the steepness of the edge
_ENTRY_PER_BOARD, _ENTRY_PER_READ = 0.34, 2.5


class BreakingLanes:
    """The lane; a state (lanes, 5): shift in boards, load it holds, jump in boards, load so far, how soon to read."""

    per_board = 0.34

    def __init__(self, club: Club, rng: np.random.Generator) -> None:
        self.club = club
        balls = club.balls
        count = len(balls)
        asymmetric = (balls["core"] == "asymmetric").to_numpy()
        sooner = 0.8 * (2.53 - balls["rg_in"].to_numpy()) - 0.03 * np.log2(club.grit / 1500.0)
        self._read = balls["cover"].map(_READ).to_numpy(dtype=float) + sooner + rng.normal(0, 0.07, count)
        self._turn = balls["cover"].map(_TURN).to_numpy(dtype=float) + 0.15 * asymmetric + rng.normal(0, 0.1, count)
        known = 0.5 + 0.016 * (club.length - 40) + 0.012 * (club.volume - 25)
        self._wanted = known + rng.normal(0, _PATTERN_SD, len(club.length))
        self._line = rng.normal(0, 1.2, len(club.length))
        self._surface = rng.normal(0, _PAIR_SD, PAIRS)
        self._tires = np.maximum(rng.normal(0.1, 0.2, len(club.bowlers)), 0.0)

    def strength(self, ball: np.ndarray) -> np.ndarray:
        """How soon a ball reads, which is what bowlers go by."""
        return np.clip(self._read[ball], 0.0, 1.0)

    def nights(self, rng: np.random.Generator, pattern: int, replicas: int, pairs: int) -> np.ndarray:
        """A pair's own surface and the night's shift; both sides of a pair break at loads of their own."""
        state = np.zeros((replicas, pairs, 2, 5))
        night = rng.normal(0, _NIGHT_SD, (replicas, pairs))
        state[..., _SHIFT] = (self._surface[:pairs] + night)[..., None]
        for column, mean, sd in ((_HOLDS, _HOLDS_MEAN, _HOLDS_SD), (_JUMP, _JUMP_MEAN, _JUMP_SD)):
            shape = (mean / sd) ** 2
            state[..., column] = rng.gamma(shape, mean / shape, (replicas, pairs, 2))
        state[..., _WANTED] = self._wanted[pattern] + rng.normal(0, _WANTED_SD, (replicas, pairs))[..., None]
        return state

    def usual(self, pattern: int) -> np.ndarray:
        """No shift, the mean load, jump and wish."""
        return np.array([[0.0, _HOLDS_MEAN, _JUMP_MEAN, 0.0, self._wanted[pattern]]])

    def _broken(self, state: np.ndarray) -> np.ndarray:
        """Share of the change that has come, 0 to 1."""
        past = (state[:, _LOAD] - state[:, _HOLDS]) / _BREAKS_IN
        return np.asarray(1 / (1 + np.exp(-np.clip(past, -40, 40))))

    def _apart(self, state: np.ndarray, shot: Shot) -> np.ndarray:
        """How much sooner than wanted the ball reads."""
        read = self._read[shot.ball] - 0.0015 * shot.wear + 0.04 * self.club.revs[shot.bowler]
        return np.asarray(read - state[:, _WANTED] + _LATER * self._broken(state))

    def arrive(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """High outside of the place to play or with a ball that reads too soon."""
        club = self.club
        board = 12 + 0.75 * (club.length[shot.pattern] - 40) + self._line[shot.pattern] + club.revs[shot.bowler]
        board = board + state[:, _SHIFT] + _SLOW * state[:, _LOAD] + state[:, _JUMP] * self._broken(state)
        entry = POCKET + _ENTRY_PER_BOARD * (board - shot.arrow) + _ENTRY_PER_READ * self._apart(state, shot)
        angle = 4.4 + 2.2 * self._turn[shot.ball] + 0.3 * club.revs[shot.bowler] + 0.05 * (shot.arrow - 12)
        return entry, angle

    def strike_logit(self, state: np.ndarray, shot: Shot, entry: np.ndarray, angle: np.ndarray) -> np.ndarray:
        """A flat pocket with steep edges, a lower one on the far side, and cliffs of the fit."""
        broken = self._broken(state)
        short = broken * np.maximum(_TURN_WANTED - self._turn[shot.ball], 0.0)
        misfit = np.hypot(self._apart(state, shot), 0.6 * short)
        lost = _SLOPE * np.maximum(misfit - _FREE, 0.0)
        off = np.abs(entry - POCKET)
        place = -3.3 / (1 + np.exp(-_STEEP * (off - _WIDTH))) + 1.2 * (np.abs(entry - POCKET - 5) < 0.8)
        tired = self._tires[shot.bowler] * state[:, _LOAD] / 100.0
        return np.asarray(1.25 + self.club.skill[shot.bowler] - 0.004 * shot.wear - tired - lost + place)

    def wear_lane(self, rng: np.random.Generator, states: np.ndarray, at: np.ndarray, shot: Shot) -> None:
        """Strong balls take more oil; the other side's traffic a third as much, for it is the same pattern."""
        taken = 0.7 + 0.6 * self._read[shot.ball]
        np.add.at(states[:, _LOAD], at, taken)
        np.add.at(states[:, _LOAD], at ^ 1, taken / 3)  # the two sides of a pair are neighbours


def breaking_lanes(seed: int) -> WorldSeason:
    """One season of a club on lanes that break."""
    rng = np.random.default_rng([seed, 109])
    club = make_club(rng)
    return play_season(club, BreakingLanes(club, rng), rng)
