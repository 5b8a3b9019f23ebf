"""Strikes by what rules of thumb about oil name: volume, RG, differential, surface, and where the ball exits.

A mixed logit on counts, beside the worth model because rules name ball numbers that the worth model leaves to each
ball's own effect. Bowler, block and ball are random; pattern class, phase and ball class are adjusted for.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.design import Categorical, Design
from pipeline.inference.mixed_logit.named_effects import Group, MixedLogit, fit_named
from pipeline.models.strike_cells import STRIKE_CELLS
from pipeline.store.season import Season

EXIT_BAND_BOARDS = 2.0  # how near "near the board" of the rule of 31 is taken to be: common practice
_KEYS = ["bowler", "ball", "pattern_class", "phase", "line", "ball_class", "rg_class", "diff_class"]
_KEYS += ["surface_class", "volume_class", "exit_band"]
_MOST_ROWS, _A_BOWLER = 1500, 100  # rows beyond the commonest ones add little to a contrast and cost draws

# Small on purpose: what a rule of thumb contrasts is a small part of what makes a ball strike. Pattern classes stand
# beside volume classes since long patterns carry the most oil, and a ball class may suit either.
_PARTS = (
    Categorical(("pattern_class",), 0.2),
    Categorical(("phase",), 0.15),
    Categorical(("ball_class",), 0.15),
    Categorical(("line",), 0.15),
    Categorical(("exit_band",), 0.15),
    Categorical(("volume_class",), 0.15),
    Categorical(("volume_class", "rg_class"), 0.05),
    Categorical(("volume_class", "diff_class"), 0.05),
    Categorical(("volume_class", "surface_class"), 0.05),
    Categorical(("volume_class", "ball_class"), 0.05),
    Categorical(("pattern_class", "ball_class"), 0.2),
    Categorical(("line", "pattern_class"), 0.2),
)
_GROUPS = (
    Group(("bowler",)),
    Group(("bowler", "block"), usual_only=True, sd_scale=0.5),
    Group(("ball",), sd_scale=0.1),
    Group(("ball", "volume_class"), sd_scale=0.05),
    Group(("ball", "pattern_class"), sd_scale=0.05),
    Group(("bowler", "pattern_class"), sd_scale=0.05),
    Group(("bowler", "line"), sd_scale=0.05),
)


@dataclass(frozen=True)
class OilRules:
    """The fitted model, read off where it was logged.

    Attributes:
        rows: one row per bowler, ball and set of conditions, with ``shots``.
        strike: (n, rows) draws of the strike probability in a block of average luck.
    """

    rows: pd.DataFrame
    strike: NDArray[np.float64]


def fit_oil_rules(season: Season, bowlers: Collection[str], n: int, rng: np.random.Generator) -> OilRules:
    """Fit to every first delivery of the season and draw ``n`` times, read off for ``bowlers``."""
    oil, ball = season.settings.pattern, season.settings.ball
    cells = season.frame(
        "cells/rule_cells",
        light_to=oil.light_to_ml,
        heavy_from=oil.heavy_from_ml,
        dull_to=ball.dull_to_grit,
        polished_from=ball.polished_from_grit,
        band=EXIT_BAND_BOARDS,
    )
    model: MixedLogit = fit_named(Design(_PARTS), _GROUPS, cells, STRIKE_CELLS)
    theirs = cells[cells["bowler"].isin(bowlers)]
    most = max(_MOST_ROWS, _A_BOWLER * len(bowlers))
    rows = theirs.groupby(_KEYS, as_index=False)[["shots"]].sum().nlargest(most, "shots")
    rows = rows.sort_values(_KEYS, ignore_index=True)
    return OilRules(rows, logistic(model.logit_draws(rows, n, rng)))
