"""Judge the models in worlds they were not built in: coverage, gains and regrets beside simulated truth.

    python -m tests.recovery.worlds_study --world shared_lane --seasons 20 --workers 1 --seed 1 --out shared.csv

simulates seasons ``seed`` to ``seed + seasons - 1`` of one world (``--world all``: of each), fits and decides each as a
user would, and prints one table; ``--out`` gets it as CSV. ``--versus FILE`` sets an earlier table of the same seeds
beside it. The season is the unit of the Monte Carlo errors.
"""

from __future__ import annotations

import argparse
import os
import time
import warnings
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pandas as pd

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

DRAWS = 300


def run_season(world: str, seed: int) -> pd.DataFrame:
    """Measures of one season: world, seed, measure, total, count."""
    from pipeline.models.fits import fit_all
    from pipeline.settings import Settings
    from tests.recovery import world_measures
    from tests.recovery.in_memory import open_simulated
    from tests.recovery.worlds import WORLDS

    warnings.filterwarnings("ignore", category=FutureWarning)
    started = time.process_time()
    simulated = WORLDS[world](seed)
    settings = Settings.model_validate({"evidence": {"draws": DRAWS, "seed": seed}})
    with open_simulated(simulated, settings) as season:
        measured = world_measures.of_season(season, fit_all(season, settings), simulated.truth)
    took = pd.DataFrame({"measure": ["seconds per season"], "total": time.process_time() - started, "count": 1})
    return pd.concat([measured, took]).assign(world=world, seed=seed)


def run(worlds: Iterable[str], seeds: Iterable[int], workers: int) -> pd.DataFrame:
    """Every seed in every world."""
    jobs = [(world, seed) for world in worlds for seed in seeds]
    if workers == 1:
        return pd.concat([run_season(*job) for job in jobs], ignore_index=True)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        return pd.concat(pool.map(run_season, *zip(*jobs, strict=True)), ignore_index=True)


def table(results: pd.DataFrame) -> pd.DataFrame:
    """One row per world and measure: value, se (a ratio over seasons, linearised), n; errors as root mean squares."""
    rows = []
    for (world, measure), part in results.groupby(["world", "measure"], sort=False):
        total, count = part["total"].to_numpy(dtype=float), part["count"].to_numpy(dtype=float)
        if count.sum() == 0:
            continue
        value, seasons = total.sum() / count.sum(), len(part)
        apart = total - value * count
        se = float(np.sqrt((apart**2).sum() * seasons / max(seasons - 1, 1)) / count.sum()) if seasons > 1 else np.nan
        name = str(measure)
        if name.endswith("squared error"):
            name, root = name.replace("squared error", "rmse"), float(np.sqrt(value))
            value, se = root, se / (2 * root) if root > 0 else np.nan
        rows.append((world, name, value, se, int(count.sum()), seasons))
    return pd.DataFrame(rows, columns=["world", "measure", "value", "se", "n", "seasons"])


def main() -> None:
    """Command line."""
    from tests.recovery.worlds import WORLDS

    parser = argparse.ArgumentParser(description="Judge the models in simulated worlds.")
    parser.add_argument("--world", choices=[*WORLDS, "all"], required=True)
    parser.add_argument("--seasons", type=int, default=10)
    parser.add_argument("--workers", type=int, default=1, help="processes")
    parser.add_argument("--seed", type=int, default=1, help="the first season's")
    parser.add_argument("--out", type=Path, default=None, help="CSV to write the table to")
    parser.add_argument("--versus", type=Path, default=None, help="an earlier table to show beside it")
    options = parser.parse_args()
    worlds = list(WORLDS) if options.world == "all" else [options.world]
    made = table(run(worlds, range(options.seed, options.seed + options.seasons), options.workers))
    shown = made
    if options.versus is not None:
        earlier = pd.read_csv(options.versus)[["world", "measure", "value", "se"]]
        shown = made.merge(earlier, on=["world", "measure"], how="left", suffixes=("", "_before"))
    print(shown.round(3).to_string(index=False))
    if options.out is not None:
        made.round(5).to_csv(options.out, index=False)


if __name__ == "__main__":
    main()
