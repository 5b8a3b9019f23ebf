"""A world of paths: a ball is rolled over oil that lies by board and foot, and the strike follows from how it arrives.

The motion is that of any rigid ball that slides and turns (textbook mechanics, from memory): at the contact point
friction works against the slip, which keeps its direction and shrinks until the ball rolls. So along its path a ball
gains, against the slip, the friction met so far times gravity, and at most what the slip at the start, the ball's
moment of inertia and its radius allow; then it goes straight. Friction falls from that of the dry lane to that of the
oiled one with the oil under the ball. Every ball takes oil off where it ran, the duller its surface the more, and lays
a little of it down further on, past the end of the pattern too (carry-down). So lanes hook earlier as they are bowled
on, on the boards that are played, by whoever plays them: a left-hander's balls wear the same oil, seen from the other
side. Nights differ by volume, by the friction of the lane and by its tilt, none of which is logged.

Friction coefficients, speeds and rates of turn are of the usual order (from memory); the shape of patterns, what a ball
takes off and the strengths of balls are invented.
"""

from __future__ import annotations

import numpy as np

from tests.recovery.worlds.club import CLASSES, GRITS, Club, make_club
from tests.recovery.worlds.mechanism import ANGLE_BEST, POCKET, Shot, place_logit
from tests.recovery.worlds.season import WorldSeason, play_season

CELL_FT, CELLS, LANE_BOARDS = 3.0, 20, 39
BOARD_FT = 41.5 / 12 / LANE_BOARDS
ARROWS_FT = 15.0
SPEED = 26.5  # feet per second, at the laydown
_GRAVITY = 32.2
_RADIUS_FT, _INERTIA = 4.25 / 12, 0.346  # of mass times radius squared, at a radius of gyration of 2.5 inches
_DRY, _OILED = 0.20, 0.025  # coefficients of friction
_THIN = 0.02  # ml on a cell by which the friction is down to a third of its range
_TURNS, _SIDE = 32.0, np.deg2rad(50.0)  # radians per second, and how far to the side the ball turns
_OUTWARD, _MORE_OUTWARD = 5.5, 0.45  # boards from laydown to arrows at board 12, and for every board further in
_LAST_BOARD = 36.0  # from which a ball can be laid down
_TAKEN, _LAID = 0.02, 0.015  # of the oil on a cell by one ball, on one of two lanes; of what it holds, on every cell
_STRENGTH = np.array([0.0, 0.3, 0.45, 0.55, 0.7, 0.6, 0.85])  # by class of ball, before its own departure
_FRICTION, _TILT = 0, 1  # rows of the last column of a state


