"""The reports in headless Chromium: sealed, readable, operable, true to the filter, and whole on paper."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page

from tests.reports import factory
from tests.reports import invented_names as names

pytestmark = pytest.mark.browser

FILES = ("index", "season", "transition", "arsenal", "students", "person", "plan", "method")
MILLIMETRE = 96 / 25.4
# Printable height with the style sheet's 14 mm margins. Source of the sheet sizes: ISO 216 (A4), ANSI Y14.1 (Letter).
PAPER = {"A4": (210 - 28, 297 - 28), "Letter": (215.9 - 28, 279.4 - 28)}


CHART_WORDS = {
    "season": (("strikesperfirstball", "Band:80"), ("scorepergame", "Level:whatsuchshots")),
    "transition": (("pinspergameagainstownaverage", "Band:80"),),
    "arsenal": (("gamesontheball", "Strikesperfirstball"),),
    "plan": (("scoreofonegame", "Chanceofeachten"),),
    "method": (("observedstrikes", "Onthedottedline"),),
}
"""Report -> words of a chart's axis and of its caption, without spaces, for each kind of chart on it."""


class Watched:
    """A page whose requests and complaints are written down."""

    def __init__(self, context: BrowserContext) -> None:
        self.page = context.new_page()
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def open(self, reports: Path, name: str, place: str = "") -> Page:
        self.page.goto("about:blank")
        self.page.goto((reports / f"{name}.html").as_uri() + place)
        return self.page


@pytest.fixture
def watched(browser: Browser) -> Iterator[Watched]:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
    yield Watched(context)
    context.close()


@pytest.mark.parametrize("name", FILES)
def test_no_requests_and_no_complaints(watched: Watched, reports: Path, name: str) -> None:
    page = watched.open(reports, name)
    for summary in page.locator("summary:visible").all()[:5]:
        summary.click()
    assert [url for url in watched.requests if not url.startswith(("file:", "about:"))] == []
    assert len([url for url in watched.requests if url.startswith("file:")]) == 1
    assert watched.complaints == []
    assert page.title().startswith(page.locator("h1").inner_text())


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("name", FILES)
def test_accessible_and_no_sideways_scroll(browser: Browser, small_reports: Path, name: str, width: int) -> None:
    """Every axe rule in light colours; in dark ones the rule that depends on colour, at the width that shows all."""
    page = browser.new_page(viewport={"width": width, "height": 800}, color_scheme="light")
    page.goto((small_reports / f"{name}.html").as_uri() + "#bowler=b3")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    light = Axe().run(page)
    assert light.violations_count == 0, light.generate_report()
    if width == 1280:
        page.emulate_media(color_scheme="dark")
        dark = Axe().run(page, options={"runOnly": ["color-contrast"]})
        assert dark.violations_count == 0, dark.generate_report()
    page.close()


@pytest.mark.parametrize("name", FILES)
def test_long_names_do_not_widen_a_phone(browser: Browser, reports: Path, name: str) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 760})
    page.goto((reports / f"{name}.html").as_uri() + "#bowler=b6")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.close()


def test_filter_changes_the_numbers(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "season")
    cards = {card.bowler: card for card in factory.season().summary.bowlers}
    everyone = page.locator("#shown").inner_text()
    page.select_option("#by-bowler", "b4")
    tiles = page.locator(".tiles:visible dd").all_inner_texts()
    assert tiles == [str(cards["b4"].games), f"{cards['b4'].shots:,}", f"{cards['b4'].average:.1f}"]
    assert page.locator("#shown").inner_text() != everyone
    assert page.locator("[data-bowler]:visible:not([data-bowler=b4])").count() == 0
    assert page.locator(".grids:visible").count() == len(names.PATTERNS)
    page.select_option("#by-pattern", "long")
    page.select_option("#by-phase", "late")
    assert page.locator(".grids:visible").count() == 1
    assert page.locator(".answer:visible").count() == 1
    assert page.locator("#shown").inner_text() == ", ".join(
        page.locator(f"#by-{field} option:checked").inner_text() for field in ("bowler", "pattern", "phase")
    )
    page.click("#reset")
    assert page.locator("#shown").inner_text() == everyone
    page = watched.open(reports, "index", "#bowler=b4&pattern=long&phase=late")
    said = page.locator("ol.todo:visible li:visible .say").all_inner_texts()
    assert said
    assert not any(text.startswith(("On short", "On medium")) for text in said)


