"""Kill the whole job at random moments and look at what it left behind.

    python -m tests.faults.kill_runs --runs 60 --seed 1 --out tests/faults/kill_log.csv

Each run starts from a loaded first part of the sample season with its reports, begins a review of the whole season
and is killed (SIGKILL) after a random share of the time a full review takes. Afterwards the database must open and
hold exactly the state before or after the load, and the report folder exactly the earlier reports or the new ones.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import duckdb

SAMPLE = Path(__file__).parents[2] / "sample_logs"
TABLES = ("bowlers", "balls", "patterns", "blocks", "maintenance", "deliveries", "quarantine")
DONE = {0, 3}


def command(logs: Path, place: Path) -> list[str]:
    """The review of ``logs`` into ``place``."""
    season = ["--db", str(place / "season.duckdb"), "--out", str(place / "reports")]
    return [sys.executable, "-m", "pipeline", "review", str(logs), *season]


def database_print(database: Path) -> str:
    """Fingerprint of everything the database holds, file times aside."""
    digest = hashlib.sha256()
    with duckdb.connect(str(database), read_only=True) as connection:
        for table in TABLES:
            rows = connection.execute(f"SELECT * FROM {table} ORDER BY ALL").fetchall()
            digest.update(repr(rows).encode())
    return digest.hexdigest()


def folder_print(folder: Path) -> str:
    """Fingerprint of every file of a folder, names included."""
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            digest.update(str(path.relative_to(folder)).encode() + path.read_bytes())
    return digest.hexdigest()


def part_of_the_season(folder: Path) -> Path:
    """The sample's reference files with only the first of its shot files."""
    folder.mkdir()
    shots = sorted(SAMPLE.glob("shots*.csv"))
    for path in [*SAMPLE.glob("*.csv")]:
        if path not in shots[1:]:
            shutil.copy(path, folder)
    return folder


def killed_run(before: Path, place: Path, after_seconds: float) -> tuple[int, float]:
    """Begin a full review in a copy of ``before``, kill it, and give its exit code and its time."""
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(before, place)
    started = time.monotonic()
    with subprocess.Popen(
        command(SAMPLE, place), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    ) as process:
        try:
            process.wait(after_seconds)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
    return process.returncode, time.monotonic() - started


def state_of(message: str, before: str, after: str) -> str:
    """Which of the two whole states a fingerprint shows."""
    return {before: "before", after: "after"}.get(message, "BETWEEN")


def main() -> int:
    """Run, write the log, and give 1 where any run left something between."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path(__file__).parent / "kill_log.csv")
    options = parser.parse_args()
    dice = random.Random(options.seed)
    with tempfile.TemporaryDirectory() as scratch:
        rows = _runs(Path(scratch), options.runs, dice)
    with options.out.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    between = sum("BETWEEN" in (row["database"], row["reports"]) for row in rows)
    killed = sum(row["exit"] == -signal.SIGKILL for row in rows)
    print(f"{len(rows)} runs, {killed} killed, {between} left something between")
    return int(between > 0 or killed == 0)


def _runs(scratch: Path, runs: int, dice: random.Random) -> list[dict[str, object]]:
    before, after, place = scratch / "before", scratch / "after", scratch / "place"
    part = part_of_the_season(scratch / "part")
    for logs, target in ((part, before), (SAMPLE, after)):
        if target is after:
            shutil.copytree(before, after)
        target.mkdir(exist_ok=True)
        started = time.monotonic()
        code = subprocess.run(command(logs, target), stdout=subprocess.DEVNULL, check=False).returncode
        if code not in DONE:
            raise SystemExit(f"a review without a kill ended with {code}")
        whole = time.monotonic() - started
    databases = [database_print(target / "season.duckdb") for target in (before, after)]
    folders = [folder_print(target / "reports") for target in (before, after)]
    rows: list[dict[str, object]] = []
    for number in range(1, runs + 1):
        wait = dice.uniform(0.0, 1.05) * whole
        code, took = killed_run(before, place, wait)
        row = {
            "run": number,
            "killed_after_s": round(took, 2),
            "exit": code,
            "database": state_of(database_print(place / "season.duckdb"), *databases),
            "reports": state_of(folder_print(place / "reports"), *folders),
        }
        rows.append(row)
        print(*row.values(), flush=True)
    return rows


if __name__ == "__main__":
    sys.exit(main())
