"""What bowlers do about what they see: where they start, when they move, copy and change, and what they learn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.recovery.worlds.club import Club, Slot
from tests.recovery.worlds.mechanism import POCKET, Mechanism, Shot

if TYPE_CHECKING:
    from tests.recovery.worlds.season import Night

BOARDS = np.arange(3.0, 33.0, 0.5)
START_SD, BELIEF_SD = 0.8, 1.5  # boards: scatter of a night's start, and what a bowler has wrong beforehand
OFF_ENOUGH, MOVE_AFTER = 0.8, 3  # boards off on average, and shots, before a move
_LEARN = 0.3
_COPY = 0.1  # chance in a frame of copying, given a mate with two strikes more of the last five


def moves(off: np.ndarray, since: np.ndarray, follow: np.ndarray, per_board: float) -> np.ndarray:
    """Boards each bowler moves inward for the last three boards off (..., 3) and shots since a move.

    ``per_board``: entry boards that they take a board at the arrows to move the ball by.
    """
    seen = off.mean(axis=-1)
    boards = np.clip(np.round(follow * seen / per_board), -4, 4)
    result: np.ndarray = np.where((np.abs(seen) > OFF_ENOUGH) & (since >= MOVE_AFTER), boards, 0.0)
    return result


def best_boards(club: Club, lane: Mechanism) -> np.ndarray:
    """(balls, patterns): where each ball in its owner's hands comes in nearest the pocket on the average fresh lane."""
    balls, result = np.arange(len(club.owner)), np.zeros((len(club.owner), len(club.length)))
    ball, arrow = np.repeat(balls, len(BOARDS)), np.tile(BOARDS, len(balls))
    for pattern in range(len(club.length)):
        usual = lane.usual(pattern)
        state = np.broadcast_to(usual, (len(ball), *usual.shape[1:]))
        shot = Shot(np.full(len(ball), pattern), club.owner[ball], ball, np.full(len(ball), 10.0), arrow)
        off = np.abs(lane.arrive(state, shot)[0] - POCKET).reshape(len(balls), -1)
        near = np.exp(-off)  # several boards may reach the pocket: their middle is played
        near = np.where(off <= off.min(axis=1, keepdims=True) + 0.4, near, 0.0)
        result[:, pattern] = near @ BOARDS / near.sum(axis=1)
    return result


class Habits:
    """Beliefs and choices of every bowler in every replica."""

    def __init__(self, club: Club, lane: Mechanism, rng: np.random.Generator, replicas: int) -> None:
        self.club, self.lane, self.rng = club, lane, rng
        wrong = rng.normal(0, BELIEF_SD, (len(club.bowlers), len(club.length)))[club.owner]
        self.board = np.tile(best_boards(club, lane) + wrong, (replicas, 1, 1))
        taste = rng.normal(0, 0.5, (len(club.owner), 3))
        self.taste = np.tile(taste, (replicas, 1, 1))  # (replicas, balls, pattern classes)

    def start(self, slot: Slot, wear: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Ball and board of everybody's first shot, (replicas, bowlers)."""
        club, replicas = self.club, len(self.board)
        wanted = 0.55 + 0.02 * (club.length[slot.pattern] - 40) + 0.02 * (club.volume[slot.pattern] - 25)
        ball = np.zeros((replicas, len(slot.bowlers)), dtype=int)
        for place, bowler in enumerate(slot.bowlers):
            ball[:, place] = self._pick(slot, bowler, np.arange(replicas), np.full(replicas, wanted), None)
        board = self.board[np.arange(replicas)[:, None], ball, slot.pattern]
        return ball, np.clip(np.round(board + self.rng.normal(0, START_SD, board.shape)), 2, 33)

    def _pick(
        self, slot: Slot, bowler: int, replica: np.ndarray, wanted: np.ndarray, not_this: np.ndarray | None
    ) -> np.ndarray:
        bag = self.club.bags[bowler]
        fit = -4 * np.abs(self.lane.strength(bag)[None, :] - wanted[:, None])
        fit = fit + self.taste[replica][:, bag, self.club.pattern_class[slot.pattern]]
        fit += self.rng.gumbel(0, 0.4, fit.shape)
        if not_this is not None:
            fit[bag[None, :] == not_this[:, None]] = -np.inf
        return bag[np.argmax(fit, axis=1)]

    def react(self, night: Night, wear: np.ndarray) -> None:
        """After a frame: change balls, copy a mate, or move."""
        self._change(night)
        self._copy(night)
        follow = self.club.follow[night.slot.bowlers][None, :]
        step = moves(night.off, night.since_move, follow, self.lane.per_board)
        self._move(night, step, step != 0)

    def _move(self, night: Night, step: np.ndarray, who: np.ndarray) -> None:
        night.arrow = np.where(who, np.clip(night.arrow + step, 2, 33), night.arrow)
        night.since_move[who] = 0

    def _change(self, night: Night) -> None:
        tired = (night.carried.sum(axis=2) <= 1) & (night.since_change >= 5)
        change = tired & (self.rng.random(tired.shape) < 0.5)
        off = night.off.mean(axis=2)
        pattern = night.slot.pattern
        for place in np.flatnonzero(change.any(axis=0)):
            replica = np.flatnonzero(change[:, place])
            before = night.ball[replica, place]
            step = np.where(off[replica, place] > 0.4, -0.15, np.where(off[replica, place] < -0.4, 0.15, 0.0))
            wanted = self.lane.strength(before) + step
            after = self._pick(night.slot, int(night.slot.bowlers[place]), replica, wanted, before)
            shift = self.board[replica, after, pattern] - self.board[replica, before, pattern]
            moved = np.round(night.arrow[replica, place] + 0.8 * shift + self.rng.normal(0, 1.0, len(replica)))
            night.ball[replica, place], night.arrow[replica, place] = after, np.clip(moved, 2, 33)
            night.off[replica, place] = 0
        night.since_change[change] = 0
        night.since_move[change] = 0

    def _copy(self, night: Night) -> None:
        """Play as far from one's usual board as a mate on the same pair who strikes more."""
        usual = np.take_along_axis(self.board[:, :, night.slot.pattern], night.ball, axis=1)
        apart, struck = night.arrow - usual, night.carried.sum(axis=2)
        side = self.club.side[night.slot.bowlers]
        near = (night.pair[:, :, None] == night.pair[:, None, :]) & (side[:, None] == side[None, :])
        rival = np.where(near, struck[:, None, :], -1.0)
        best = rival.argmax(axis=2)
        ahead = np.take_along_axis(struck, best, axis=1) >= struck + 2
        copy = ahead & (night.since_move >= 4) & (self.rng.random(ahead.shape) < _COPY)
        step = np.round(0.5 * (np.take_along_axis(apart, best, axis=1) - apart))
        self._move(night, np.clip(step, -4, 4), copy)

    def after_game(self, night: Night, game: int) -> None:
        """Learn where the ball was to be played (in the first game), and a taste for what struck."""
        replica = np.arange(len(night.ball))[:, None]
        pattern, kind = night.slot.pattern, self.club.pattern_class[night.slot.pattern]
        if game == 1:
            old = self.board[replica, night.ball, pattern]
            self.board[replica, night.ball, pattern] = old + _LEARN * (night.arrow - old)
        gain = night.carried.mean(axis=2) - 0.5
        taste = self.taste[replica, night.ball, kind]
        self.taste[replica, night.ball, kind] = 0.95 * taste + 0.15 * gain
