"""Screenshots of a folder of reports: ``python -m reports.screenshots REPORTDIR OUTDIR``."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from playwright.sync_api import Browser, sync_playwright

CHROMIUM = "/usr/bin/chromium"


@dataclass(frozen=True)
class Shot:
    """One picture: which report, how wide, and how it is shown."""

    name: str
    page: str
    width: int
    height: int
    scheme: Literal["light", "dark"] = "light"
    media: Literal["screen", "print"] = "screen"
    place: str = ""
    one_bowler: bool = False


SHOTS = (
    Shot("start-1280", "index.html", 1280, 900),
    Shot("season-1280", "season.html", 1280, 900, one_bowler=True),
    Shot("transition-1280-dark", "transition.html", 1280, 900, scheme="dark", place="curves1", one_bowler=True),
    Shot("arsenal-768", "arsenal.html", 768, 1000, place="ages", one_bowler=True),
    Shot("students-360", "students.html", 360, 760),
    Shot("plan-print", "plan.html", 794, 1123, media="print", one_bowler=True),
)


def take(reports: Path, out: Path, shots: tuple[Shot, ...] = SHOTS) -> list[Path]:
    """Take every picture of ``shots`` from the reports in a folder; returns the files written."""
    out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            return [_take_one(browser, reports, out, shot) for shot in shots]
        finally:
            browser.close()


def _take_one(browser: Browser, reports: Path, out: Path, shot: Shot) -> Path:
    page = browser.new_page(viewport={"width": shot.width, "height": shot.height}, color_scheme=shot.scheme)
    page.goto((reports / shot.page).absolute().as_uri())
    if shot.one_bowler:
        page.select_option("#by-bowler", index=1)
    page.emulate_media(media=shot.media, color_scheme=shot.scheme)
    if shot.media == "print":
        page.evaluate("document.body.style.padding = '14mm'")
    if shot.place:
        page.locator(f"#{shot.place}").evaluate("item => item.scrollIntoView()")
    target = out / f"{shot.name}.png"
    page.screenshot(path=target)
    page.close()
    return target


if __name__ == "__main__":
    for written in take(Path(sys.argv[1]), Path(sys.argv[2])):
        print(written)
