"""How much leaves of earlier stretches of nights count for the last: less, the more bowlers' mixes move.

How far the log odds of the types move from one stretch to the next is learned by moments: differences between a
bowler's stretches vary by more than their counts alone would. Earlier counts are then weighted down to what a
normal prior of that width leaves of them (a power prior: Ibrahim & Chen, Statistical Science 15, 2000, from memory).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd

from pipeline.models.strikes.stretches import STRETCH

_ENOUGH = 5.0  # shots of a type, and of all others, from which its log odds are near normal; our own choice


def weighed(cells: pd.DataFrame) -> pd.DataFrame:
    """Cells (bowler, leave_type, shots, stretch and others) of a bowler's last stretch whole, those before by weight.

    Returns:
        Without the column ``stretch``; ``shots`` may be fractions. Unchanged if there is one stretch, or none named.
    """
    if STRETCH not in cells or cells[STRETCH].nunique() < 2:
        return cells.drop(columns=STRETCH, errors="ignore")
    counts = cells.groupby(["bowler", STRETCH, "leave_type"], observed=True)["shots"].sum().unstack(fill_value=0)
    moved = squared_move(counts)
    last = cells.groupby("bowler")[STRETCH].transform("max") == cells[STRETCH]
    known = counts.apply(lambda row: _information(row.to_numpy(dtype=float)), axis=1).rename("known").reset_index()
    before = 1 / (1 + moved * cells.merge(known, on=["bowler", STRETCH], how="left")["known"].to_numpy())
    shots = np.where(last, 1.0, before) * cells["shots"].to_numpy(dtype=float)
    return cells.assign(shots=shots).drop(columns=STRETCH)


def squared_move(counts: pd.DataFrame) -> float:
    """Mean square of the true moves of the log odds of the types between neighbouring stretches; not below 0.

    Args:
        counts: leaves by type, one row per (bowler, stretch), in order.
    """
    excess, weight = 0.0, 0.0
    for _, rows in counts.groupby(level=0):
        table = rows.to_numpy(dtype=float)
        for before, after in pairwise(table):
            rest = np.stack([before.sum() - before, after.sum() - after])
            enough = (np.minimum(before, after) >= _ENOUGH) & (rest.min(axis=0) >= _ENOUGH)
            error = (1 / before[enough] + 1 / after[enough]) + (1 / rest[:, enough]).sum(axis=0)
            odds = np.log(after[enough] / rest[1, enough]) - np.log(before[enough] / rest[0, enough])
            excess += float(((odds**2 - error) / error**2).sum())
            weight += float((1 / error**2).sum())
    return max(excess / weight, 0.0) if weight else 0.0


def _information(counts: np.ndarray) -> float:
    """Information in a stretch's counts about a type's log odds: one over their variance, a mean over the leaves."""
    total = counts.sum()
    share = counts / total
    return float((share * total * share * (1 - share)).sum())
