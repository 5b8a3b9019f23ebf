"""What tests of several rooms share. One thread of linear algebra per process: the suite runs a process per core."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before anything imports numpy

import fcntl
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from pipeline.decisions.decide import decide
from pipeline.intake import load_folder
from pipeline.models.fits import fit_all
from pipeline.settings import Settings
from pipeline.store.kept import Key, Shelf
from pipeline.store.season import open_season
from reports.screenshots import CHROMIUM

SAMPLE_LOGS = Path(__file__).parents[1] / "sample_logs"
FEW_DRAWS = Settings.model_validate({"evidence": {"draws": 200}})
"""What the sample season is fitted with for tests."""


@pytest.fixture(scope="session")
def decided_sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the sample season fitted and decided once for all workers: s.duckdb with its fits, decisions.json.

    Nobody may write to it.
    """
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "decided_sample"
    folder.mkdir(exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "decisions.json").exists():
            _decide_sample(folder)
    return folder


def _decide_sample(folder: Path) -> None:
    database = folder / "s.duckdb"
    load_folder(SAMPLE_LOGS, database)
    with open_season(database, FEW_DRAWS) as season:
        shelf = Shelf(season.connection, Key.of(season.connection, FEW_DRAWS, None))
        text = decide(season, fit_all(season, FEW_DRAWS, shelf=shelf), "Season").model_dump_json()
    shelf.write(database)
    (folder / "decisions.json").write_text(text, encoding="utf-8")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium, one for all tests of a worker."""
    with sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield found
        found.close()
