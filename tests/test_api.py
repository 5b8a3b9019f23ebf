"""The four stages from Python, and the wheel that brings their types."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from pipeline import api
from pipeline.decisions.scope import UnknownBowlerError
from pipeline.errors import IntakeError

ROOT = Path(__file__).parents[1]
Done = subprocess.CompletedProcess[str]


def run(*words: object, folder: Path = ROOT) -> Done:
    return subprocess.run([sys.executable, *map(str, words)], capture_output=True, text=True, check=False, cwd=folder)


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Done]:
    out = tmp_path_factory.mktemp("example")
    return out, run("-m", "tests.api_example", out)


@pytest.mark.slow
def test_the_example_runs_and_says_what_it_did(example: tuple[Path, Done]) -> None:
    out, done = example
    assert done.returncode == 0, done.stderr
    first, *choices, index = done.stdout.splitlines()
    assert first == "rows set aside or files refused"  # the sample's honest mistakes
    assert len(choices) == 3 and {line.split(",")[0] for line in choices} <= {"oda", "joss"}
    shares = [float(line.split()[-1]) for line in choices]
    assert shares == sorted(shares, reverse=True) and 0 < shares[-1] <= shares[0] <= 1
    assert Path(index) == out / "reports" / "index.html" and Path(index).is_file()


@pytest.mark.slow
def test_python_and_the_command_line_decide_alike(example: tuple[Path, Done]) -> None:
    out, done = example
    database, decided = out / "season.duckdb", out / "decisions.json"
    asked = run("-m", "pipeline", "decide", "--db", database, "--json", decided, "--about", "oda", "--about", "joss")
    assert asked.returncode == 0, asked.stderr
    combos = json.loads(decided.read_text(encoding="utf-8"))["combos"]
    best = sorted((choice for choice in combos if choice["ranked"] and choice["p_best"] is not None), key=_least)[:3]
    for line, choice in zip(done.stdout.splitlines()[1:-1], best, strict=True):
        assert line.startswith(
            f"{choice['bowler']}, {choice['pattern_class']} pattern, {choice['phase']}: {choice['ball']}"
        )
        assert line.endswith(f"{choice['shots']} shots, best with probability {choice['p_best']:.2f}")


def _least(choice: dict[str, float]) -> float:
    return -choice["p_best"]


@pytest.mark.slow
def test_failures_are_named(example: tuple[Path, Done], tmp_path: Path) -> None:
    with pytest.raises(IntakeError), api.fit(tmp_path / "none.duckdb"):
        pass
    with pytest.raises(UnknownBowlerError), api.fit(example[0] / "season.duckdb", about=["nobody"]):
        pass
    with pytest.raises(UnknownBowlerError):
        api.plan(example[0] / "season.duckdb", "nobody", 40)


def test_the_wheel_says_that_it_is_typed(tmp_path: Path) -> None:
    # PEP 561: a package whose annotations others may use carries a file py.typed
    source = tmp_path / "source"
    for name in ("pipeline", "reports", "queries", "sample_logs"):
        shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source / name)
    built = run("-c", f"from setuptools import build_meta; build_meta.build_wheel({str(tmp_path)!r})", folder=source)
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    assert {"pipeline/py.typed", "reports/py.typed"} <= set(zipfile.ZipFile(wheel).namelist())
