"""What tests of several rooms share. One thread of linear algebra per process: the suite runs a process per core."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before anything imports numpy

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from reports.screenshots import CHROMIUM


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium, one for all tests of a worker."""
    with sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield found
        found.close()
