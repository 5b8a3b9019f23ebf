"""How a bowler's strikes move from one stretch of nights to the next, as between seasons; learned, not assumed.

A stretch ends with a long break (``queries/scope/block_stretches``). Every bowler has an effect in each stretch, with
a learned sd: the less bowlers move, the more an earlier season counts. A log of one stretch has no such effect.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.arrays import Draws
from pipeline.inference.mixed_logit.named_effects import Group, MixedLogit
from pipeline.store.season import Season

STRETCH = "stretch"
MOVES = Group(("bowler", STRETCH), where_named=True, sd_scale=0.1)
"""Logits by which a bowler is better or worse in one stretch; the scale is our own choice, as those beside it."""


def stretches(season: Season) -> dict[str, str]:
    """Stretch by block, over the whole log."""
    rows = season.frame("cells/block_stretches")
    return dict(zip(rows["block"].astype(str), rows[STRETCH].astype(str), strict=True))


def with_stretches(season: Season, cells: pd.DataFrame) -> pd.DataFrame:
    """Cells with the stretch of their block; without that column if the log is of one stretch."""
    known = stretches(season)
    if len(set(known.values())) < 2:
        return cells
    return cells.assign(**{STRETCH: cells["block"].astype(str).map(known).astype(object)})


def latest(cells: pd.DataFrame) -> str | None:
    """The last stretch of the cells, for which advice is given; None if there is only one."""
    return str(cells[STRETCH].max()) if STRETCH in cells and cells[STRETCH].nunique() > 1 else None


def moved_draws(
    model: MixedLogit, bowler: str, then: pd.Series, now: str | None, n: int, rng: np.random.Generator
) -> Draws | float:
    """Draws (n, rows) of log odds by which the bowler was better in the stretches ``then`` than ``now``."""
    if now is None or MOVES not in model.groups:
        return 0.0
    rows = pd.DataFrame({"bowler": bowler, STRETCH: then.astype(object)}).reset_index(drop=True)
    there, here = (model.group_draws(MOVES, frame, n, rng) for frame in (rows, rows.assign(**{STRETCH: now})))
    moved: Draws = there - here
    return moved
