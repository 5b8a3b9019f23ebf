"""The rows to price: a grid completed with ball class and phase, and the rows its leaves depend on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.inference.mixed_logit.codings import named_codes
from pipeline.models.fits import Fits
from pipeline.models.spares.leave import ball_group
from pipeline.sport.lane import phase_of

_LEAVE_KEYS = ["bowler", "ball_class", "pattern_class", "phase"]


def complete_grid(fits: Fits, grid: pd.DataFrame) -> pd.DataFrame:
    """The grid (bowler, game, ball and others) with ball_class and phase filled in where they are missing."""
    grid = grid.assign(bowler=grid["bowler"].astype(str))
    games = grid["game"].tolist()
    classes = [fits.worth.ball_classes.get(ball) for ball in grid["ball"].tolist()]
    phase = {game: phase_of(int(game), fits.settings.phases) for game in set(games)}
    phases = [phase[game] for game in games]
    return grid.assign(ball_class=_or_usual(grid, "ball_class", classes), phase=_or_usual(grid, "phase", phases))


def _or_usual(grid: pd.DataFrame, column: str, usual: Sequence[str | None]) -> pd.Series:
    """The texts of a column, or the usual ones if it is missing."""
    given = grid[column].tolist() if column in grid else [None] * len(grid)
    return pd.Series(
        [other if pd.isna(value) else value for value, other in zip(given, usual, strict=True)], dtype=object
    )


def leave_rows(grid: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """The few distinct rows of a complete grid that leave and spare depend on, and each row's place among them."""
    keys = grid[_LEAVE_KEYS].assign(ball_class=[ball_group(kind) for kind in grid["ball_class"]])
    codes, _ = named_codes(keys, _LEAVE_KEYS)
    return keys.iloc[np.unique(codes, return_index=True)[1]].reset_index(drop=True), codes