def test_a_row_about_two_students_shows_for_both(watched: Watched, reports: Path) -> None:
    for bowler, rows in (("b1", 1), ("b2", 1), ("b3", 1), ("b5", 0)):
        page = watched.open(reports, "students", f"#bowler={bowler}")
        assert page.locator("#comparisons tbody tr:visible").count() == rows


def test_link_carries_filter_and_place(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "season", "#grids&bowler=b2&pattern=medium")
    assert page.locator("#by-bowler").input_value() == "b2"
    assert page.locator("#by-pattern").input_value() == "medium"
    assert page.locator("#grids").evaluate("item => Math.abs(item.getBoundingClientRect().top) < innerHeight")
    page.click("nav a:has-text('Arsenal')")
    page.wait_for_load_state("load")
    assert page.url.endswith("arsenal.html#bowler=b2&pattern=medium")
    assert page.locator("#by-bowler").input_value() == "b2"
    page.go_back(wait_until="load")
    assert page.locator("#by-pattern").input_value() == "medium"


def test_unknown_names_in_a_link_do_no_harm(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "season", "#bowler=<img src=x onerror=alert(1)>&phase=%E0%A4%A")
    assert page.locator("#by-bowler").input_value() == ""
    assert watched.complaints == []


def test_works_by_keyboard(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "transition", "#bowler=b1")
    page.locator("#by-bowler").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "by-pattern"
    plot = page.locator(".chart .plot:visible").first
    plot.focus()
    page.keyboard.press("ArrowRight")
    first = page.locator("#tip").inner_text()
    page.keyboard.press("ArrowRight")
    second = page.locator("#tip").inner_text()
    assert first.startswith("at 1:") and second.startswith("at 2:")
    assert "shots" in first and "80 %" in first
    page.keyboard.press("Escape")
    assert not page.locator("#tip").is_visible()


def test_a_grid_answers_to_arrow_keys_and_a_link_to_the_keyboard(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "students")
    page.locator(".sheet:has(> #class-grid)").focus()
    page.keyboard.press("ArrowRight")
    first = page.locator("#tip").inner_text()
    page.keyboard.press("ArrowRight")
    assert "80 %" in first and "shots" in first and page.locator("#tip").inner_text() != first
    page = watched.open(reports, "index")
    page.locator(".sheet:has(> #answers-all)").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('td, th') !== null")
    while not page.evaluate("document.activeElement.closest('td[data-tip]') !== null"):
        page.keyboard.press("Tab")
    assert "shots" in page.locator("#tip").inner_text()


def test_hover_says_interval_and_shots(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "season", "#grids&bowler=b1")
    page.locator(".grids:visible summary").first.click()
    page.locator(".heat:visible td[data-tip]").first.hover()
    assert "95 %:" in page.locator("#tip").inner_text()
    assert "shots" in page.locator("#tip").inner_text()


def test_dark_switch(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "index")
    ground = "getComputedStyle(document.body).backgroundColor"
    before = page.evaluate(ground)
    page.click("#scheme")
    assert page.evaluate(ground) != before
    assert page.locator("#scheme").get_attribute("aria-pressed") == "true"


def test_hostile_names_are_text(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "season")
    shown = page.locator("details.person h3").all_text_contents()
    for name in (
        names.SCRIPT,
        names.QUOTES,
        names.RIGHT_TO_LEFT,
        names.EMOJI,
        names.LONG,
        names.FORMULA,
    ):
        assert name in shown
    assert page.locator("main img").count() == 0
    assert page.title() != "broken"


