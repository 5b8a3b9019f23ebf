"""How far a line lies from where it is usually played: by that bowler, with that ball, on that oil, that late.

Bowlers move with the lane, so where they play says where the lane asks to be played. A line that suits a fresh pattern
lies outside of the usual one an hour later; squared, that distance carries into the worth model what no sum of effects
of line and game can hold. The usual line is a ridge regression of the lines played, counted in arrows.

Bowlers also stay where they happened to strike, so a line counts as more usual for the luck it had there. What the
distance costs is therefore learned with each block's usual line taken from the other blocks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.sparse.linalg import lsmr
from sklearn.model_selection import GroupKFold

from pipeline.models.arrow import Floats
from pipeline.models.features import Design, Factor, Numeric
from pipeline.trade.lane import LINES

_ARROWS = {line: float(k) for k, line in enumerate(LINES)}
_FOLDS = 8  # of blocks, each left out in turn
_FURTHEST = 2.5  # arrows; a line further off is priced as this far, for hardly any shot was thrown there
# Prior sds in arrows, against lines that scatter by about one arrow; our own choice.
_PARTS: tuple[Numeric | Factor, ...] = (
    *(Numeric(column, 1.0) for column in ("game_1", "game_2", "load_z", "length_ft_z", "volume_ml_z", "ratio_z")),
    Factor(("pattern_class",), 0.45),
    Factor(("ball_class",), 0.3),
    Factor(("ball",), 0.2),
    Factor(("bowler",), 0.3),
)


@dataclass(frozen=True)
class UsualLine:
    """The usual line, as a function of the worth model's covariates.

    Attributes:
        design: its columns, levels learned.
        effects: (columns,) in arrows.
        spread: mean squared distance over the shots it was learned from, in arrows squared.
    """

    design: Design
    effects: Floats
    spread: float

    def distance(self, frame: pd.DataFrame) -> Floats:
        """Squared distance of each row's line from the usual one, less its mean over the season, arrows squared.

        Rows without a line have 0, the mean.
        """
        off = frame["line"].map(_ARROWS).to_numpy(dtype=float) - self.design.sparse(frame) @ self.effects
        squared: Floats = np.nan_to_num(np.minimum(off**2, _FURTHEST**2) - self.spread)
        return squared

    def distance_apart(self, frame: pd.DataFrame) -> Floats:
        """The same for the cells it was learned from, but each block's by a usual line learned from other blocks.

        Of a single block there are no others, and it is the same.
        """
        blocks = frame["block"].nunique()
        if blocks < 2:
            return self.distance(frame)
        out = np.zeros(len(frame))
        folds = GroupKFold(min(_FOLDS, blocks), shuffle=True, random_state=0)
        for others, own in folds.split(frame, groups=frame["block"]):
            usual = replace(learn_usual_line(frame.iloc[others]), spread=self.spread)
            out[own] = usual.distance(frame.iloc[own])
        return out


def learn_usual_line(frame: pd.DataFrame) -> UsualLine:
    """Learn from cells with the worth model's covariates and ``shots``; without any line nothing is usual."""
    logged = frame[frame["line"].isin(_ARROWS)]
    if logged.empty:
        design = Design(_PARTS).learn(frame)
        return UsualLine(design, np.zeros(len(design.precision())), 0.0)
    design = Design(_PARTS).learn(logged)
    arrows = logged["line"].map(_ARROWS).to_numpy(dtype=float)
    weight = np.sqrt(logged["shots"].to_numpy(dtype=float))
    # Ridge as least squares: columns in units of their prior sd, and one damping for all.
    sd = design.precision() ** -0.5
    columns = sparse.diags_array(weight) @ design.sparse(logged) @ sparse.diags_array(sd)
    effects = sd * lsmr(columns, weight * arrows, damp=1.0, atol=1e-8, btol=1e-8)[0]
    usual = UsualLine(design, effects, 0.0)
    return UsualLine(design, effects, float(np.average(usual.distance(logged), weights=weight**2)))
