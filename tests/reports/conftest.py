"""One rendering of the invented season, and one browser, for all tests of reports."""

from __future__ import annotations

from pathlib import Path

import pytest

from reports.publish import render_all
from tests.reports.factory import season, small_season


@pytest.fixture(scope="session")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the reports of the invented season."""
    return render_all(season(), tmp_path_factory.mktemp("reports") / "out").parent


@pytest.fixture(scope="session")
def small_reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the reports of two bowlers of the invented season."""
    return render_all(small_season(), tmp_path_factory.mktemp("small") / "out").parent