def test_saved_csv_has_the_filtered_rows_and_no_formulas(watched: Watched, reports: Path) -> None:
    page = watched.open(reports, "index")
    page.goto((reports / "students.html").as_uri() + "#bowler=b7")
    with page.expect_download() as waiting:
        page.locator("button.save[data-table=skills-table]").click()
    text = Path(waiting.value.path()).read_text(encoding="utf-8-sig")
    rows = list(csv.reader(io.StringIO(text)))
    carry = next(item for item in factory.season().skills if item.bowler == "b7" and item.skill == "carry")
    mine = [row for row in rows[1:] if row[0] == "carry from the pocket"]
    assert len(rows) == 1 + len({item.skill for item in factory.season().skills}) and len(mine) == 1
    assert mine[0][1] == "'" + names.FORMULA
    assert float(mine[0][2]) == pytest.approx(carry.value.mean)


def test_readable_without_script(browser: Browser, reports: Path) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.goto((reports / "season.html").as_uri())
    assert page.locator("details.person:visible").count() > 0
    assert page.locator(".chart .plot svg:visible").count() == 2 * len(names.BOWLERS) + 1
    assert page.locator(".answer:visible").count() == 9 * len(names.BOWLERS)
    assert not page.locator("#filter").is_visible()
    assert page.locator("button:visible").count() == 0
    context.close()


@pytest.mark.parametrize("paper", PAPER)
@pytest.mark.parametrize("name", ["season", "transition", "arsenal", "plan", "method"])
def test_no_chart_is_cut_on_paper(browser: Browser, reports: Path, tmp_path: Path, name: str, paper: str) -> None:
    """Every figure forbids a break inside, fits one sheet, and lies on one sheet of the PDF from axis to caption."""
    from pypdf import PdfReader

    width, height = (side * MILLIMETRE for side in PAPER[paper])
    page = browser.new_page(viewport={"width": int(width), "height": int(height)})
    page.goto((reports / f"{name}.html").as_uri() + "#bowler=b1")
    target = tmp_path / "report.pdf"
    page.pdf(path=target, format=paper, print_background=True)
    page.emulate_media(media="print")
    boxes = page.locator("figure.chart:visible").evaluate_all(
        "items => items.map(item => [item.getBoundingClientRect().width, item.getBoundingClientRect().height,"
        " getComputedStyle(item).breakInside])"
    )
    page.close()
    assert boxes
    for wide, tall, rule in boxes:
        assert rule == "avoid"
        assert wide <= width + 1
        assert tall < height
    sheets = ["".join(unicodedata.normalize("NFKC", sheet.extract_text()).split()) for sheet in PdfReader(target).pages]
    assert sum(text.count(caption) for text in sheets for _, caption in CHART_WORDS[name]) == len(boxes)
    for text in sheets:
        for axis, caption in CHART_WORDS[name]:
            assert text.count(axis) == text.count(caption), "a chart's axis and its caption are on different sheets"


@pytest.mark.parametrize("paper", list(PAPER))
def test_a_plan_prints_on_one_sheet(browser: Browser, reports: Path, tmp_path: Path, paper: str) -> None:
    """The whole plan of one bowler on the first sheet, with the bowler's name; the practice session on the next."""
    from pypdf import PdfReader

    page = browser.new_page()
    page.goto((reports / "plan.html").as_uri() + "#bowler=b1")
    name = page.locator("#by-bowler option:checked").inner_text()
    page.pdf(path=tmp_path / "plan.pdf", format=paper, print_background=True)
    page.close()
    sheets = PdfReader(tmp_path / "plan.pdf").pages
    first, *others = [unicodedata.normalize("NFKC", " ".join(sheet.extract_text().split())) for sheet in sheets]
    assert len(others) == 1
    assert name.split()[0] in first and "games 1 to 2" in first and "Expect" in first
    assert "if the first ball fails" in first
    assert "in practice" not in first and "in practice" in others[0]
