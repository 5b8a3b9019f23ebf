"""Killed while it loads, fits, draws and swaps: each leaves the state before or after.

Few points, to be quick; ``make faults`` kills a whole season's review at many random ones.
"""

from __future__ import annotations

import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from reports import staging
from reports.publish import render_all
from tests.faults.kill_runs import database_print, folder_print
from tests.faults.places import ENVIRONMENT, rackledger, run, signalled
from tests.faults.season import loaded, with_another_shot
from tests.reports.factory import season

_SWAP_AND_DIE = """
import os, signal, sys
from pathlib import Path
from reports import publish
take_turns = publish._exchange
def exchange(one, other):
    os.kill(os.getpid(), signal.SIGKILL) if sys.argv[3] == "before" else None
    assert take_turns(one, other)
    os.kill(os.getpid(), signal.SIGKILL)
publish._exchange = exchange
publish._swap(Path(sys.argv[1]), Path(sys.argv[2]))
"""
# A load through a column map, killed when it has written a log anew and the database has moved memory to the disk.
_LOAD_AND_DIE = """
import os, signal, sys
from pathlib import Path
from pipeline.intake import load_folder
from pipeline.store import database
from pipeline.intake.checks.shots import ShotCheck
database.MEMORY_LIMIT = "60MB"
def insert(self, *words):
    self._connection.execute("CREATE TEMP TABLE much AS SELECT range, hash(range) FROM range(10000000)")
    os.kill(os.getpid(), signal.SIGKILL)
ShotCheck._insert = insert
load_folder(Path(sys.argv[1]), Path(sys.argv[2]), column_map=Path(sys.argv[3]))
"""
_RENDER_AND_WAIT = """
import sys
from pathlib import Path
from reports import publish
from tests.reports.factory import season
def tell(text, share):
    print(text, flush=True)
    sys.stdin.readline()
publish.render_all(season(), Path(sys.argv[1]), tell)
"""
_SWAP_SLOWLY_AND_DIE = """
import os, signal, sys
from pathlib import Path
from reports import publish
publish._exchange = lambda one, other: False
Path.rename = lambda self, target: (os.rename(self, target), os.kill(os.getpid(), signal.SIGKILL))
publish._swap(Path(sys.argv[1]), Path(sys.argv[2]))
"""
Prints = tuple[str, str]


def review(place: Path) -> tuple[object, ...]:
    return "review", place / "logs", "--db", place / "season.duckdb", "--out", place / "reports"


def prints(place: Path) -> Prints:
    return database_print(place / "season.duckdb"), folder_print(place / "reports")


@pytest.fixture(scope="module")
def states(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Prints, Prints]:
    """A season ready to be reviewed, and its fingerprints before and after."""
    start = with_another_shot(loaded(tmp_path_factory.mktemp("kill") / "start"))
    end = start.with_name("end")
    shutil.copytree(start, end)
    done = run(rackledger(*review(end)))
    assert done.returncode == 0, done.stderr
    before, after = prints(start), prints(end)
    assert before[0] != after[0] and before[1] != after[1]
    return start, before, after


@pytest.mark.parametrize(
    ("stage", "is_loaded"), [("storing deliveries", False), ("fitting leaves", True), ("drawing charts", True)]
)
def test_killed(states: tuple[Path, Prints, Prints], tmp_path: Path, stage: str, is_loaded: bool) -> None:
    start, before, after = states
    place = tmp_path / "place"
    shutil.copytree(start, place)
    assert signalled(stage, signal.SIGKILL, *review(place)).returncode == -signal.SIGKILL
    assert prints(place) == ((after if is_loaded else before)[0], before[1])


@pytest.mark.parametrize("moment", ["before", "after"])
def test_killed_while_reports_change_places(tmp_path: Path, moment: str) -> None:
    for name in ("fresh", "out"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "index.html").write_text(name)
    code = run([sys.executable, "-c", _SWAP_AND_DIE, str(tmp_path / "fresh"), str(tmp_path / "out"), moment]).returncode
    assert code == -signal.SIGKILL
    assert (tmp_path / "out" / "index.html").read_text() == ("out" if moment == "before" else "fresh")


# What killed runs leave is swept by the next


def hidden(place: Path) -> list[str]:
    return sorted(path.name for path in place.iterdir() if path.name.startswith("."))


def test_what_a_killed_load_left_is_swept(tmp_path: Path) -> None:
    place = with_another_shot(loaded(tmp_path))
    before = database_print(place / "season.duckdb")
    columns = place / "columns.toml"
    columns.write_text('[shots.values.foul]\noui = "yes"\n', encoding="utf-8")
    words = [place / "logs", place / "season.duckdb", columns]
    code = run([sys.executable, "-c", _LOAD_AND_DIE, *map(str, words)]).returncode
    assert code == -signal.SIGKILL
    scratch, spilled = place / ".season.duckdb-scratch", place / "season.duckdb.tmp"
    assert [path.name for path in scratch.iterdir()] == ["0.csv"]
    assert sum(path.stat().st_size for path in spilled.iterdir()) > 1_000_000
    assert database_print(place / "season.duckdb") == before
    (place / "season.quarantine.csv.part").write_text("half a ro")
    (spilled / "notes.txt").write_text("a user's own")
    done = run(rackledger("load", place / "logs", "--db", place / "season.duckdb", "--columns", columns))
    assert done.returncode == 0, done.stderr
    assert hidden(place) == []
    assert [path.name for path in spilled.iterdir()] == ["notes.txt"]
    assert not (place / "season.quarantine.csv.part").exists()
    assert database_print(place / "season.duckdb") != before


def test_what_a_killed_run_left_beside_the_reports_is_swept(tmp_path: Path) -> None:
    out, mine = tmp_path / "reports", ".reports-unfinished-by-me"
    command = [sys.executable, "-c", _RENDER_AND_WAIT, str(out)]
    for name in (mine, ".reports-2026", ".other-unfinished-12345678"):
        (tmp_path / name).mkdir()
    (tmp_path / mine / "notes.txt").write_text("a user's own")
    users = sorted([mine, ".reports-2026", ".other-unfinished-12345678"])
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True, "env": ENVIRONMENT}
    with subprocess.Popen(command, **pipes) as dead:  # type: ignore[call-overload]
        assert dead.stdout.readline() == "drawing charts\n"
        dead.kill()
    left = set(hidden(tmp_path)) - set(users)
    assert len(left) == 1
    with subprocess.Popen(command, **pipes) as alive:  # type: ignore[call-overload]
        assert alive.stdout.readline() == "drawing charts\n"
        assert not left & set(hidden(tmp_path))
        render_all(season(), out)
        assert len(hidden(tmp_path)) == len(users) + 1
        alive.communicate("\n" * 10_000)
    assert alive.returncode == 0
    assert hidden(tmp_path) == users


def test_earlier_reports_a_killed_run_moved_aside_go_only_when_new_ones_are_there(tmp_path: Path) -> None:
    """Where two folders cannot be exchanged in one step."""
    fresh, out = tmp_path / "fresh", tmp_path / "reports"
    for folder in (fresh, out):
        folder.mkdir()
        (folder / "index.html").write_text(folder.name)
    assert run([sys.executable, "-c", _SWAP_SLOWLY_AND_DIE, str(fresh), str(out)]).returncode == -signal.SIGKILL
    (aside,) = hidden(tmp_path)
    staging.sweep(out)
    assert (tmp_path / aside / "reports" / "index.html").read_text() == "reports"
    fresh.rename(out)
    staging.sweep(out)
    assert hidden(tmp_path) == []
