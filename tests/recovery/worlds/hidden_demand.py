"""A world of hidden demand: where to play and how much grip the lane wants are drawn for each pair and night, unlogged.

There are no paths. Each pair has an ideal line of its own on a night, some 2 boards from where the sheet puts it, that
drifts about 6 boards inward over a block as everybody's deliveries take the oil; a shot off it arrives high or light by
the boards it is off and by how far its grip is from what the lane wants. What a lane wants is the pattern's own, not
all of it in length and volume, a little different each night, and less as the oil goes. A ball grips by its cover, its
core and the grit of its surface as thrown, which polishes with every game until it is resurfaced: so a resurfacing and
a grit have a true effect, good or bad by what the lane wants. A pocket is wider for the ball that fits; too much grip
costs more than too little, for that ball is spent early (common practice). Bowlers gain or lose skill over the season.
The sizes are invented.
"""

from __future__ import annotations

from copy import copy

import numpy as np

from tests.recovery.worlds.club import GRITS, Club, make_club
from tests.recovery.worlds.mechanism import POCKET, Shot
from tests.recovery.worlds.season import Upkeep, WorldSeason, play_season

_SHIFT, _DRIFT, _LOAD, _DEMAND, _FALL, _SEASON = range(6)  # columns of a state
_HOUSE_SD, _PAIR_SD = 1.4, 1.4  # boards; together 2
_DRIFT_MEAN, _DRIFT_SD = 6.0, 2.0  # boards over a block
_BLOCK_LOAD = 100.0  # first balls on a side of a pair in a block
_OTHER_SIDE = 0.25  # share of the other side's traffic that wears this side's oil
_FALL_MEAN, _FALL_SD = 0.15, 0.08  # grip no longer wanted at the end of a block
_PATTERN_SD, _NIGHT_SD, _OWN_SD = 0.10, 0.06, 0.08  # grip
_COVER = {"polyester": 0.05, "urethane": 0.35, "pearl": 0.45, "hybrid": 0.55, "solid": 0.65}
_ASYMMETRIC = 0.06
_PER_DOUBLING = -0.06  # grip per doubling of grit
_USUAL_GRIT, _POLISHED, _POLISHING = np.log2(1500.0), np.log2(4500.0), 30.0  # doublings, doublings, games
_LEARN_SD = 0.25  # logits over a season, by bowler, about a mean of 0.2
_TOO_MUCH, _TOO_LITTLE = 9.0, 5.0  # logits per squared grip
_ENTRY_PER_BOARD, _ENTRY_PER_GRIP = 0.3, 3.0


