"""How the entry board of a ball drifts with the games since its last resurfacing, for every ball of the season.

Least squares per bowler on cells of one game: the entry board, and the share of shots that came in short or light, on
the ball's age; adjusted for the arrow board, pattern class and game into the block. The slopes of all balls are then
partially pooled. Negative entry drift is hook lost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.linalg import block_diag

from pipeline.arrays import Floats
from pipeline.inference.normal_pooling import pool_draws
from pipeline.models.balls.board_fit import Measured, centred, dummies, measure

# Prior scales per 10 games, our own choice: a ball seldom drifts a board in 10 games, or misses a tenth more shots.
_BOARDS = 0.3
_SHARE = 0.03


@dataclass(frozen=True)
class Drift:
    """Draws per ball, (n,), of the change per 10 games since resurfacing: boards, and share of shots."""

    entry: dict[str, Floats]
    missed_hook: dict[str, Floats]


def fit_drift(cells: pd.DataFrame, n: int, rng: np.random.Generator) -> Drift:
    """Fit rows of ``cells/ball_age_cells``; a ball whose slope cannot be estimated is in neither dictionary."""
    logged = cells[cells["entries"] > 0]
    boards, shares = [], []
    for _, rows in logged.groupby("bowler", sort=True):
        part = rows.reset_index(drop=True)
        columns, wanted = _columns(part)
        weights = part["entries"].to_numpy(dtype=float)
        boards.append(measure(part["entry_board"], weights, columns, part["block"], wanted))
        share = part["missed_hook"] / weights
        shares.append(measure(share, weights, columns, part["block"], wanted, _one_shot(part["missed_hook"], weights)))
    return Drift(_pooled(boards, n, rng, _BOARDS), _pooled(shares, n, rng, _SHARE))


def _one_shot(missed: pd.Series, shots: Floats) -> float:
    """Variance of one shot that may miss its hook, by the rule of succession: zero is never sure."""
    chance = (float(missed.sum()) + 1) / (float(shots.sum()) + 2)
    return chance * (1 - chance)


def _columns(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    weights = rows["entries"].to_numpy(dtype=float)
    parts = [dummies(rows["ball"]).add_prefix("ball:"), dummies(rows["pattern_class"]).add_prefix("pattern:")]
    fixed = pd.concat(parts, axis=1)
    fixed["arrow"] = centred(rows["arrow_board"], weights)
    fixed["game"] = centred(rows["game"], weights)
    tens = rows["games_since_resurface"].to_numpy(dtype=float) / 10
    ages = pd.get_dummies(rows["ball"].astype(str), dtype=float).mul(tens, axis=0)
    return pd.concat([fixed, ages.add_prefix("age:")], axis=1), [f"age:{name}" for name in ages.columns]


def _pooled(parts: list[Measured | None], n: int, rng: np.random.Generator, scale: float) -> dict[str, Floats]:
    fitted = [part for part in parts if part is not None]
    if not fitted:
        return {}
    draws = pool_draws(
        np.concatenate([part.value for part in fitted]),
        block_diag(*(part.covariance for part in fitted)),
        n,
        rng,
        mean_sd=scale,
        spread_scale=scale / 2,
    )
    names = [name.removeprefix("age:") for part in fitted for name in part.names]
    return {name: draws[:, at] for at, name in enumerate(names)}
