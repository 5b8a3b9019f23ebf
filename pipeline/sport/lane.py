"""The lane: its measures, boards, arrows, the pocket, and how a block of games is cut.

Boards are counted from the bowler's own side, board 1 at the gutter, so one rule serves both hands.
"""

from __future__ import annotations

import math

import pandas as pd

from pipeline.settings import BlockPhases, PocketLimits

# Int. J. Sports Sci. & Coaching, doi 10.1177/17479541241306543, introduction.
BOARDS = 39

# Arrows stand on boards 5, 10, 15, 20, 25 from the bowler's side: common practice.
ARROW_BOARDS: dict[str, int] = {
    "first arrow": 5,
    "second arrow": 10,
    "third arrow": 15,
    "fourth arrow": 20,
    "fifth arrow": 25,
}
BOARDS_PER_ARROW = 5.0
LINES: tuple[str, ...] = ("outside first arrow", *ARROW_BOARDS, "inside fifth arrow")
NO_LINE = "line not logged"
"""Stands for the line of a delivery without an arrow board."""


def entry_zone(board: float, limits: PocketLimits) -> str:
    """Where a ball met the pins, by its entry board from the bowler's side.

    Short (too far outside to be called light), light, pocket, high (toward the head pin's middle), or brooklyn
    (crossed to the other side). Limits are inclusive on the pocket's side of each border.

    Raises:
        ValueError: ``board`` is not a finite number.
    """
    if not math.isfinite(board):
        raise ValueError(f"entry board {board} is not a number")
    low = limits.centre_board - limits.half_width
    high = limits.centre_board + limits.half_width
    if board >= limits.brooklyn_from:
        return "brooklyn"
    if board > high:
        return "high"
    if board >= low:
        return "pocket"
    return "light" if board >= low - limits.light_width else "short"


def line_name(arrow_board: float) -> str:
    """The line by the arrow nearest to the board crossed at the arrows; half-way boards go to the inner arrow.

    Raises:
        ValueError: ``arrow_board`` is not a finite number.
    """
    if not math.isfinite(arrow_board):
        raise ValueError(f"arrow board {arrow_board} is not a number")
    if arrow_board < 2.5:
        return "outside first arrow"
    if arrow_board > 27.5:
        return "inside fifth arrow"
    return min(ARROW_BOARDS, key=lambda name: (abs(arrow_board - ARROW_BOARDS[name]), -ARROW_BOARDS[name]))


def phase_of(game: int, limits: BlockPhases) -> str:
    """Phase of a block's game (1, 2, ...): fresh, transition or late.

    Raises:
        ValueError: ``game`` is less than 1.
    """
    if game < 1:
        raise ValueError(f"game {game}: games of a block are counted from 1")
    if game <= limits.fresh_to_game:
        return "fresh"
    return "transition" if game <= limits.transition_to_game else "late"


def first_game(phase: str, limits: BlockPhases) -> int:
    """First game of a phase."""
    return {"fresh": 1, "transition": limits.fresh_to_game + 1, "late": limits.transition_to_game + 1}[phase]


def last_game(phase: str, limits: BlockPhases) -> int | None:
    """Last game of a phase; None for the last phase."""
    return {"fresh": limits.fresh_to_game, "transition": limits.transition_to_game}.get(phase)


def line_table() -> pd.DataFrame:
    """Line of every whole arrow board: columns board (0..40) and line."""
    boards = list(range(BOARDS + 2))
    return pd.DataFrame({"board": boards, "line": [line_name(board) for board in boards]})


def entry_zone_table(limits: PocketLimits) -> pd.DataFrame:
    """Zone of every half entry board: columns half_board (0, 0.5, ... 40) and zone."""
    halves = [half / 2 for half in range(2 * (BOARDS + 1) + 1)]
    return pd.DataFrame({"half_board": halves, "zone": [entry_zone(board, limits) for board in halves]})


def phase_table(limits: BlockPhases, to_game: int = 60) -> pd.DataFrame:
    """Phase of every game of a block: columns game (1..to_game) and phase."""
    games = list(range(1, to_game + 1))
    return pd.DataFrame({"game": games, "phase": [phase_of(game, limits) for game in games]})
