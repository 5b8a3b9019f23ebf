"""Killed while it loads, fits, draws and swaps: each leaves the state before or after.

Few points, to be quick; ``make faults`` kills a whole season's review at many random ones.
"""

from __future__ import annotations

import shutil
import signal
import sys
from pathlib import Path

import pytest

from tests.faults.kill_runs import database_print, folder_print
from tests.faults.places import rackledger, run, signalled
from tests.faults.season import loaded, with_another_shot

_SWAP_AND_DIE = """
import os, signal, sys
from pathlib import Path
from reports import render
take_turns = render._exchange
def exchange(one, other):
    os.kill(os.getpid(), signal.SIGKILL) if sys.argv[3] == "before" else None
    assert take_turns(one, other)
    os.kill(os.getpid(), signal.SIGKILL)
render._exchange = exchange
render._swap(Path(sys.argv[1]), Path(sys.argv[2]))
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
