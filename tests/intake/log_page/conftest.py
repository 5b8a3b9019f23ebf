"""The log page in headless Chromium at phone width, by touch or by keyboard, without a network."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from pipeline.intake.files.templates import write_log_page
from tests.intake.log_page.phone import Phone


@pytest.fixture
def phone(browser: Browser, tmp_path: Path) -> Iterator[Phone]:
    """A phone with the page open for the first time; no request but that for the page, and no complaint."""
    context = browser.new_context(
        viewport={"width": 360, "height": 640}, has_touch=True, is_mobile=True, offline=True, accept_downloads=True
    )
    result = Phone(context, write_log_page(tmp_path / "page"), tmp_path / "logs")
    yield result
    assert result.complaints == []
    assert {url for url in result.requests if not url.startswith("blob:")} == {result.address}
    context.close()


_ADD = """([bowler, hand]) => {
    addReference("bowlers", { bowler, name: "", hand, style: "one-handed" });
    const ball = { bowler, cover: "hybrid", core: "asymmetric", spare_ball: "no" };
    addReference("balls", { ...ball, ball: `${bowler}-moss`, name: "Moss" });
    addReference("balls", { ...ball, ball: `${bowler}-chalk`, name: "Chalk", cover: "polyester", spare_ball: "yes" });
}"""
"""Bowlers and balls without their forms, which other tests fill in: for speed."""


@pytest.fixture
def ready(phone: Phone) -> Callable[..., Phone]:
    """A phone on which a session has begun with these bowlers: (id, hand)."""

    def begin(*bowlers: tuple[str, str], lanes: str = "11 12") -> Phone:
        for bowler, hand in bowlers:
            phone.page.evaluate(_ADD, [bowler, hand])
        phone.begin(lanes)
        return phone

    return begin
