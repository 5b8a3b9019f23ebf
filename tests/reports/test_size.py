"""How much each page asks of one bowler: words in view, height on a phone, and sentences that stay short."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.reports import factory
from tests.reports.test_browser import FILES

pytestmark = pytest.mark.browser

MOST_PIXELS = 8000
MOST_WORDS = {
    "index": 440,
    "season": 850,
    "transition": 670,
    "arsenal": 740,
    "students": 375,
    "person": 220,
    "plan": 400,
    "method": 720,
}
"""Half of what the pages said to one bowler of the sample season before, except the first page and the plan."""
MOST_WORDS_IN_A_FINDING = 25

IN_VIEW = "document.querySelector('main').innerText.split(/\\s+/).filter(part => /[A-Za-z]{2}/.test(part)).length"


@pytest.fixture
def phone(browser: Browser, small_reports: Path) -> Page:
    return browser.new_page(viewport={"width": 360, "height": 760})


@pytest.mark.parametrize("name", FILES)
def test_a_page_for_one_bowler_is_short(phone: Page, small_reports: Path, name: str) -> None:
    phone.goto((small_reports / f"{name}.html").as_uri() + "#bowler=b3")
    height, words = phone.evaluate("document.documentElement.scrollHeight"), phone.evaluate(IN_VIEW)
    phone.close()
    assert height < MOST_PIXELS, height
    assert words <= MOST_WORDS[name], words


@pytest.mark.parametrize("name", FILES)
def test_findings_are_one_short_sentence(phone: Page, small_reports: Path, name: str) -> None:
    phone.goto((small_reports / f"{name}.html").as_uri() + "#bowler=b3")
    findings = phone.locator(".finding:visible, .lead:visible, .say:visible").all_inner_texts()
    phone.close()
    long = [text for text in findings if len(text.split()) > MOST_WORDS_IN_A_FINDING and ". " not in text]
    assert long == []


@pytest.mark.parametrize("width, height", [(1280, 800), (360, 740)])
@pytest.mark.parametrize("choice, blocks", [("", "#answers-all, #answers-lists"), ("#bowler=b3", ".asked")])
def test_the_first_screen_answers_four_questions(
    browser: Browser, small_reports: Path, width: int, height: int, choice: str, blocks: str
) -> None:
    page = browser.new_page(viewport={"width": width, "height": height})
    page.goto((small_reports / "index.html").as_uri() + choice)
    shown = page.locator(f":is({blocks}):visible").inner_text()
    for question in ("What do I throw first", "Which ball do I resurface", "What do I practise", "better at spares?"):
        assert question in shown
    assert "long pattern" in shown
    cells = page.locator(f":is({blocks}):visible :is(td, dd, li):visible")
    assert max(cells.evaluate_all("items => items.map(item => item.getBoundingClientRect().bottom)")) <= height
    page.close()


def test_the_phone_ranks_bowlers_by_what_matters(phone: Page, reports: Path) -> None:
    """Most pins to gain first, and the rank stands before the name; spares by what is made."""
    phone.goto((reports / "index.html").as_uri())
    gains = phone.locator("#answers-lists .drills li small").all_inner_texts()
    values = [float(text.split(":")[0].replace("\u2212", "-")) for text in gains]
    assert len(values) > 2 and values == sorted(values, reverse=True)
    assert phone.locator("#answers-lists .drills").evaluate("list => getComputedStyle(list).listStyleType") == "decimal"
    spares = phone.locator("#answers-lists .order li").all_inner_texts()
    assert [text.split(".")[0] for text in spares] == [str(place) for place in range(1, len(spares) + 1)]
    made = [float(text.split()[-2]) for text in spares]
    assert made == sorted(made, reverse=True)
    phone.close()


def test_long_tables_fold_by_what_their_rows_say(phone: Page, reports: Path) -> None:
    """With everyone shown, the skills are more than 12 rows: one line for each skill, opened on request."""
    phone.goto((reports / "students.html").as_uri())
    folds = phone.locator("#skills-table tr.group button")
    assert folds.count() == len({row.split(":")[0] for row in folds.all_inner_texts()}) > 1
    assert phone.locator("#skills-table tbody tr:not(.group):visible").count() == 0
    folds.first.focus()
    phone.keyboard.press("Enter")
    assert folds.first.get_attribute("aria-expanded") == "true"
    assert phone.locator("#skills-table tbody tr:not(.group):visible").count() > 1
    phone.close()


ONE_AXIS = ("entry-data-", "scores-data-", "age-data-", "calibration-data")
"""Tables of numbers along one axis, behind a chart, whose rows have no groups to fold by."""


@pytest.mark.parametrize("name", FILES)
def test_no_table_of_more_than_twelve_rows_lies_open(phone: Page, reports: Path, name: str) -> None:
    """For everyone and for one, with all that is folded opened: what is longer shows a line for each group."""
    rows = """() => [...document.querySelectorAll('main table[id]')].filter(table => {
      const rows = [...table.tBodies[0].rows].filter(row => row.checkVisibility({contentVisibilityAuto: true}));
      return rows.length > 12 && !rows.some(row => row.classList.contains('group')); }).map(table => table.id)"""
    for choice in ("", "#bowler=b1"):
        phone.goto("about:blank")
        phone.goto((reports / f"{name}.html").as_uri() + choice)
        phone.evaluate("for (const item of document.querySelectorAll('main details')) { item.open = true; }")
        assert [key for key in phone.evaluate(rows) if not key.startswith(ONE_AXIS)] == []
    phone.close()


def test_the_work_list_is_sorted_by_a_column_in_view_and_by_any_on_a_key(phone: Page, reports: Path) -> None:
    phone.goto((reports / "arsenal.html").as_uri() + "#bowler=b1")
    values = (
        "(at) => [...document.querySelectorAll('#work-list tbody tr:not(.group)')].filter(row => !row.hidden)"
        ".map(row => Number(row.cells[at].dataset.v ?? row.cells[at].textContent.replace(',', '')))"
    )
    head = phone.locator("#work-list thead th[aria-sort]")
    assert head.get_attribute("aria-sort") == "descending"
    at = head.evaluate("cell => cell.cellIndex")
    assert phone.evaluate(values, at) == sorted(phone.evaluate(values, at), reverse=True)
    shots = phone.locator("#work-list thead th").last
    column = shots.evaluate("cell => cell.cellIndex")
    for order, falling in (("descending", True), ("ascending", False)):
        shots.locator("button").evaluate("button => button.focus()")
        phone.keyboard.press("Enter")
        assert shots.get_attribute("aria-sort") == order
        assert phone.evaluate(values, column) == sorted(phone.evaluate(values, column), reverse=falling)
    phone.close()


def test_the_work_list_of_everyone_opens_at_the_costliest_and_a_fold_shuts_it(phone: Page, reports: Path) -> None:
    phone.goto((reports / "arsenal.html").as_uri())
    shown = phone.locator("#work-list tbody tr:not(.group):visible")
    folds = phone.locator("#work-list tr.group button")
    dearest = max(factory.season().arsenal_tasks, key=lambda item: item.pins_a_season)
    assert folds.count() > 1 and dearest.ball_name in shown.first.inner_text()
    folds.first.click()
    assert folds.first.get_attribute("aria-expanded") == "false" and shown.count() == 0
    phone.close()


def test_a_link_to_the_evidence_opens_it_for_its_bowler(phone: Page, reports: Path) -> None:
    phone.goto((reports / "index.html").as_uri())
    link = phone.locator("ol.todo:visible li:visible a.go[href^='season']").first
    link.click()
    phone.wait_for_load_state("load")
    chosen = phone.locator("#by-bowler").input_value()
    assert chosen and f"bowler={chosen}" in phone.url
    place = phone.url.split("#")[1].split("&")[0]
    assert phone.locator(f"[id='{place}'] details.evidence").first.get_attribute("open") is not None
    phone.goto((reports / "index.html").as_uri())
    phone.emulate_media(media="print")  # paper keeps what the links say
    assert phone.locator("ol.todo:visible li:visible .say a").first.is_visible()
    phone.close()


def test_only_filters_that_do_something_are_shown(phone: Page, small_reports: Path) -> None:
    phone.goto((small_reports / "students.html").as_uri())
    assert phone.locator("#by-bowler").is_visible()
    assert not phone.locator("#by-pattern").is_visible()
    assert not phone.locator("#by-phase").is_visible()
    phone.goto((small_reports / "season.html").as_uri())
    assert phone.locator("#by-pattern").is_visible() and not phone.locator("#by-phase").is_visible()
    phone.locator("#throws ~ details.person > summary").first.click()  # its cards stand by phase
    phone.locator("#by-phase").wait_for(state="visible")  # the page hears of it a moment after the click
    phone.close()


def test_a_filter_goes_where_it_does_nothing_for_the_bowler_chosen(phone: Page, reports: Path) -> None:
    """On the arsenal page patterns and phases belong to gaps, which one bowler of the invented season has."""
    gaps = {item.bowler for item in factory.season().gaps}
    without = next(bowler for bowler in factory.BOWLERS if bowler not in gaps)
    phone.goto((reports / "arsenal.html").as_uri())
    for bowler, shown in ((without, False), (next(iter(gaps)), True), ("", True)):
        phone.select_option("#by-bowler", bowler)
        for field in ("pattern", "phase"):
            assert phone.locator(f"#by-{field}").is_visible() == shown
    phone.select_option("#by-pattern", factory.season().gaps[0].pattern_class)
    phone.select_option("#by-bowler", without)
    assert factory.season().gaps[0].pattern_class not in phone.locator("#shown").inner_text()  # it changes nothing
    phone.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_one_bowler_prints_on_one_sheet_with_the_name(
    browser: Browser, reports: Path, tmp_path: Path, paper: str
) -> None:
    """And everyone on a sheet each."""
    from pypdf import PdfReader

    people = factory.season().summary.bowlers
    page = browser.new_page(viewport={"width": 900, "height": 1100})
    for card, sheets in ((next(card for card in people if card.bowler == "b3"), 1), (None, len(people))):
        page.goto("about:blank")
        page.goto((reports / "person.html").as_uri() + (f"#bowler={card.bowler}" if card else ""))
        page.pdf(path=tmp_path / "sheet.pdf", format=paper, print_background=True)
        texts = [sheet.extract_text() for sheet in PdfReader(tmp_path / "sheet.pdf").pages]
        assert len(texts) == sheets
        if card:
            assert card.name in texts[0] and "The one thing to practise" in texts[0]
            assert not any(other.name in texts[0] for other in people if other.bowler != card.bowler)
    page.close()


@pytest.mark.parametrize("name", [name for name in FILES if name not in ("index", "method")])
def test_a_filtered_page_on_paper_names_its_bowler_and_nobody_else(
    browser: Browser, small_reports: Path, tmp_path: Path, name: str
) -> None:
    from pypdf import PdfReader

    people = {card.bowler: card.name for card in factory.season().summary.bowlers}
    page = browser.new_page(viewport={"width": 900, "height": 1100})
    page.goto((small_reports / f"{name}.html").as_uri() + "#bowler=b3")
    page.pdf(path=tmp_path / "page.pdf", format="A4", print_background=True)
    page.close()
    texts = [sheet.extract_text() for sheet in PdfReader(tmp_path / "page.pdf").pages]
    assert people["b3"] in texts[0]
    if name != "students":  # who is better than whom names both
        assert not any(people["b1"] in text for text in texts)


@pytest.mark.parametrize("name", FILES)
def test_nothing_is_wider_than_the_paper(browser: Browser, reports: Path, name: str) -> None:
    """A sheet of A4 less its margins of 14 mm is 688 pixels wide; a whole class stands on it."""
    page = browser.new_page(viewport={"width": 688, "height": 1000})
    page.emulate_media(media="print")
    page.goto((reports / f"{name}.html").as_uri())
    wide = (
        "[...document.querySelectorAll('main *')].filter(item => item.getBoundingClientRect().right > 689"
        " && !item.closest('details:not([open])')).map(item => item.tagName + ' ' + item.textContent.slice(0, 40))"
    )
    assert page.evaluate(wide) == []
    page.close()
