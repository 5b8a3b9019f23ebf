"""How to play a cell: a ball, the board to start on, and whether to move with the lane or to stay.

Each ball compared is priced twice: with its line following the lane as this bowler moves it, and kept on each of its
lines all night. ``ball_by_phase.py`` chooses the ball.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pipeline.arrays import Draws
from pipeline.decisions.advice.ball_by_phase import Advised, shots_so
from pipeline.decisions.candidates import Candidates, ChoiceRow, priceable
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import Policy
from pipeline.decisions.wording.policy import policy_sentence
from pipeline.models.fits import Fits

_STEEP = 2.0  # posterior sds that the slope of the entry board lies below zero, from which a move by sight is advised


@dataclass(frozen=True)
class Playing:
    """A policy with its draws (n,) in pins per game, and its place among the candidates."""

    record: Policy
    at: int
    pins: Draws


def playing(fits: Fits, options: Candidates, answer: Advised) -> Playing:
    """The policy of a cell, from the ball and line advised there."""
    way = answer.way
    row = options.choices[way.at]
    start, a_game = (None, None) if way.keeps_line else _boards(fits, row)
    record = Policy(
        ball=row["ball"],
        ball_name=row["ball_name"],
        keeps_line=way.keeps_line,
        line=row["line"] if way.keeps_line else None,
        start_board=start,
        boards_a_game=a_game,
        boards_for_one_high=None if start is None else _for_one_high(fits),
        worth=estimate(way.pins),
        p_best=answer.p_best(),
        shots=shots_so(options, way),
        sentence="",
    )
    better = answer.ways[answer.best]
    instead = None if answer.best == answer.ball else str(options.choices[better.at]["ball_name"])
    more = float((better.pins - way.pins).mean())
    return Playing(record.model_copy(update={"sentence": policy_sentence(record, instead, more)}), way.at, way.pins)


def _boards(fits: Fits, row: ChoiceRow) -> tuple[float | None, float | None]:
    """Board at the arrows where the ball is usually played in the cell's first game, and boards inward per game."""
    if not fits.worth.lines_logged:
        return None, None
    game = float(row["game"])
    grid = priceable(pd.DataFrame([row, row])).assign(game=[game, game + 1])
    start, later = fits.worth.usual_boards(grid)
    return float(start), float(later - start)


def _for_one_high(fits: Fits) -> float | None:
    """Boards inward at the arrows that take back one board high at the pins; None if the log does not show it."""
    slope = fits.worth.slope
    return -1 / slope.mean if slope.mean < -_STEEP * slope.sd else None