class OilPaths:
    """The lane; a state (lanes, 39 boards, 21): oil on cells of three feet in ml, friction and tilt."""

    per_board = 0.8

    def __init__(self, club: Club, rng: np.random.Generator) -> None:
        self.club = club
        pairs = zip(club.balls["cover"], club.balls["core"], strict=True)
        kind = np.array([CLASSES.index(pair) for pair in pairs])
        self._strength = np.clip(_STRENGTH[kind] + rng.normal(0, 0.07, len(kind)), 0.0, 1.0)
        self._ball = rng.normal(0, 0.08, len(kind))
        self._dull = 1.0 + 0.3 * (np.log2(GRITS[2] / np.clip(club.grit, GRITS[0], GRITS[-1])))

    def strength(self, ball: np.ndarray) -> np.ndarray:
        """Friction of a fresh ball, 0 to 1."""
        return self._strength[ball]

    def nights(self, rng: np.random.Generator, pattern: int, replicas: int, pairs: int) -> np.ndarray:
        """Oil as posted but for its volume; friction and tilt of the house and a little of each pair's own."""
        state = np.tile(self.usual(pattern)[0], (replicas, pairs, 2, 1, 1))
        shape = (replicas, pairs, 1)
        state[..., :CELLS] *= rng.normal(1, 0.06, shape)[..., None, None]
        state[..., _FRICTION, CELLS] = rng.normal(0, 0.06, (replicas, 1, 1)) + rng.normal(0, 0.02, shape)
        state[..., _TILT, CELLS] = rng.normal(0, 0.03, shape) * np.array(
            [1.0, -1.0]
        )  # down to one side, up to the other
        return state

    def usual(self, pattern: int) -> np.ndarray:
        """The pattern as posted on a lane that is level and of mean friction."""
        club = self.club
        state = np.zeros((1, LANE_BOARDS, CELLS + 1), dtype=np.float32)
        state[0, :, :CELLS] = laid_out(club.length[pattern], club.volume[pattern], club.ratio[pattern])
        return state

    def path(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """Boards (k, 21) every three feet from foul line to pins, 0 in the gutter, and entry angle in degrees."""
        club, lane = self.club, np.arange(len(shot.arrow))
        turn = _TURNS * _RADIUS_FT * (1 + 0.12 * np.clip(club.revs[shot.bowler], -2.5, 2.5))
        slip_ahead, slip_aside = SPEED - turn * np.cos(_SIDE), turn * np.sin(_SIDE)
        slip = np.hypot(slip_ahead, slip_aside)
        most = slip * _INERTIA / (1 + _INERTIA)  # feet per second against the slip once it rolls
        cover = 0.7 + 0.5 * np.maximum(self._strength[shot.ball] - 0.002 * shot.wear, 0.0)
        grip = cover * np.exp(state[:, _FRICTION, CELLS]) * _GRAVITY
        outward = _OUTWARD + _MORE_OUTWARD * (shot.arrow - 12)
        board = shot.arrow + outward
        aside = -outward * BOARD_FT / ARROWS_FT * SPEED
        gained, tilted = np.zeros_like(board), np.zeros_like(board)
        boards, out = [board], board > _LAST_BOARD  # no room on the approach beyond: such a ball is lost
        sideways = aside
        for cell in range(CELLS):
            seconds = CELL_FT / (SPEED - gained * slip_ahead / slip)
            oil = _oil_under(state, lane, board, cell)
            friction = _OILED + (_DRY - _OILED) * np.exp(-oil / _THIN)
            gained = np.minimum(gained + grip * friction * seconds, most)
            tilted = tilted + state[:, _TILT, CELLS] * seconds
            sideways = aside + gained * slip_aside / slip + tilted
            board = board + sideways * seconds / BOARD_FT
            out |= board < 0.5
            boards.append(np.where(out, 0.0, board))
        ahead = SPEED - gained * slip_ahead / slip
        return np.stack(boards, axis=1), np.rad2deg(np.arctan2(sideways, ahead))

    def arrive(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """Where and how steeply the path ends."""
        boards, angle = self.path(state, shot)
        return boards[:, -1], angle

    def strike_logit(self, state: np.ndarray, shot: Shot, entry: np.ndarray, angle: np.ndarray) -> np.ndarray:
        """Place, the pocket being the wider the steeper a ball comes in, and angle."""
        base = 1.6 + self.club.skill[shot.bowler] + self._ball[shot.ball] - 0.004 * shot.wear
        wide = np.clip(0.7 + 0.3 * angle / ANGLE_BEST, 0.7, 1.1)
        return base - 0.08 * (angle - ANGLE_BEST) ** 2 + place_logit(POCKET + (entry - POCKET) / wide)

    def wear_lane(self, rng: np.random.Generator, states: np.ndarray, at: np.ndarray, shot: Shot) -> None:
        """Each ball takes oil off the boards it ran over and lays some of it down further on, seen from both sides."""
        boards, _ = self.path(states[at], shot)
        held = np.zeros(len(at))
        taking = _TAKEN * np.clip(self._dull[shot.ball], 0.4, 1.6)
        for cell in range(CELLS):
            run = (boards[:, cell] + boards[:, cell + 1]) / 2
            on_lane = boards[:, cell + 1] > 0
            near = np.clip(np.rint(run).astype(int) - 1, 0, LANE_BOARDS - 1)
            for beside, share in ((-1, 0.5), (0, 1.0), (1, 0.5)):
                there = np.clip(near + beside, 0, LANE_BOARDS - 1)
                taken = np.where(on_lane, share * taking * states[at, there, cell], 0.0)
                laid = np.where(on_lane, share / 2 * _LAID * held, 0.0)
                held = held + taken - laid
                np.add.at(states, (at, there, cell), laid - taken)  # type: ignore[arg-type]
                np.add.at(states, (at ^ 1, LANE_BOARDS - 1 - there, cell), laid - taken)  # type: ignore[arg-type]
        np.maximum(states[..., :CELLS], 0.0, out=states[..., :CELLS])


def laid_out(length_ft: float, volume_ml: float, ratio: float) -> np.ndarray:
    """Millilitres by board and cell: ``ratio`` times as much in the middle as outside, less and less to the end."""
    inside = np.arange(LANE_BOARDS) + 1.0
    inside = np.minimum(inside, LANE_BOARDS + 1 - inside)
    across = 1 / ratio + (1 - 1 / ratio) * np.clip((inside - 2) / 12, 0.0, 1.0)
    feet = np.arange(CELLS) * CELL_FT
    oiled = np.clip((length_ft - feet) / CELL_FT, 0.0, 1.0)
    along = oiled * (1 - 0.5 * np.minimum(feet / length_ft, 1.0))
    oil = across[:, None] * along
    result: np.ndarray = volume_ml * oil / oil.sum()
    return result


def _oil_under(state: np.ndarray, lane: np.ndarray, board: np.ndarray, cell: int) -> np.ndarray:
    """Oil (k,) on a cell at these boards, in between of two boards."""
    place = np.clip(board - 1, 0, LANE_BOARDS - 1.001)
    low = place.astype(int)
    part = place - low
    result: np.ndarray = (1 - part) * state[lane, low, cell] + part * state[lane, low + 1, cell]
    return result


def oil_paths(seed: int) -> WorldSeason:
    """One season; laydown boards are logged as the ball is thrown here."""
    rng = np.random.default_rng([seed, 107])
    club = make_club(rng)
    season = play_season(club, OilPaths(club, rng), rng)
    shots = season.shots
    usual = 0.2  # boards of laydown for one at the arrows that a log of the other worlds has
    shots["laydown_board"] += (2 * (_MORE_OUTWARD - usual) * (shots["arrow_board"] - 12)).round().fillna(0.0) / 2
    return season
