"""Fits of a small invented club: real leave and conversion models, and a stand-in for carry with known draws."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pandas as pd
from scipy.special import expit

from pipeline.models.fits import Fits
from pipeline.models.season_mix import mix_of
from pipeline.models.spares.leave import fit_leave_cells
from pipeline.models.spares.spare import fit_conversion_cells
from pipeline.settings import Settings
from pipeline.sport.leaves import leave_type, parse_leave

CLASSES = {"pearl": "symmetric pearl", "solid": "asymmetric solid", "plastic": "polyester"}
LEAVES = {"10": 40, "7": 15, "4": 15, "2-8": 10, "3-10": 8, "5-7": 6, "1-2-4-10": 6}
MADE = {"10": 0.85, "7": 0.86, "4": 0.93, "2-8": 0.75, "3-10": 0.6, "5-7": 0.2, "1-2-4-10": 0.4}


class KnownCarry:
    """Strike probabilities by ball and game, with one shared draw of skill and one a ball."""

    ball_classes = CLASSES

    def strike_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator, line: str = "kept") -> np.ndarray:
        skill = 0.15 * rng.standard_normal((n, 1))
        ball = 0.25 * rng.standard_normal((n, len(CLASSES)))
        which = grid["ball"].map({name: i for i, name in enumerate(CLASSES)}).to_numpy(int)
        game = grid["game"].to_numpy(float)
        level = np.array([0.1, 0.0, -0.6])[which] + np.array([-0.12, 0.05, 0.0])[which] * game
        return expit(level + skill + ball[:, which])


def made_fits(n_draws: int = 400, bowlers: int = 3, seed: int = 0) -> Fits:
    rng = np.random.default_rng(seed)
    leaves, spares, mix = [], [], []
    for b in range(bowlers):
        for ball, ball_class in CLASSES.items():
            for game, phase in ((1, "fresh"), (3, "transition"), (5, "late")):
                key = {"bowler": f"b{b}", "pattern_class": "medium", "ball_class": ball_class, "phase": phase}
                shots = int(rng.integers(20, 60))
                strikes = int(rng.binomial(shots, 0.45))
                mix.append(
                    {**key, "game": game, "ball": ball, "line": "second arrow", "shots": shots, "strikes": strikes}
                )
                share = np.array(list(LEAVES.values())) / 100
                for leave, count in zip(LEAVES, rng.multinomial(shots - strikes, share), strict=True):
                    if count:
                        kind = leave_type(parse_leave(leave))
                        leaves.append({**key, "leave": leave, "leave_type": kind, "shots": count})
    cells = pd.DataFrame(leaves)
    for (bowler, leave, kind), part in cells.groupby(["bowler", "leave", "leave_type"]):
        attempts = int(part["shots"].sum())
        made = int(rng.binomial(attempts, MADE[leave]))
        left = int((attempts - made) * (1 if "-" not in leave else 1.4))
        spares.append((bowler, leave, kind, attempts, made, left))
    columns = ["bowler", "leave", "leave_type", "attempts", "made", "pins_left"]
    return Fits(
        worth=cast(Any, KnownCarry()),
        entry=cast(Any, SimpleNamespace()),
        leave=fit_leave_cells(cells),
        conversion=fit_conversion_cells(pd.DataFrame(spares, columns=columns)),
        mix=mix_of(pd.DataFrame(mix)),
        rng_seed=11,
        n_draws=n_draws,
        settings=Settings(),
    )
