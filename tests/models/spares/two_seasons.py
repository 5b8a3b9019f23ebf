"""Spare attempts of two seasons between which bowlers move, drawn from the model's own form; with the true rates."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import expit

from pipeline.models.spares import spare_pooling as sp
from pipeline.sport.leaves import leave_type, parse_leave
from tests.models.spares.test_spare import LEAVES

NAMES = list(LEAVES)
SHARE = np.array([share for share, _ in LEAVES.values()], dtype=float) / sum(share for share, _ in LEAVES.values())
"""How often each leave is met; sums to one."""
_COLUMNS = ["bowler", "stretch", "leave", "leave_type", "attempts", "made", "pins_left"]


def two_seasons(
    rng: np.random.Generator, move: float, bowlers: int = 6, spares: int = 120
) -> tuple[pd.DataFrame, np.ndarray]:
    """Cells by stretch "1" and "2", and true rates (2, bowlers, leaves).

    ``move``: sd in log odds by which a bowler's ability differs from his own average in a season; ``spares``: attempts
    of each bowler in each.
    """
    kind = np.array([int("-" in name) for name in NAMES])
    usual = np.array([ease for _, ease in LEAVES.values()])
    single, several, bowler, precision = np.exp(sp.HYPER_CENTRE)
    leave = rng.normal(0, np.where(kind == 1, several, single))
    kinds = np.array([[1, sp.KIND_CORRELATION], [sp.KIND_CORRELATION, 1]])
    base = rng.multivariate_normal([0, 0], bowler**2 * kinds, bowlers)
    rows, rates = [], []
    for season in ("1", "2"):
        ability = base + move * rng.multivariate_normal([0, 0], kinds, bowlers)
        mean = np.clip(expit(usual + leave + ability[:, kind]), 1e-6, 1 - 1e-6)
        rates.append(rng.beta(precision * mean, precision * (1 - mean)))
        attempts = rng.multinomial(spares, SHARE, bowlers)
        made = rng.binomial(attempts, rates[-1])
        rows += [
            (f"b{b}", season, name, leave_type(parse_leave(name)), tried, made[b, i], tried - made[b, i])
            for b in range(bowlers)
            for i, name in enumerate(NAMES)
            if (tried := attempts[b, i])
        ]
    return pd.DataFrame(rows, columns=_COLUMNS), np.array(rates)


def ways_to_learn(cells: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The same cells as a second season is learned alone, from both as if nobody moved, and with moves learned."""
    second = cells[cells["stretch"] == "2"].drop(columns="stretch").reset_index(drop=True)
    pair = ["bowler", "leave", "leave_type"]
    both = cells.groupby(pair, as_index=False)[["attempts", "made", "pins_left"]].sum()
    return {"second season alone": second, "both, as if nobody moved": both, "both, moves learned": cells}
