"""Counts the worth model learns from, with each ball's wear and each line's distance from what the lane asked for."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.models.lines.entry_slope import EntrySlope, entry_slope
from pipeline.models.strikes.stretches import with_stretches
from pipeline.sport.lane import BOARDS_PER_ARROW
from pipeline.store.season import LOAD_STEP, Season

_COARSE_LOAD_STEP = 60  # for a large log: exact loads would make half as many cells again, and load enters linearly
_LEAST_SLOPE = -0.1  # entry boards per board at the arrows; a flatter slope says nothing about the lane
_ENTRY_VARIANCE = 2.0  # boards squared of one entry board about its mean, if no cell has two


def worth_cells(season: Season) -> pd.DataFrame:
    """The season's counts without the entry board, one row per cell; see ``queries/cells/worth_cells``.

    ``worn``: tens of games on the ball's surface in that block, less the mean over all shots; 0 if unknown.
    For a season limited to some bowlers, both count their deliveries with their own balls only.
    """
    return cells_along(season, entry_slope(season))


def cells_along(season: Season, slope: EntrySlope) -> pd.DataFrame:
    """The same for a known ``slope`` of the entry board on the arrow board."""
    cells = season.frame("cells/worth_cells", load_step=_COARSE_LOAD_STEP if season.large() else LOAD_STEP)
    wear = season.frame("cells/ball_wear", usual=season.settings.costs.resurface_every_games)
    tens = cells[["ball", "block"]].merge(wear, how="left")["games_since_resurface"].astype(float) / 10
    mean, _ = mean_and_sd(tens, cells["shots"])
    cells = with_stretches(season, cells.assign(worn=(tens - mean).fillna(0.0)))
    return off_the_lane(cells, slope.mean)


def off_the_lane(cells: pd.DataFrame, slope: float) -> pd.DataFrame:
    """Cells with ``off_seen``: arrows off what the lane asked for, by their entry boards.

    Entry boards are measured from the bowler's own mean. ``off_variance`` is that of one shot. Both are missing if no
    entry board was logged, or if it hardly moves with the arrow board.

    Args:
        cells: those of ``cells/worth_cells``.
        slope: boards that the entry board moves with one at the arrows.
    """
    entries = cells["entries"].astype(float)
    logged = entries > 0
    if slope > _LEAST_SLOPE or not logged.any():
        return cells.assign(off_seen=np.nan, off_variance=1.0)
    means = mean_by(cells["entry_board"][logged], entries[logged], cells["bowler"][logged])
    off = (cells["entry_board"].astype(float) - cells["bowler"].map(means)) / (slope * BOARDS_PER_ARROW)
    within = float(np.average(cells["entry_variance"][logged], weights=entries[logged]))
    more = float((entries[logged] - 1).clip(lower=0).sum())
    variance = within * float(entries[logged].sum()) / more if more > 0 else _ENTRY_VARIANCE
    return cells.assign(off_seen=off, off_variance=max(variance, _ENTRY_VARIANCE / 4) / (slope * BOARDS_PER_ARROW) ** 2)


def mean_and_sd(values: pd.Series, weights: pd.Series) -> tuple[float, float]:
    """Weighted mean and sd of the values known; 0 and 1 without any, sd 1 if all are equal."""
    held = values.notna()
    if not held.any():
        return 0.0, 1.0
    mean = float(np.average(values[held], weights=weights[held]))
    sd = float(np.sqrt(np.average((values[held] - mean) ** 2, weights=weights[held])))
    return mean, sd if sd > 1e-6 else 1.0


def mean_by(values: pd.Series, weights: pd.Series, by: pd.Series) -> pd.Series:
    """Weighted mean of each level of ``by``."""
    means: pd.Series = (values * weights).groupby(by).sum() / weights.groupby(by).sum()
    return means
