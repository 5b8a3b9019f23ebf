"""Do levels, luck and parts of the ledger hold the truth as often as they say? A table and a section for RESULTS.md.

    python -m tests.recovery.ledger_study --seasons 20 --out tests/recovery/ledger_table.csv

runs seeds 1..20 in the drawn world and in every world of ``worlds``; ``--world`` picks one, ``--first`` another first
seed. Finished seasons are kept in ``--keep``, so a stopped run goes on. The section goes into RESULTS.md beside the
table, and the shares held into ``pipeline/validation/ledger_record.csv``, which reports read.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import warnings
from collections.abc import Iterable
from dataclasses import fields
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import pandas as pd  # noqa: E402 - after the number of threads is set

from pipeline.validation.ledger_record import FILE, PartRecord  # noqa: E402
from tests.recovery.summary import recovery_table  # noqa: E402

DRAWS = 500


def run_season(world: str, seed: int, keep: Path) -> pd.DataFrame:
    """Rows of one season; read from ``keep`` where it was run before."""
    from pipeline.models.fits import fit_all
    from pipeline.settings import Settings
    from tests.recovery import ledger_truths
    from tests.recovery.drawn_world import drawn_season
    from tests.recovery.in_memory import open_simulated
    from tests.recovery.worlds import WORLDS

    path = keep / f"ledger-{world}-{seed}.parquet"
    if path.exists():
        return pd.read_parquet(path)
    settings = Settings.model_validate({"evidence": {"draws": DRAWS, "seed": seed}})
    simulated = (drawn_season if world == "drawn" else WORLDS[world])(seed)
    with open_simulated(simulated, settings) as season:
        table = ledger_truths.of_season(season, fit_all(season, settings), simulated.truth)
    table = table.assign(world=world, seed=seed)
    part = path.with_suffix(".part")
    table.to_parquet(part)
    part.replace(path)
    return table


def run(worlds: Iterable[str], seeds: Iterable[int], keep: Path) -> pd.DataFrame:
    """Every seed in every world, seeds outermost."""
    keep.mkdir(parents=True, exist_ok=True)
    return pd.concat([run_season(world, seed, keep) for seed in seeds for world in worlds], ignore_index=True)


def ledger_section(table: pd.DataFrame) -> str:
    """The table in short, as a section of RESULTS.md."""
    lines = ["## The ledger: levels, luck and parts", "", "Written by `tests.recovery.ledger_study`."]
    for world, part in table.groupby("world", sort=True):
        first = part.iloc[0]
        lines += [
            "",
            f"### {world}: {part['seasons'].max()} seasons, seeds {first['first_seed']} to {first['last_seed']}",
        ]
        lines += ["", "| quantity | values | bias | rmse | 80 % held | 95 % held | raw rmse |", "|---" * 7 + "|"]
        for row in part.to_dict("records"):
            held = [f"{row[f'coverage_{k}']:.3f} ± {row[f'coverage_{k}_se']:.3f}" for k in (80, 95)]
            raw = "" if pd.isna(row["raw_rmse"]) else f"{row['raw_rmse']:.3f}"
            cells = [row["quantity"], row["values"], f"{row['bias']:.3f}", f"{row['rmse']:.3f}", *held, raw]
            lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines) + "\n"


def summarise(table: pd.DataFrame) -> pd.DataFrame:
    """One row per part, columns as in ``PartRecord``: the least and the largest share held, over the worlds."""
    by = table.groupby("quantity", sort=False)["coverage_80"]
    least = table.loc[by.idxmin(), ["quantity", "coverage_80_se"]].set_index("quantity")
    held = by.agg(["min", "max"]).join(least).round(3)
    of_block, of_season = "part of a block in pins: ", "part of a season in pins: "
    parts = [str(name).removeprefix(of_block) for name in held.index if str(name).startswith(of_block)]
    both = [(part, held.loc[of_block + part], held.loc[of_season + part]) for part in parts]
    rows = [(part, *block[:2], *season[:2], block.iloc[2], season.iloc[2]) for part, block, season in both]
    level = held.loc["true level of a block in pins"]
    rows.append(("level", *level[:2], None, None, level.iloc[2], None))
    return pd.DataFrame(rows, columns=[item.name for item in fields(PartRecord)])


def with_section(page: str, section: str) -> str:
    """A results page with its section on the ledger put in place of any there is, at the end."""
    return page.partition(f"\n{section.splitlines()[0]}\n")[0].rstrip("\n") + "\n\n" + section


def main() -> None:
    """Command line."""
    from tests.recovery.worlds import WORLDS

    names = ["drawn", *WORLDS]
    parser = argparse.ArgumentParser(description="Recovery of levels, luck and parts over simulated seasons.")
    parser.add_argument("--seasons", type=int, default=20, help="how many seeds, in each world")
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--world", choices=[*names, "all"], default="all")
    parser.add_argument("--out", type=Path, default=None, help="the table to write (CSV)")
    parser.add_argument("--keep", type=Path, default=None, help="folder of finished seasons (default: a new one)")
    options = parser.parse_args()
    warnings.filterwarnings("ignore", category=FutureWarning)
    keep = options.keep or Path(tempfile.mkdtemp(prefix="ledger-"))
    worlds = names if options.world == "all" else [options.world]
    seeds = range(options.first, options.first + options.seasons)
    table = recovery_table(run(worlds, seeds, keep))
    print(table.to_string(index=False))
    if options.out is not None:
        table.to_csv(options.out, index=False)
        results = options.out.with_name("RESULTS.md")
        page = results.read_text(encoding="utf-8") if results.exists() else "# Results of the recovery study\n"
        results.write_text(with_section(page, ledger_section(table)), encoding="utf-8")
        summarise(table).to_csv(FILE, index=False)


if __name__ == "__main__":
    main()
