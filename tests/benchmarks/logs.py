"""Log folders of any size for the benchmarks: one simulated season, repeated as so many clubs of a federation."""

from __future__ import annotations

from pathlib import Path

import duckdb

from sample_logs.generate import BLOCKS, simulate_season, write_season

BASE_DELIVERIES = 100_000
"""Deliveries of the one season that larger logs repeat under new ids of bowlers, balls and blocks."""

_A_CLUB = 15_000
_IDS = {
    "bowlers": ("bowler", "coach"),
    "balls": ("ball", "bowler"),
    "patterns": (),
    "blocks": ("block",),
    "maintenance": ("ball",),
    "shots": ("block", "bowler", "ball"),
}


def log_of(deliveries: int, folder: Path) -> Path:
    """Write a log of about ``deliveries`` deliveries below ``folder`` and give its folder; written once only."""
    target = folder / f"log_{deliveries}"
    if target.exists():
        return target
    if deliveries <= BASE_DELIVERIES:
        blocks = {"blocks": max(6, BLOCKS * deliveries // _A_CLUB)} if deliveries < _A_CLUB else {}
        write_season(simulate_season(deliveries, scale=max(1, round(deliveries / _A_CLUB)), **blocks), target)
        return target
    return _repeated(log_of(BASE_DELIVERIES, folder), round(deliveries / BASE_DELIVERIES), target)


def one_new_block(log: Path, folder: Path) -> Path:
    """A copy of ``log``'s reference files with one new block of shots, as the next evening would add it."""
    folder.mkdir(parents=True)
    with duckdb.connect() as connection:
        shots = connection.read_csv(str(log / "shots*.csv"), all_varchar=True)  # noqa: F841 - read by name in the SQL
        block = connection.execute("SELECT block FROM shots LIMIT 1").fetchall()[0][0]
        for kind in ("bowlers", "balls", "patterns", "maintenance"):
            (folder / f"{kind}.csv").write_bytes((log / f"{kind}.csv").read_bytes())
        blocks = (log / "blocks.csv").read_text(encoding="utf-8").splitlines()
        old = next(line for line in blocks if line.startswith(f"{block},"))
        new_blocks = "\n".join([*blocks, old.replace(block, "one-new-block", 1)])
        (folder / "blocks.csv").write_text(new_blocks + "\n", encoding="utf-8")
        connection.execute(
            "COPY (SELECT * REPLACE ('one-new-block' AS block) FROM shots WHERE block = $block) TO "
            f"'{folder / 'shots_one_new_block.csv'}' (HEADER)",
            {"block": block},
        )
    return folder


def _repeated(base: Path, copies: int, target: Path) -> Path:
    target.mkdir(parents=True)
    with duckdb.connect() as connection:
        for kind, ids in _IDS.items():
            replaced = ", ".join(f"{column} || '-c' || copy AS {column}" for column in ids)
            replace = f"REPLACE ({replaced})" if ids else ""
            number = copies if ids else 1
            connection.execute(
                f"COPY (SELECT * EXCLUDE (copy) {replace} FROM read_csv('{base}/{kind}*.csv', all_varchar = true),"
                f" range({number}) AS copies(copy)) TO '{target}/{kind}.csv' (HEADER)"
            )
    return target
