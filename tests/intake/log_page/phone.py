"""A hand on the log page: what a bowler touches or types, and what the files saved say."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import duckdb
from playwright.sync_api import BrowserContext, Page

from pipeline.intake import LoadReport, load_folder
from pipeline.settings import Settings
from pipeline.sport.leaves import FULL_RACK, pins
from pipeline.store.season import open_season

Shot = tuple[int, bool]
"""Mask of the pins that stand after a delivery, as the bowler sees them, and whether it was a foul."""


_COUNT_CLICKS = "globalThis.clicks = 0; addEventListener('click', () => (clicks += 1), true);"
_AFTER_A_CLICK = """(before) => new Promise((done, fail) => {
    setTimeout(() => fail(new Error("no click came of the tap")), 20_000);
    const look = () => (clicks > before ? done() : setTimeout(look, 2));
    look();
})"""

_STORED = "Object.entries(localStorage).sort()"
_REOPENED = 40  # times, before a test fails for what was not stored


class Phone:
    """The page, opened from ``path``; files are saved into ``folder``."""

    def __init__(self, context: BrowserContext, path: Path, folder: Path) -> None:
        self.address = path.as_uri()
        self.folder = folder
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self._context = context
        self.page = self._open()

    def _open(self) -> Page:
        page = self._context.new_page()
        page.set_default_timeout(20_000)  # a machine may be busy
        page.add_init_script(_COUNT_CLICKS)
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(self.address)
        return page

    def close_and_open(self) -> None:
        """What a phone does when it is locked for long: the page is gone, then opened again.

        The browser takes what a page stores a moment later, so on a busy machine the next may open before it is there.
        """
        stored = self.page.evaluate(_STORED)
        self.page.close()
        self.page = self._open()
        for _ in range(_REOPENED):
            if self.page.evaluate(_STORED) == stored:
                return
            self.page.wait_for_timeout(50)
            self.page.reload()

    def tap(self, target: str, *, force: bool = False) -> None:
        """Tap, and wait for the click that the browser makes of it a little later."""
        before = self.page.evaluate("clicks")
        self.page.tap(target, force=force)
        self.page.evaluate(_AFTER_A_CLICK, before)

    def go(self, view: str) -> None:
        self.tap(f"[data-view={view}]")

    def add_bowler(self, bowler: str, hand: str = "right", *, alias: bool = False, name: str = "") -> None:
        self.go("people")
        self.unfold("add-bowler")
        if alias:
            self.page.check("#bowler-form [name=alias]")
        elif name:
            self.page.fill("#bowler-form [name=name]", name)
        self.page.fill("#bowler-form [name=bowler]", bowler)
        self.page.select_option("#bowler-form [name=hand]", hand)
        self.tap("#bowler-form button")

    def add_ball(self, bowler: str, name: str, *, spare: bool = False) -> None:
        self.unfold("add-ball")
        self.page.select_option("#ball-form [name=bowler]", bowler)
        self.page.fill("#ball-form [name=name]", name)
        self.page.select_option("#ball-form [name=cover]", "polyester" if spare else "hybrid")
        if spare:
            self.page.check("#ball-form [name=spare_ball]")
        else:
            self.page.select_option("#ball-form [name=core]", "asymmetric")
        self.tap("#ball-form button")

    def begin(self, lanes: str = "11 12", **more: str) -> None:
        self.go("session")
        self.page.fill("#session-form [name=date]", "2026-10-07")
        self.page.fill("#session-form [name=lanes]", lanes)
        for name, value in more.items():
            if name == "pattern":
                self.page.check("#session-form [name=posted][value=yes]")
            self.page.fill(f"#session-form [name={name}]", value)
        self.tap("#session-form > button")

    def unfold(self, box: str) -> None:
        """Open a part that is folded up."""
        if self.page.locator(f"#{box}").get_attribute("open") is None:
            self.tap(f"#{box} > summary")

    def touch(self, shot: Shot, board: int | None = 12) -> None:
        """One delivery by touch: what stands, then the board, which records; without a board, Record."""
        standing, foul = shot
        if foul:
            self.tap("#foul")
        elif standing == 0:
            self.tap("#all-down")
        else:
            for pin in pins(standing):
                self.tap(f"[data-pin='{pin}']")
        if board is None:
            self.tap("#record")
        else:
            self.touch_board(board)

    def touch_board(self, board: int) -> None:
        box = self.page.locator("#arrow").bounding_box()
        assert box is not None
        share = (board - 1) / 38
        if self.page.locator("#arrow").get_attribute("dir") == "rtl":
            share = 1 - share
        place = 8 + share * (box["width"] - 16)  # the thumb of the strip is 16 px wide
        self.page.tap("#arrow", position={"x": place, "y": 20})  # makes no click

    def type(self, shot: Shot) -> None:
        """One delivery by keyboard."""
        standing, foul = shot
        keys = ["f"] if foul else ["x"] if standing == 0 else [str(pin % 10) for pin in pins(standing)]
        for key in [*keys, "Enter"]:
            self.page.keyboard.press(key)

    def turn(self) -> str:
        return self.page.locator("#turn").text_content() or ""

    def marked(self) -> list[int]:
        """Pins marked as standing."""
        marked = self.page.locator("[data-pin][aria-pressed=true]").all()
        return sorted(int(pin.get_attribute("data-pin") or 0) for pin in marked)

    def due(self) -> str:
        return self.page.locator("#due").inner_text()

    def where(self) -> str:
        return self.page.locator("#where").inner_text()

    def save(self) -> list[Path]:
        """Save every file that the page offers."""
        self.go("files")
        saved = []
        for link in self.page.locator("#links a").all():
            with self.page.expect_download() as download:
                link.tap()
            saved.append(self.folder / download.value.suggested_filename)
            download.value.save_as(saved[-1])
        return saved

    def load(self) -> LoadReport:
        """Save, then run the real load on what was saved."""
        self.save()
        return load_folder(self.folder, self.folder.parent / "season.duckdb")

    def rows(self) -> list[dict[str, str]]:
        """Rows of the shots files saved."""
        paths = sorted(self.folder.glob("shots*.csv"))
        return [row for path in paths for row in csv.DictReader(path.open(encoding="utf-8", newline=""))]

    def scores(self) -> list[float]:
        """Scores of the complete games, as the product counts them from what was loaded."""
        with open_season(self.folder.parent / "season.duckdb", Settings()) as season:
            return [float(score) for score in season.frame("cells/game_scores")["score"].dropna()]

    def stored(self, columns: str) -> list[tuple[object, ...]]:
        """Columns of the deliveries loaded, in the order bowled."""
        return self.season(f"SELECT {columns} FROM deliveries ORDER BY bowler, game, frame, delivery")

    def season(self, query: str) -> list[tuple[object, ...]]:
        """Rows of the database that the files saved were loaded into."""
        with duckdb.connect(str(self.folder.parent / "season.duckdb"), read_only=True) as connection:
            return connection.execute(query).fetchall()


def felling(count: int, facing: int = FULL_RACK) -> Shot:
    """A delivery that fells the ``count`` lowest pins of those it faces."""
    up = pins(facing)[count:]
    return sum(1 << (pin - 1) for pin in up), False


def game_of(counts: Sequence[int | None]) -> list[Shot]:
    """A game with these counts; None is a foul."""
    shots: list[Shot] = []
    facing, frame, ball = FULL_RACK, 1, 1
    for count in counts:
        shot = (facing, True) if count is None else felling(count, facing)
        shots.append(shot)
        ball += 1
        if shot[0] == 0:
            facing = FULL_RACK
            frame, ball = (frame, ball) if frame == 10 else (frame + 1, 1)
        elif frame < 10 and ball == 3:
            facing, frame, ball = FULL_RACK, frame + 1, 1
        else:
            facing = shot[0]
    return shots
