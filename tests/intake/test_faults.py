"""Faults around the database: one clear sentence each, and the season is as before or as after, never between."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from pipeline.intake import IntakeError, load_folder
from pipeline.store.database import explained, open_for_reading, open_for_writing
from tests.intake.logs import ask, load, shot, write_logs

_ROOT = Path(__file__).parents[2]
_LOAD_AND_DIE = """
import os, signal, sys
from pathlib import Path
from pipeline.intake import load_folder
def die(text, fraction):
    if text.startswith(sys.argv[3]):
        os.kill(os.getpid(), signal.SIGKILL)
load_folder(Path(sys.argv[1]), Path(sys.argv[2]), progress=die)
"""
_HOLD = """
import sys
from pathlib import Path
from pipeline.store.database import open_for_writing
connection = open_for_writing(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""
_LOAD = """
import sys
from pathlib import Path
from pipeline.intake import IntakeError, load_folder
try:
    load_folder(Path(sys.argv[1]), Path(sys.argv[2]))
except IntakeError as error:
    sys.exit(f"refused: {error}")
"""


def run(code: str, *arguments: object, file_size: int | None = None) -> subprocess.CompletedProcess[str]:
    """Run ``code`` in a process of its own, where wanted with a bound on the size of files it may write."""

    def bound() -> None:
        if file_size is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (file_size, file_size))

    command = [sys.executable, "-c", code, *map(str, arguments)]
    return subprocess.run(command, cwd=_ROOT, capture_output=True, text=True, preexec_fn=bound, check=False)


STAGES = [
    "reading shots",
    "storing what the logs refer to",
    "checking frames",
    "storing deliveries",
    "writing down what was set aside",
]


@pytest.mark.parametrize("stage", STAGES)
def test_killed_load_leaves_the_season_as_it_was(tmp_path: Path, stage: str) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "11")])
    load(folder)
    before = ask(folder, "FROM deliveries"), ask(folder, "FROM quarantine"), ask(folder, "FROM sources")
    write_logs(folder, [shot(1, 1, "7"), shot(2, 1, "11"), shot(3, 1, "X")])
    database = tmp_path / "season.duckdb"
    assert run(_LOAD_AND_DIE, folder, database, stage).returncode == -signal.SIGKILL
    assert (ask(folder, "FROM deliveries"), ask(folder, "FROM quarantine"), ask(folder, "FROM sources")) == before
    load(folder)
    assert len(ask(folder, "FROM deliveries")) == 2


def test_killed_first_load_can_be_repeated(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    database = tmp_path / "season.duckdb"
    assert run(_LOAD_AND_DIE, folder, database, "storing deliveries").returncode == -signal.SIGKILL
    with pytest.raises(IntakeError, match="nothing has been loaded"):
        open_for_reading(database)
    assert load(folder).rows_quarantined == 0


def test_interrupted_load_is_undone(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    write_logs(folder, [shot(1, 1, "7")])

    def interrupt(text: str, fraction: float) -> None:
        if text.startswith("writing down"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        load_folder(folder, tmp_path / "season.duckdb", progress=interrupt)
    assert ask(folder, "SELECT standing FROM deliveries") == [(0,)]


def test_locked_database_names_the_process(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    database = tmp_path / "season.duckdb"
    load(folder)
    command = [sys.executable, "-c", _HOLD, str(database)]
    with subprocess.Popen(command, cwd=_ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        for attempt in (lambda: load(folder), lambda: open_for_reading(database)):
            with pytest.raises(IntakeError, match=rf"process id {holder.pid}\b"):
                attempt()
        holder.communicate("")
    assert load(folder).rows_read > 0


def test_damaged_and_foreign_files(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    good = tmp_path / "season.duckdb"
    load(folder)
    text, empty, other, damaged, foreign = (tmp_path / f"{n}.duckdb" for n in "abcde")
    text.write_text("not a database\n" * 1000)
    empty.write_bytes(b"")
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE t (x)")
    content = bytearray(good.read_bytes())
    content[4096:8192] = os.urandom(4096)
    damaged.write_bytes(content)
    duckdb.connect(str(foreign)).execute("CREATE TABLE t (x INTEGER)").close()
    for database, words in [
        (text, "not a season database"),
        (empty, "not a season database"),
        (other, "not a season database"),
        (damaged, "damaged"),
        (foreign, "something else"),
    ]:
        before = database.read_bytes()
        for attempt in (lambda d=database: load(folder, d), lambda d=database: open_for_reading(d)):
            with pytest.raises(IntakeError, match=words) as refusal:
                attempt()
            assert "\n" not in str(refusal.value)
        assert database.read_bytes() == before


def test_another_schema_version_is_refused_with_the_way_out(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    with duckdb.connect(str(tmp_path / "season.duckdb")) as connection:
        connection.execute("UPDATE schema_version SET version = 99")
    with pytest.raises(IntakeError, match=r"schema version 99.*load the logs again"):
        load(folder)


def test_impossible_places(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    with pytest.raises(IntakeError, match="folder does not exist"):
        load(folder, tmp_path / "nowhere" / "season.duckdb")
    with pytest.raises(IntakeError, match="is a folder"):
        load(folder, tmp_path)
    with pytest.raises(IntakeError, match="no such database"):
        open_for_reading(tmp_path / "season.duckdb")


def test_read_only_folder_is_reported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # The superuser may write anywhere, so what the system would answer is given here in its place.
    monkeypatch.setattr("pipeline.store.database.os.access", lambda path, mode: False)
    with pytest.raises(IntakeError, match="no permission to write"):
        open_for_writing(tmp_path / "season.duckdb")
    for value in (OSError(30, "Read-only file system"), duckdb.IOException("Cannot open file: Permission denied")):
        with pytest.raises(IntakeError, match="no permission to write"), explained(tmp_path):
            raise value


def test_full_disk_is_reported_and_nothing_is_lost(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    database = tmp_path / "season.duckdb"
    noise = random.Random(1)
    rows = [shot(f, 1, "X", game=g, note=noise.randbytes(200).hex()) for g in range(1, 61) for f in range(1, 11)]
    write_logs(folder, rows)
    copy = tmp_path / "copy.duckdb"
    shutil.copy(database, copy)
    done = run(_LOAD, folder, copy, file_size=60_000)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("refused: ")
    assert "disk is full" in done.stderr
    assert ask(folder, "SELECT count(*) FROM deliveries", copy) == [(1,)]
