"""How to play a cell: a ball, the board to start on, and whether to move with the lane or to stay.

Bowlers move. So each ball compared is priced twice: with its line following the lane as this bowler moves it, and kept
on each of its lines all night. Staying is advised only where it is likely better than the best ball that moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.decisions.advice.next_phase import WORTH_SAYING
from pipeline.decisions.candidates import Candidates, Record, priceable
from pipeline.decisions.estimates import estimate, probability_best
from pipeline.decisions.records import Policy
from pipeline.decisions.wording.policy import policy_sentence
from pipeline.models.fits import Fits

Draws = NDArray[np.float64]
_STEEP = 2.0  # posterior sds that the slope of the entry board lies below zero, from which a move by sight is advised


@dataclass(frozen=True)
class Playing:
    """A policy with its draws (n,) in pins per game, and its place among the candidates."""

    record: Policy
    at: int
    pins: Draws


def best_policy(fits: Fits, found: Candidates, ranked: list[int]) -> Playing | None:
    """The best way to play the cell that the candidates in these places belong to; None without any.

    A ball is compared where one of its lines is ranked.
    """
    if not ranked:
        return None
    by_ball = {found.records[at]["ball"]: at for at in reversed(ranked)}
    balls = list(by_ball.values())
    following, kept = found.following.pins[:, balls], found.priced.pins[:, ranked]
    moving, staying = int(following.mean(axis=0).argmax()), int(kept.mean(axis=0).argmax())
    stay = float((kept[:, staying] > following[:, moving]).mean()) >= WORTH_SAYING
    at = ranked[staying] if stay else balls[moving]
    pins = kept[:, staying] if stay else following[:, moving]
    row = found.records[at]
    if stay:
        others = np.column_stack([pins, *(following[:, k] for k, i in enumerate(balls) if i != at)])
        likely = float(probability_best(others)[0]) if others.shape[1] > 1 else None
        start, a_game = None, None
    else:
        likely = float(probability_best(following)[moving]) if len(balls) > 1 else None
        start, a_game = _boards(fits, row)
    record = Policy(
        ball=row["ball"],
        ball_name=row["ball_name"],
        keeps_line=stay,
        line=row["line"] if stay else None,
        start_board=start,
        boards_a_game=a_game,
        boards_for_one_high=None if stay or start is None else _for_one_high(fits),
        worth=estimate(pins),
        p_best=likely,
        sentence="",
    )
    return Playing(record.model_copy(update={"sentence": policy_sentence(record)}), at, pins)


def _boards(fits: Fits, row: Record) -> tuple[float | None, float | None]:
    """Where the ball is usually played in the cell's first games, and how far in it goes from game to game."""
    if not fits.worth.lines_logged:
        return None, None
    game = float(row["game"])
    grid = priceable(pd.DataFrame([row, row])).assign(game=[game, game + 1])
    start, later = fits.worth.usual_boards(grid)
    return float(start), float(later - start)


def _for_one_high(fits: Fits) -> float | None:
    """Boards inward at the arrows that take back one board high at the pins; None where the log does not tell."""
    slope = fits.worth.slope
    return -1 / slope.mean if slope.mean < -_STEEP * slope.sd else None
