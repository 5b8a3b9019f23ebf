"""Boards of hook of each ball of one bowler, at the same line, speed, block and game.

Where a ball comes in at the pins, given where it crossed the arrows and was laid down, shows how much it hooked:
a higher entry board (counted from the bowler's own side) is more hook.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.normal_pooling import pool_draws
from pipeline.models.balls.board_fit import centred, dummies, measure

# A bag is put together to hook differently (common practice): the least spread of its balls and the scale of the prior
# of what is beyond, in boards at the pins. Our own choice.
_LEAST_BOARDS, _SPREAD_BOARDS = 0.3, 0.5


@dataclass(frozen=True)
class HookFit:
    """Draws of hook relative to the reference ball, in boards: (n, balls), the reference's own column being zero."""

    balls: tuple[str, ...]
    reference: str
    draws: Floats
    shots: tuple[int, ...]


def fit_hook(cells: pd.DataFrame, benchmark: str | None, n: int, rng: np.random.Generator) -> HookFit | None:
    """Fit one bowler's rows of ``cells/hook_cells``.

    ``benchmark`` is the reference if it was thrown, else the most thrown ball. Balls are compared inside blocks, so
    one that never shared a block with the others is left out. None if fewer than two are left, or if ball
    and line cannot be told apart.
    """
    thrown = cells.groupby("ball")["shots"].sum().sort_index()
    if thrown.empty:
        return None
    reference = benchmark if benchmark is not None and benchmark in thrown.index else str(thrown.idxmax())
    cells = _comparable(cells, reference)
    shots = cells.groupby("ball")["shots"].sum().sort_index()
    if len(shots) < 2:
        return None
    weights = cells["shots"].to_numpy(dtype=float)
    columns = dummies(cells["ball"], leave_out=reference).add_prefix("ball:")
    columns["arrow"] = centred(cells["arrow_board"], weights)
    columns["slant"] = centred(cells["arrow_board"] - cells["laydown_board"], weights)
    columns["speed"] = centred(cells["speed_mph"], weights)
    columns["game"] = centred(cells["game"], weights)
    columns = pd.concat([columns, dummies(cells["block"]).add_prefix("block:")], axis=1)
    wanted = [f"ball:{ball}" for ball in shots.index if ball != reference]
    slopes = measure(cells["entry_board"], weights, columns, cells["block"], wanted)
    if slopes is None:
        return None
    return _pooled(slopes.names, slopes.value, slopes.covariance, reference, shots, n, rng)


def _comparable(cells: pd.DataFrame, reference: str) -> pd.DataFrame:
    """The rows of balls that shared a block with the reference, or with a ball that did, and so on."""
    balls, blocks = {reference}, set()
    while True:
        blocks |= set(cells.loc[cells["ball"].isin(balls), "block"])
        reached = set(cells.loc[cells["block"].isin(blocks), "ball"])
        if reached == balls:
            return cells[cells["ball"].isin(balls)].reset_index(drop=True)
        balls = reached


def _pooled(
    names: tuple[str, ...],
    value: Floats,
    covariance: Floats,
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
    theta = pool_draws(
        middle @ np.concatenate([[0.0], value]),
        middle @ full @ middle.T,
        n,
        rng,
        mean_sd=0.01,
        spread_scale=_SPREAD_BOARDS,
        least_spread=_LEAST_BOARDS,
    )
    return HookFit(balls, reference, theta - theta[:, :1], tuple(int(shots[ball]) for ball in balls))
