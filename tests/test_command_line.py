"""The command beside other programs: pipes, a shell's completion, somebody's own modules, and --quiet."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.settings import read_settings
from tests.intake.logs import shot, write_logs

ENVIRONMENT = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
HOME = Path(__file__).parents[1]


def run(*words: object, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pipeline", *map(str, words)]
    return subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=folder, env=ENVIRONMENT | environment
    )


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "11")])


def test_it_runs_beside_files_that_are_called_like_its_own_modules(logs: Path, tmp_path: Path) -> None:
    for name in ("reports.py", "queries.py", "sample_logs.py"):
        (tmp_path / name).write_text("raise SystemExit('the wrong module')\n", encoding="utf-8")
    done = run("load", "logs", folder=tmp_path, PYTHONPATH=str(HOME))
    assert done.returncode == 3 and "1 set aside" in done.stdout, done.stderr
    done = run("decide", "--json", "d.json", folder=tmp_path, PYTHONPATH=str(HOME))
    assert "wrong module" not in done.stderr


@pytest.mark.parametrize(("rows", "code"), [([shot(1, 1, "X")], 0), ([shot(1, 1, "11"), shot(2, 1, "X")], 3)])
def test_a_reader_that_stops_early_changes_no_exit_code(tmp_path: Path, rows: list[str], code: int) -> None:
    write_logs(tmp_path / "logs", rows)
    command = [sys.executable, "-m", "pipeline", "load", "logs"]
    environment = ENVIRONMENT | {"PYTHONPATH": str(HOME)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path, env=environment
    ) as done:
        assert done.stdout is not None and done.stderr is not None
        done.stdout.close()
        printed = done.stderr.read()
    assert (done.returncode, printed) == (code, "")


def test_a_refused_file_is_no_clean_run(logs: Path, tmp_path: Path) -> None:
    write_logs(logs, [shot(1, 1, "X")])
    (logs / "shots_2.csv").write_text("nothing,of,ours\n1,2,3\n", encoding="utf-8")
    done = run("load", "logs", folder=tmp_path, PYTHONPATH=str(HOME))
    assert done.returncode == 3 and "1 file refused" in done.stdout and "0 set aside" in done.stdout


def test_quiet_prints_nothing_and_keeps_the_exit_code(logs: Path, tmp_path: Path) -> None:
    done = run("load", "logs", "--quiet", folder=tmp_path, PYTHONPATH=str(HOME))
    assert (done.returncode, done.stdout, done.stderr) == (3, "", "")
    done = run("template", "new", "-q", folder=tmp_path, PYTHONPATH=str(HOME))
    assert (done.returncode, done.stdout) == (0, "")
    done = run("load", "nowhere", "-q", folder=tmp_path, PYTHONPATH=str(HOME))
    assert done.returncode == 1 and "no such folder" in done.stderr


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_as_documented(shell: str, tmp_path: Path) -> None:
    code = "import sys; sys.argv = ['rackledger']; from pipeline.cli import main; main()"
    environment = ENVIRONMENT | {"PYTHONPATH": str(HOME), "_RACKLEDGER_COMPLETE": f"{shell}_source"}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=tmp_path, env=environment
    )
    assert done.returncode == 0 and "rackledger" in done.stdout, done.stderr
    assert f"_RACKLEDGER_COMPLETE={shell}_source" in (HOME / "README.md").read_text(encoding="utf-8")


def test_settings_with_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(b"\xef\xbb\xbf[costs]\nresurface = 2.5\n")
    assert read_settings(path).costs.resurface == 2.5


def test_an_alias_key_needs_alias(tmp_path: Path) -> None:
    done = run("decide", "--json", "d.json", "--alias-key", "k.csv", folder=tmp_path, PYTHONPATH=str(HOME))
    assert done.returncode == 2 and "--alias" in done.stderr