class HiddenDemand:
    """The lane; a state (lanes, 6): shift and drift in boards, load, grip wanted and its fall, share of the season."""

    per_board = 0.3

    def __init__(self, club: Club, rng: np.random.Generator) -> None:
        self.club = club
        cover = club.balls["cover"].map(_COVER).to_numpy(dtype=float)
        cover = cover + _ASYMMETRIC * (club.balls["core"] == "asymmetric").to_numpy()
        self.own = rng.normal(0, _OWN_SD, len(cover))  # grip that neither cover, core nor grit tells
        self._cover = cover
        self._carry = rng.normal(0, 0.08, len(cover))
        known = 0.5 + 0.015 * (club.length - 40) + 0.015 * (club.volume - 25)
        self._demand = known + rng.normal(0, _PATTERN_SD, len(club.length))
        self._pattern_line = rng.normal(0, 1.5, len(club.length))
        self._learn = rng.normal(0.2, _LEARN_SD, len(club.bowlers))
        self._met = 0

    def grip(self, ball: np.ndarray, grit: np.ndarray, wear: np.ndarray) -> np.ndarray:
        """Grip of balls whose surface was set to ``grit``, ``wear`` games ago."""
        set_to = np.log2(grit)
        surface = set_to + np.maximum(_POLISHED - set_to, 0.0) * (1 - np.exp(-wear / _POLISHING))
        return self._cover[ball] + self.own[ball] + _PER_DOUBLING * (surface - _USUAL_GRIT)

    def strength(self, ball: np.ndarray) -> np.ndarray:
        """Grip as bowlers take it to be: that of the surface as it came, a little used."""
        return np.clip(self.grip(ball, self.club.grit[ball], np.full(ball.shape, 10.0)), 0.0, 1.0)

    def nights(self, rng: np.random.Generator, pattern: int, replicas: int, pairs: int) -> np.ndarray:
        """A shift for the house and one for each pair; sides of a pair share both."""
        state = np.zeros((replicas, pairs, 2, 6))
        house, own = rng.normal(0, _HOUSE_SD, (replicas, 1)), rng.normal(0, _PAIR_SD, (replicas, pairs))
        state[..., _SHIFT] = (house + own)[..., None]
        shape = (_DRIFT_MEAN / _DRIFT_SD) ** 2
        state[..., _DRIFT] = rng.gamma(shape, _DRIFT_MEAN / shape, (replicas, pairs))[..., None]
        state[..., _DEMAND] = self._demand[pattern] + rng.normal(0, _NIGHT_SD, (replicas, pairs))[..., None]
        state[..., _FALL] = rng.normal(_FALL_MEAN, _FALL_SD, (replicas, pairs))[..., None]
        state[..., _SEASON] = self._met / max(len(self.club.slots) - 1, 1)
        self._met += 1
        return state

    def usual(self, pattern: int) -> np.ndarray:
        """No shift, the mean drift and fall, in mid-season."""
        return np.array([[0.0, _DRIFT_MEAN, 0.0, self._demand[pattern], _FALL_MEAN, 0.5]])

    def _apart(self, state: np.ndarray, shot: Shot) -> np.ndarray:
        """Grip beyond what the lane wants."""
        grit = self.club.grit[shot.ball] if shot.grit is None else shot.grit
        worn = state[:, _LOAD] / _BLOCK_LOAD
        return self.grip(shot.ball, grit, shot.wear) - (state[:, _DEMAND] - state[:, _FALL] * worn)

    def _ideal(self, state: np.ndarray, shot: Shot) -> np.ndarray:
        """Board at the arrows, where a ball that fits the lane comes in at the pocket's centre."""
        club = self.club
        board = 12 + 0.7 * (club.length[shot.pattern] - 40) + self._pattern_line[shot.pattern]
        moved = state[:, _DRIFT] * (state[:, _LOAD] / _BLOCK_LOAD) ** 0.8
        return np.asarray(board + 1.2 * club.revs[shot.bowler] + state[:, _SHIFT] + moved)

    def arrive(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """High outside of the ideal line or with too much grip, light inside of it or with too little."""
        apart = self._apart(state, shot)
        off = self._ideal(state, shot) - shot.arrow
        entry = POCKET + _ENTRY_PER_BOARD * off + _ENTRY_PER_GRIP * apart
        angle = 5.2 + 1.5 * np.tanh(2 * apart) + 0.3 * self.club.revs[shot.bowler]
        return entry, angle

    def strike_logit(self, state: np.ndarray, shot: Shot, entry: np.ndarray, angle: np.ndarray) -> np.ndarray:
        """A pocket whose width is the fit's, a lower hill on the far side, and the fit itself."""
        apart = self._apart(state, shot)
        misfit = np.where(apart > 0, _TOO_MUCH, _TOO_LITTLE) * apart**2
        width = 0.8 + 0.5 * np.exp(-misfit)
        off = entry - POCKET
        place = -3.2 * (1 - np.exp(-0.5 * (off / width) ** 2 / 1.6)) + 1.3 * np.exp(-((off - 5) ** 2) / 2)
        skill = self.club.skill[shot.bowler] + self._learn[shot.bowler] * (state[:, _SEASON] - 0.5)
        return np.asarray(0.9 + skill + self._carry[shot.ball] - misfit + place)

    def wear_lane(self, rng: np.random.Generator, states: np.ndarray, at: np.ndarray, shot: Shot) -> None:
        """A delivery takes oil on its own side and a little on the other; the line wanders besides."""
        np.add.at(states[:, _LOAD], at, 1.0)
        np.add.at(states[:, _LOAD], at ^ 1, _OTHER_SIDE)  # the two sides of a pair are neighbours
        np.add.at(states[:, _SHIFT], at, rng.normal(0, 0.05, len(at)))


def as_bought(lane: HiddenDemand) -> HiddenDemand:
    """The same lane with every ball as the mean of its cover and core."""
    plain = copy(lane)
    plain.own, plain._carry = np.zeros_like(lane.own), np.zeros_like(lane.own)
    return plain


def hidden_demand(seed: int) -> WorldSeason:
    """One season of a club that sets its surfaces often, to the ball's own grit or one beside it."""
    rng = np.random.default_rng([seed, 107])
    club = make_club(rng)
    return play_season(club, HiddenDemand(club, rng), rng, upkeep=Upkeep((12.0, 30.0), GRITS))
