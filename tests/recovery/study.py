"""Recovery study: simulate seasons with known truth, fit them, and count how often intervals and verdicts hold.

    python -m tests.recovery.study --seasons 30 --workers 2 --out tests/recovery/recovery_table.csv

runs seeds 1..30 in the rich world of ``sample_logs`` and in the drawn world of ``drawn_world.py``. A finished season
is kept in ``--keep`` (a folder), so a run that was stopped goes on where it was. Beside the table it writes
ranking_table.csv, verdict_table.csv and RESULTS.md.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import warnings
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path

import pandas as pd

from pipeline.models.fits import fit_all
from pipeline.settings import Settings
from sample_logs.generate import SimulatedSeason, simulate_season
from tests.recovery import quantities, verdicts
from tests.recovery.drawn_world import drawn_season
from tests.recovery.in_memory import open_simulated
from tests.recovery.ledger_study import ledger_section, with_section
from tests.recovery.summary import ranking_table, recovery_table, results_page
from tests.recovery.verdict_table import verdict_section, verdict_table

DRAWS = 500
PARTS = ("quantities", "ranking", "verdicts")
Tables = tuple[pd.DataFrame, ...]
WORLDS: dict[str, Callable[[int], SimulatedSeason]] = {"rich": simulate_season, "drawn": drawn_season}


def run_season(world: str, seed: int, keep: Path) -> Tables:
    """The ``PARTS`` of one season: a table each; read from ``keep`` where it was run before."""
    paths = [keep / f"{world}-{seed}-{part}.parquet" for part in PARTS]
    if not all(path.exists() for path in paths):
        for path, table in zip(paths, _fresh(world, seed), strict=True):
            part = path.with_suffix(".part")
            table.assign(world=world, seed=seed).to_parquet(part)
            part.replace(path)
    return tuple(pd.read_parquet(path) for path in paths)


def _fresh(world: str, seed: int) -> Tables:
    settings = Settings.model_validate({"evidence": {"draws": DRAWS, "seed": seed}})
    simulated = WORLDS[world](seed)
    with open_simulated(simulated, settings) as season:
        fits = fit_all(season, settings)
        measured, ranking = quantities.of_season(season, fits, simulated.truth)
        return measured, ranking, verdicts.of_season(season, fits, simulated.truth, ranking)


def run(seeds: Iterable[int], workers: int, keep: Path, worlds: Iterable[str] = tuple(WORLDS)) -> list[Tables]:
    """Every seed in every world, ``workers`` at a time; seasons that were run before are read."""
    keep.mkdir(parents=True, exist_ok=True)
    jobs = [(world, seed) for seed in seeds for world in worlds]
    if workers == 1:
        return [run_season(world, seed, keep) for world, seed in jobs]
    done = []
    # Fresh processes read this before they load any library; forked ones would fight for the cores with threads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for count, future in enumerate(as_completed(pool.submit(run_season, *job, keep) for job in jobs), start=1):
            done.append(future.result())
            if count % 20 == 0:
                print(f"{count} of {len(jobs)} seasons", flush=True)
    return done


def kept(keep: Path) -> list[Tables]:
    """Every season finished in ``keep``."""
    last = f"-{PARTS[-1]}.parquet"
    names = sorted(path.name.removesuffix(last) for path in keep.glob(f"*{last}"))
    return [run_season(world, int(seed), keep) for world, seed in (name.split("-") for name in names)]


def write_tables(done: list[Tables], out: Path) -> None:
    """Write the recovery table to ``out``; beside it the other tables, and RESULTS.md with all of them in short."""
    result, ranked, judged = (pd.concat(tables, ignore_index=True) for tables in zip(*done, strict=True))
    recovery, ranking, verdict = recovery_table(result), ranking_table(ranked), verdict_table(judged)
    recovery.to_csv(out, index=False)
    ranking.to_csv(out.with_name("ranking_table.csv"), index=False)
    verdict.to_csv(out.with_name("verdict_table.csv"), index=False)
    page = results_page(recovery, ranking) + "\n" + verdict_section(verdict)
    of_ledger = out.with_name("ledger_table.csv")
    if of_ledger.exists():
        page = with_section(page, ledger_section(pd.read_csv(of_ledger)))
    out.with_name("RESULTS.md").write_text(page, encoding="utf-8")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Recovery of known truth over simulated seasons.")
    parser.add_argument("--seasons", type=int, default=30, help="seeds 1 to this number, in each world")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument("--out", type=Path, required=True, help="the table to write (CSV)")
    parser.add_argument("--keep", type=Path, default=None, help="folder of finished seasons (default: a new one)")
    parser.add_argument("--only-tables", action="store_true", help="write the tables of the seasons kept so far")
    options = parser.parse_args()
    warnings.filterwarnings("ignore", category=FutureWarning)
    keep = options.keep or Path(tempfile.mkdtemp(prefix="recovery-"))
    if not options.only_tables:
        print(f"finished seasons are kept in {keep}", flush=True)
    done = kept(keep) if options.only_tables else run(range(1, options.seasons + 1), options.workers, keep)
    write_tables(done, options.out)


if __name__ == "__main__":
    main()
