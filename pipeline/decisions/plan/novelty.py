"""How far a posted pattern is from those logged."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.arrays import Draws
from pipeline.sport.oil import OIL

NEW_PATTERN = "a pattern never bowled on"
# A typical distance is never taken to be less than this: feet, mL, ratio. Common practice calls such patterns alike.
_ALIKE = np.array([2.0, 2.0, 1.5])
_FULLY_NEW = 4.0
# Typical distances counted for a number that was asked for but never noted of a pattern: it may be alike or not. Our
# own choice.
_NOT_NOTED = 0.5


def novelty(logged: pd.DataFrame, length_ft: float, volume_ml: float | None, ratio: float | None) -> float:
    """Distance of a pattern to the nearest one logged, in typical distances between logged ones; 0 if identical.

    Length, volume and ratio are scaled by the mean gap between neighbouring patterns logged (at least by what counts as
    alike). A number not asked for does not count; one never noted of a pattern counts as half a typical distance from
    it. Without any posted pattern everything is fully new.

    Args:
        logged: columns length_ft, volume_ml, ratio; one row per pattern bowled on.
        length_ft: length asked for, feet.
        volume_ml: volume asked for, mL.
        ratio: inside-to-outside ratio asked for.
    """
    known = logged[list(OIL)].to_numpy(dtype=float)
    known = known[np.isfinite(known[:, 0])]
    if len(known) == 0:
        return _FULLY_NEW
    asked = np.array([length_ft, np.nan if volume_ml is None else volume_ml, np.nan if ratio is None else ratio])
    away = (known - asked) / _typical_gaps(known)
    away = np.where(np.isfinite(asked) & ~np.isfinite(known), _NOT_NOTED, away)
    return float(min(np.sqrt(np.nansum(away**2, axis=1)).min(), _FULLY_NEW))


def same_pattern(logged: pd.DataFrame, oil: dict[str, float | None]) -> str:
    """Id of the logged pattern with these very numbers, or ``NEW_PATTERN``; a number not asked for may be any.

    Args:
        logged: columns pattern, length_ft, volume_ml, ratio; one row per pattern bowled on.
        oil: number asked for by name, None if it was not posted.
    """
    alike = logged["pattern"].notna()
    for name, value in oil.items():
        if value is not None:
            alike &= np.isclose(logged[name].astype(float), value)
    patterns = logged.loc[alike, "pattern"].value_counts()
    return str(patterns.index[0]) if len(patterns) else NEW_PATTERN


def within_logged(logged: pd.DataFrame, oil: dict[str, float | None]) -> dict[str, float | None]:
    """The oil with every number moved into the range logged; unchanged if none was logged, or if it is None."""
    result: dict[str, float | None] = {}
    for name, value in oil.items():
        values = logged[name].dropna()
        inside = value if value is None or values.empty else float(np.clip(value, values.min(), values.max()))
        result[name] = inside
    return result


def _typical_gaps(known: Draws) -> Draws:
    gaps = _ALIKE.copy()
    for k in range(len(OIL)):
        values = np.unique(known[np.isfinite(known[:, k]), k])
        if len(values) > 1:
            gaps[k] = max(gaps[k], float(np.diff(values).mean()))
    return gaps
