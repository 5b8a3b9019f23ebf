"""What tests of several rooms share. One thread of linear algebra per process: the suite runs a process per core."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before anything imports numpy

import fcntl
import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import partial
from itertools import groupby
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from pipeline.decisions.decide import decide
from pipeline.decisions.parts import EITHER, PARTS, Answered
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from pipeline.store.season import Season, open_season
from pipeline.store.second_process import Beside
from pipeline.store.shelf import Key, Shelf
from reports.screenshots import CHROMIUM
from tests.recovery.in_memory import open_simulated
from tests.recovery.worlds import WORLDS

SAMPLE_LOGS = Path(__file__).parents[1] / "sample_logs"
FEW_DRAWS = Settings.model_validate({"evidence": {"draws": 200}})
"""What the sample season is fitted with for tests."""
LEDGER_AND_CHECKS = ("ledger", "ledger_blocks", "habits", "calibration", "checks", "sensitivity", "held_out")
"""Fields of the decisions that a world is decided without: no other answer asks for them."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with slow or browser tests first: a worker that ends early finds no long file left to the other.

    ``make test`` gives a whole file to one worker, so that what its tests share is made once.
    """
    files = [(path, list(tests)) for path, tests in groupby(items, key=lambda item: item.path)]
    files.sort(key=lambda file: -sum(any(item.iter_markers(mark)) for item in file[1] for mark in ("slow", "browser")))
    items[:] = [item for _, tests in files for item in tests]


@pytest.fixture(scope="session")
def decided_sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the sample season reviewed once for all workers.

    ``s.duckdb`` with its fits, ``few.toml`` its settings, ``reports``, ``decisions.json``, and ``review.json``: exit
    code, output and errors of the command. Nobody may write to it.
    """
    return _made_once(tmp_path_factory, "sample", _review_sample)


@pytest.fixture(scope="session")
def decided_world(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Folder with decisions.json of one season of a simulated world, by its name; made once for all workers.

    The ledger and the checks are left empty.
    """
    return lambda world: _made_once(tmp_path_factory, world, partial(_decide_world, world=world))


def _made_once(factory: pytest.TempPathFactory, name: str, decided: Callable[[Path], None]) -> Path:
    """Folder of that name, filled by whichever worker comes first."""
    base = factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / f"decided_{name}"
    folder.mkdir(exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "decisions.json").exists():
            decided(folder)
    return folder


def _review_sample(folder: Path) -> None:
    """As a user does, by the command line: what it printed and returned is kept for the tests of that."""
    database, settings = folder / "s.duckdb", folder / "few.toml"
    settings.write_text(f"[evidence]\ndraws = {FEW_DRAWS.evidence.draws}\n", encoding="utf-8")
    command = [sys.executable, "-m", "pipeline", "review", SAMPLE_LOGS, "--db", database, "--settings", settings]
    done = subprocess.run([*command, "--out", folder / "reports"], capture_output=True, text=True, check=False)
    (folder / "review.json").write_text(json.dumps([done.returncode, done.stdout, done.stderr]), encoding="utf-8")
    with open_season(database, FEW_DRAWS) as season:
        shelf = Shelf(season.connection, Key.of(season.connection, FEW_DRAWS, None))
        text = decide(Fitted(season, fit_all(season, FEW_DRAWS, shelf=shelf)), "Season").model_dump_json()
    assert not shelf.made, done.stderr
    (folder / "decisions.json").write_text(text, encoding="utf-8")


def _decide_world(folder: Path, world: str) -> None:
    apart = [place for place, part in enumerate(PARTS) if part.stage == "ledger_and_checks"]
    none = Answered({name: [] for name in LEDGER_AND_CHECKS}, [])
    without = {place: none if place == apart[0] else Answered({}, []) for place in apart}
    here = iter([ticket for ticket, place in enumerate(EITHER) if place not in apart])
    with open_simulated(WORLDS[world](3), FEW_DRAWS) as season:
        beside = Beside(lambda: next(here, None), lambda: without)
        fitted = Fitted(season, fit_all(season, FEW_DRAWS), beside=beside)
        text = decide(fitted, "Season").model_dump_json()
    (folder / "decisions.json").write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def sample(decided_sample: Path) -> Iterator[tuple[Season, Fits]]:
    """The sample season open for reading, with its fits; what is learned with them is not written."""
    with open_season(decided_sample / "s.duckdb", FEW_DRAWS) as season:
        yield (
            season,
            fit_all(season, FEW_DRAWS, shelf=Shelf(season.connection, Key.of(season.connection, FEW_DRAWS, None))),
        )


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium, one for all tests of a worker."""
    with sync_playwright() as driver:
        result = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield result
        result.close()
