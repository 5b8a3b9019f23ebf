"""What follows from what is written down: of a ball seen to go over a line, or to come in on a board, on any lane.

Sums are over every lane on which its owner throws a ball in a world and over every error of execution and of whoever
watches, so they are true means given what a log holds, whatever a bowler answers to that nobody logs.
"""

from __future__ import annotations

import numpy as np
from scipy.stats import norm

from pipeline.sport.lane import LINES, line_name
from tests.recovery.worlds.logs import ARROW_ERROR, ENTRY_ERROR
from tests.recovery.worlds.mechanism import Shot

GAMES = 4
_STEP = 8  # places per board
_BOARDS = np.arange(0, 40 * _STEP + 1) / _STEP
_PRIOR = 2.0  # shots over any line (in any game, on any pattern) that go with those over one: few, as rare ones differ
_MISREAD = ARROW_ERROR * np.array([-np.sqrt(3), 0.0, np.sqrt(3)])  # three nodes of a normal error
_LIKELY = np.array([1, 4, 1]) / 6
_LINE_OF = np.array([LINES.index(line_name(max(board, 1))) for board in range(40)])


class Seen:
    """Sums over shots by line seen (balls, patterns, games, lines), and by true entry board (..., places) as well.

    ``_by_board`` holds shots and strikes; ``_by_line`` shots, strikes, and the sums of ``Misses``.
    """

    def __init__(self, balls: int, patterns: int) -> None:
        self._by_board = np.zeros((2, balls, patterns, GAMES, len(LINES), len(_BOARDS)))
        self._by_line = np.zeros((5, balls, patterns, GAMES, len(LINES)))

    def add(self, shot: Shot, game: int, entry: np.ndarray, sums: np.ndarray) -> None:
        """Take shots (k,) thrown over a board in a game: entry boards (nodes, k), and ``sums`` (5, nodes, k)."""
        place = np.clip(np.rint(entry * _STEP), 0, len(_BOARDS) - 1).astype(int)
        for error, likely in zip(_MISREAD, _LIKELY, strict=True):
            board = np.clip(np.floor(shot.arrow + error + 0.5), 1, 39).astype(int)
            at = (shot.ball, shot.pattern, np.full(len(board), min(game, GAMES) - 1), _LINE_OF[board])
            for total, values in zip(self._by_line, sums.sum(axis=1), strict=True):
                np.add.at(total, at, likely * values)
            for total, values in zip(self._by_board, sums, strict=False):
                np.add.at(total, (*at, place), likely * values)

    def strike(self, ball: int, pattern: int, game: int, line: str, logged: np.ndarray) -> np.ndarray:
        """Chance (k,) of a strike of a ball seen on a line in a game, given the half boards that were written down.

        What was hardly seen goes as over any line in that game, that as in any game, and that as on any pattern.
        """
        low, high = (logged[:, None] + side - _BOARDS for side in (-0.25, 0.25))
        likely = norm.cdf(high / ENTRY_ERROR) - norm.cdf(low / ENTRY_ERROR)
        mine = np.einsum("kb,cpglb->cpglk", likely, self._by_board[:, ball])
        here = mine[:, pattern, min(game, GAMES) - 1]
        everywhere = mine.sum(axis=(1, 2, 3)) + 1e-9 * np.array([[2.0], [1.0]])  # a board never met has a chance
        on_pattern = _drawn(mine[:, pattern].sum(axis=(1, 2)), everywhere)
        in_game = _drawn(here.sum(axis=1), on_pattern)
        shots, strikes = _drawn(here[:, LINES.index(line)], in_game) if line in LINES else in_game
        return np.asarray(strikes / shots)

    def rates(self, ball: int, pattern: int, game: int, line: str) -> np.ndarray:
        """Strike, and spare, first and open pins given none, of a ball seen on a line; of any line where none was seen.

        What was hardly thrown goes with the ball in that game, and that with the ball on all patterns.
        """
        mine = self._by_line[:, ball]
        everywhere = mine.sum(axis=(1, 2, 3))
        here = mine[:, pattern, min(game, GAMES) - 1]
        in_game = _drawn(here.sum(axis=1), everywhere)
        on_line = _drawn(here[:, LINES.index(line)], in_game) if line in LINES else in_game
        _, strike, *missed = on_line / on_line[0]
        return np.array([strike, *(value / (1 - strike) for value in missed)])


def _drawn(sums: np.ndarray, toward: np.ndarray) -> np.ndarray:
    """Sums with a few shots more that go as those of ``toward`` did."""
    return np.asarray(sums + _PRIOR * toward / toward[0])
