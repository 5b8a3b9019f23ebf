"""What a second season gains from the first: intervals of this season's level, beside simulated truth.

    python -m tests.recovery.seasons_study --seeds 20 --out tests/recovery/seasons_table.csv

Six bowlers throw three balls each in two seasons of twelve blocks. Between the seasons every bowler gains or loses log
odds of a strike, normal with the sd given. The level is the chance of a strike in the second season on one line of a
medium pattern, the mean over the bowler's balls. Spares likewise: six bowlers shoot at 120 spares in each season, and
the level is the rate of spares in the second over the usual leaves.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.special import expit

from pipeline.models.spares.spare import fit_conversion_cells
from pipeline.models.strikes.strike_worth import WorthFit, fit_worth_cells
from tests.models.made_cells import LENGTH, balance, listed
from tests.models.spares.two_seasons import NAMES, SHARE, ways_to_learn
from tests.models.spares.two_seasons import two_seasons as two_seasons_of_spares

BOWLERS, BLOCKS, BALLS, GAMES, SHOTS = 6, 12, 3, 4, 4
MOVES = (0.0, 0.1, 0.2, 0.3)
_CLASSES = ("urethane", "symmetric solid", "asymmetric pearl")
_DRAWS = 600


def two_seasons(rng: np.random.Generator, move: float) -> tuple[pd.DataFrame, np.ndarray]:
    """Cells of both seasons, and the true chance of each bowler's balls in the second (bowlers, balls)."""
    skill, ball = rng.normal(0, 0.3, BOWLERS), rng.normal(0, 0.15, (BOWLERS, BALLS))
    moved = move * rng.standard_normal(BOWLERS)
    rows = []
    for number in range(2 * BLOCKS):
        second, block = divmod(number, BLOCKS)
        pattern = list(LENGTH)[block % 3]
        for b in range(BOWLERS):
            night = rng.normal(0, 0.15)
            for game in range(1, GAMES + 1):
                for k in range(BALLS):
                    third = rng.random() < 0.5
                    logit = -0.2 + skill[b] + ball[b, k] + night + second * moved[b] + 0.1 * third - 0.05 * (game - 3)
                    rows.append(
                        {
                            "bowler": f"b{b}",
                            "block": f"k{number:02d}",
                            "stretch": str(second + 1),
                            "pattern_class": pattern,
                            "length_ft": LENGTH[pattern] + block % 2,
                            "volume_ml": 22.0 + block % 4,
                            "ratio": 4.0 + block % 5,
                            "ball": f"b{b}-{k}",
                            "ball_class": _CLASSES[k],
                            "game": game,
                            "line": "third arrow" if third else "second arrow",
                            "pair_load": 20 * game,
                            "shots": SHOTS,
                            "strikes": rng.binomial(SHOTS, expit(logit)),
                        }
                    )
    return pd.DataFrame(rows), expit(-0.1 + skill[:, None] + ball + moved[:, None])


def level(fit: WorthFit, named: dict[str, str]) -> np.ndarray:
    """Draws (n, bowlers) of the level; ``named``: the stretch asked for, or nothing."""
    grid = pd.DataFrame(
        {
            "bowler": np.repeat([f"b{b}" for b in range(BOWLERS)], BALLS),
            "ball": [f"b{b}-{k}" for b in range(BOWLERS) for k in range(BALLS)],
            "pattern_class": "medium",
            "game": 3,
            "line": "third arrow",
            "pair_load": 60.0,
            **named,
        }
    )
    draws = fit.strike_draws(grid, _DRAWS, np.random.default_rng(3), line="followed")
    result: np.ndarray = draws.reshape(_DRAWS, BOWLERS, BALLS).mean(axis=2)
    return result


def fits_of(seed: int, move: float) -> pd.DataFrame:
    """One row per way to learn and bowler: whether the 80 % interval held the level, its width, and the error."""
    cells, truth = two_seasons(np.random.default_rng([seed, round(100 * move)]), move)
    second = cells[cells["stretch"] == "2"].reset_index(drop=True)
    ways = {
        "second season alone": second,
        "both, as if nobody moved": cells.drop(columns="stretch"),
        "both, moves learned": cells,
    }
    levels = {way: level(fit_worth_cells(used, balance(BOWLERS), listed(used)), {}) for way, used in ways.items()}
    return _judged(levels, truth.mean(axis=1)).assign(what="strikes", move=move, seed=seed)


def spare_fits_of(seed: int, move: float) -> pd.DataFrame:
    """The same of spares."""
    cells, truth = two_seasons_of_spares(np.random.default_rng([seed, round(100 * move)]), move)
    levels = {}
    for way, used in ways_to_learn(cells).items():
        fit = fit_conversion_cells(used)
        draws = [fit.bowler_draws(f"b{b}", NAMES, _DRAWS, np.random.default_rng(3)) @ SHARE for b in range(BOWLERS)]
        levels[way] = np.column_stack(draws)
    return _judged(levels, truth[1] @ SHARE).assign(what="spares", move=move, seed=seed)


def _judged(levels: dict[str, np.ndarray], true: np.ndarray) -> pd.DataFrame:
    """One row per way to learn and bowler, of draws (n, bowlers) by way and the truth (bowlers,)."""
    out = []
    for way, draws in levels.items():
        low, high = np.quantile(draws, [0.1, 0.9], axis=0)
        held, error = (low <= true) & (true <= high), np.abs(draws.mean(axis=0) - true)
        out.append(pd.DataFrame({"learned from": way, "held": held, "width": high - low, "error": error}))
    return pd.concat(out, ignore_index=True)


def main() -> None:
    """Run the study and write its table: means over bowlers and seeds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=40)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    studies = (fits_of, spare_fits_of)
    rows = pd.concat([of(seed, move) for of in studies for move in MOVES for seed in range(given.seeds)])
    groups = rows.groupby(["what", "move", "learned from"], sort=False)
    table = groups[["held", "width", "error"]].mean().round(4).assign(levels=groups.size())
    table.to_csv(given.out)
    print(table.to_string())


if __name__ == "__main__":
    main()
