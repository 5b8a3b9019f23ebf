"""One rendering of the invented season, and one browser, for all tests of reports."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from reports.publish import render_all
from reports.screenshots import CHROMIUM
from tests.reports.factory import season, small_season


@pytest.fixture(scope="session")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the reports of the invented season."""
    return render_all(season(), tmp_path_factory.mktemp("reports") / "out").parent


@pytest.fixture(scope="session")
def small_reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the reports of two bowlers of the invented season."""
    return render_all(small_season(), tmp_path_factory.mktemp("small") / "out").parent


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium."""
    with sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield found
        found.close()
