"""What each bowler threw over the season: the mix against which worth is measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.models.subsample import Subsample
from pipeline.store.season import Season

MOST_CELLS = 300  # cells of a bowler; beyond that a weighted sample represents them


@dataclass(frozen=True)
class SeasonMix:
    """Counts of the season, by bowler and by cell.

    Attributes:
        cells: columns bowler, pattern_class, pattern, game, phase, ball, ball_class, line, length_ft, volume_ml, ratio,
            pair_load (means of the cell), shots, strikes and weight; weights of a bowler sum to 1.
        shots: bowler -> first deliveries; strikes: bowler -> strikes among them.
    """

    cells: pd.DataFrame
    shots: dict[str, int]
    strikes: dict[str, int]


def season_mix(season: Season, subsample: Subsample | None = None) -> SeasonMix:
    """Read the season's mix; of a subsample, that of its bowlers alone."""
    query = "cells/season_mix"
    return mix_of(season.frame(query) if subsample is None else season.frame_of(query, subsample.bowlers))


def mix_of(cells: pd.DataFrame, most_cells: int = MOST_CELLS) -> SeasonMix:
    """The mix from cells of ``queries/cells/season_mix``, at most ``most_cells`` per bowler.

    A bowler with more cells is represented by a systematic sample: cells enter with probability proportional to their
    shots and then have equal weight, so averages over the sample are unbiased.
    """
    parts = [_thin(part, most_cells) for _, part in cells.groupby("bowler", sort=True)]
    mix = pd.concat(parts, ignore_index=True) if parts else cells.assign(weight=0.0)
    totals = cells.groupby("bowler")[["shots", "strikes"]].sum()
    return SeasonMix(
        cells=mix,
        shots={str(bowler): int(count) for bowler, count in totals["shots"].items()},
        strikes={str(bowler): int(count) for bowler, count in totals["strikes"].items()},
    )


def _thin(part: pd.DataFrame, most_cells: int) -> pd.DataFrame:
    shots = part["shots"].to_numpy(float)
    if len(part) <= most_cells:
        return part.assign(weight=shots / shots.sum())
    picks = np.searchsorted(np.cumsum(shots), (np.arange(most_cells) + 0.5) * shots.sum() / most_cells)
    taken, times = np.unique(picks, return_counts=True)
    return part.iloc[taken].assign(weight=times / most_cells)
