"""Boards of hook of each ball of one bowler, at the same line, speed, pattern and game.

Where a ball comes in at the pins, given where it crossed the arrows and was laid down, tells how much it hooked:
a higher entry board (counted from the bowler's own side) is more hook.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.models.board_fit import centred, dummies, measure
from pipeline.models.pooling import pool_normal

FloatArray = npt.NDArray[np.float64]
# Balls of one bag differ by some boards (common practice): scale of the prior of their spread, in boards.
_SPREAD_BOARDS = 1.5


@dataclass(frozen=True)
class HookFit:
    """Draws of hook relative to the reference ball, in boards: (n, balls), the reference's own column being zero."""

    balls: tuple[str, ...]
    reference: str
    draws: FloatArray
    shots: tuple[int, ...]


def fit_hook(cells: pd.DataFrame, benchmark: str | None, n: int, rng: np.random.Generator) -> HookFit | None:
    """Fit one bowler's rows of ``46_hook_cells``.

    ``benchmark`` is the reference where it was thrown, else the most thrown ball. None with fewer than two balls
    or where ball and line cannot be told apart.
    """
    cells = cells.reset_index(drop=True)
    shots = cells.groupby("ball")["shots"].sum().sort_index()
    if len(shots) < 2:
        return None
    reference = benchmark if benchmark in shots.index else str(shots.idxmax())
    weights = cells["shots"].to_numpy(dtype=float)
    columns = dummies(cells["ball"], leave_out=reference).add_prefix("ball:")
    columns["arrow"] = centred(cells["arrow_board"], weights)
    columns["slant"] = centred(cells["arrow_board"] - cells["laydown_board"], weights)
    columns["speed"] = centred(cells["speed_mph"], weights)
    columns["game"] = centred(cells["game"], weights)
    columns = pd.concat([columns, dummies(cells["block"]).add_prefix("block:")], axis=1)
    wanted = [f"ball:{ball}" for ball in shots.index if ball != reference]
    found = measure(cells["entry_board"], weights, columns, cells["block"], wanted)
    if found is None:
        found = measure(
            cells["entry_board"],
            weights,
            columns.loc[:, [name for name in columns if not name.startswith("block:")]],
            cells["block"],
            wanted,
        )
    if found is None:
        return None
    return _pooled(found.names, found.value, found.covariance, reference, shots, n, rng)


def _pooled(
    names: tuple[str, ...],
    value: FloatArray,
    covariance: FloatArray,
    reference: str,
    shots: pd.Series,
    n: int,
    rng: np.random.Generator,
) -> HookFit:
    """Pool the balls towards the middle of the bag, the reference among them, then measure from the reference."""
    balls = (reference, *(name.removeprefix("ball:") for name in names))
    k = len(balls)
    full = np.zeros((k, k))
    full[1:, 1:] = covariance
    middle = np.eye(k) - 1 / k
    theta, _ = pool_normal(
        middle @ np.concatenate([[0.0], value]),
        middle @ full @ middle.T,
        n,
        rng,
        mean_sd=0.01,
        spread_scale=_SPREAD_BOARDS,
    )
    return HookFit(balls, reference, theta - theta[:, :1], tuple(int(shots[ball]) for ball in balls))
