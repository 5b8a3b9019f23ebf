"""Pictures and charts draw what their tables say: marks are read back from the page and set beside the values."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Locator, Page

from reports.html import lane
from reports.style import wording
from reports.views.arsenal import restarts
from reports.views.pictures import lead_finding
from tests.reports import factory

pytestmark = pytest.mark.browser

TABLE = """figure => [...figure.querySelectorAll('tbody tr')].map(row => [...row.cells].map(
  cell => cell.dataset.v ?? cell.textContent.trim()))"""
MARKS = """figure => [...figure.querySelectorAll('.plot [data-tip]')].map(mark => ({
  tip: mark.dataset.tip, r: Number(mark.getAttribute('r')), cx: Number(mark.getAttribute('cx')),
  cy: Number(mark.getAttribute('cy')), kind: mark.getAttribute('class') || '',
  at: (mark.getAttribute('transform') || '').match(/-?[\\d.]+/g)}))"""


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    yield page
    page.close()


def _figures(page: Page, reports: Path, name: str, query: str) -> list[Locator]:
    page.goto((reports / f"{name}.html").as_uri() + "#bowler=b3")
    found = page.locator(query).all()
    assert found
    return found


def test_discs_of_the_leaders_have_the_area_of_their_chance(page: Page, small_reports: Path) -> None:
    """The radius of certainty is 18; the disc advised is at least large enough for its number."""
    for figure in _figures(page, small_reports, "transition", ".leads-picture:visible"):
        rows = {(wording.shorten(row[1], 24), row[0]): row for row in figure.evaluate(TABLE)}
        marks = figure.evaluate(MARKS)
        assert marks
        for mark in marks:
            told = re.match(r"(.*), (?:moving with the lane|.* kept), game (\d+):", mark["tip"])
            assert told is not None
            row = rows[told[1], told[2]]
            least = 9.0 if row[3] == "advised" else 1.2
            assert mark["r"] == pytest.approx(max(18 * float(row[5]) ** 0.5, least), abs=0.01)
            assert mark["kind"] == ("lead-on" if row[3] == "advised" else "lead-off")
        full = [mark for mark in marks if mark["kind"] == "lead-on"]
        assert len(full) == len({game for _, game in rows})


@pytest.mark.parametrize("name", ["season", "plan"])
def test_dots_on_the_lane_stand_on_their_boards(page: Page, small_reports: Path, name: str) -> None:
    hands = {card.bowler: card.hand for card in factory.season().summary.bowlers}
    left = hands["b3"] == "left"
    for figure in _figures(page, small_reports, name, ".lane-picture:visible"):
        drawn = sorted((m["cx"] / 10, m["cy"], m["kind"]) for m in figure.evaluate(MARKS))
        expected = []
        for row in figure.evaluate(TABLE):
            kind = "lane-best-dot" if row[2] == "strong" else "lane-thrown-dot"
            boards = ((0.0, row[3]), (lane.ARROWS_FT, row[4]), (row[6], row[5]), (lane.HEAD_PIN_FT, row[7]))
            expected += [
                (float(feet), lane.board_y(float(board), left), kind)
                for feet, board in boards
                if board != "not logged" and feet != "not logged"
            ]
        for one, other in zip(drawn, sorted(expected), strict=True):
            assert one[:2] == pytest.approx(other[:2], abs=0.06) and one[2] == other[2]
        told = re.search(r"start over board (\d+) at the arrows", figure.inner_text())
        strong = [row for row in figure.evaluate(TABLE) if row[2] == "strong"]
        assert (told is None) == (not strong)
        assert told is None or float(told[1]) == round(float(strong[0][4]))


@pytest.mark.parametrize(
    ("name", "value"), [("season", 1), ("transition", 3), ("arsenal", 1)], ids=["entry", "curves", "ball life"]
)
def test_points_of_a_chart_stand_where_the_table_says(page: Page, small_reports: Path, name: str, value: int) -> None:
    """Heights on the page are a straight line of the table's values, to half a unit of the drawing."""
    kind = {"season": "entry-", "transition": "curve-", "arsenal": "age-"}[name]
    for figure in _figures(page, small_reports, name, f"figure.chart[id^='{kind}']:visible"):
        rows = [row for row in figure.evaluate(TABLE) if row[value] != ""]
        marks = [m for m in figure.evaluate(MARKS) if "as logged" not in m["tip"] and m["at"]][: len(rows)]
        heights = [float(m["at"][1]) for m in marks]
        values = [float(row[value]) for row in rows]
        assert len(heights) == len(values)
        slope, start = np.polyfit(values, heights, 1)
        assert slope < 0
        assert np.abs(start + slope * np.array(values) - heights).max() < 0.5


def test_every_plot_answers_to_a_pointer_a_finger_and_keys(browser: Browser, small_reports: Path) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 760}, has_touch=True)
    page = context.new_page()
    for name in ("season", "transition", "arsenal", "plan", "method"):
        page.goto((small_reports / f"{name}.html").as_uri() + "#bowler=b3")
        for plot in page.locator(".plot:visible").all():
            plot.scroll_into_view_if_needed()
            for act in ("hover", "tap", "press"):
                page.keyboard.press("Escape")
                plot.focus()
                assert not page.locator("#tip").is_visible()
                getattr(plot, act)(**({"key": "ArrowRight"} if act == "press" else {}))
                assert page.locator("#tip").is_visible(), (name, plot.get_attribute("aria-label"))
                assert re.search(r"\d", page.locator("#tip").inner_text())
    context.close()


def test_the_count_restarts_where_the_ball_was_resurfaced() -> None:
    ball = next(item for item in factory.season().arsenal if item.care)
    assert restarts(ball) == [ball.games_total - ball.games_since_resurface]
    twice = ball.model_copy(
        update={"care": [*ball.care, ball.care[0].model_copy(update={"date": ball.care[0].date.replace(year=2027)})]}
    )
    assert restarts(twice) == pytest.approx([52.0, 0.0])


def test_the_ball_advised_is_named_with_its_chance() -> None:
    items = [item for item in factory.season().leads if (item.bowler, item.pattern_class) == ("b1", "long")]
    advised = [item.model_copy(update={"ball": "amber", "ball_name": "A", "p_best": 0.8}) for item in items]
    assert lead_finding("long", advised) == "Long: A from game 1 (80 in 100)"
    later = {"ball": "cedar", "ball_name": "B", "p_best": 0.7}
    changed = [item.model_copy(update=later) if item.game > 2 else item for item in advised]
    assert lead_finding("long", changed) == "Long: A from game 1 (80 in 100), then B from game 3 (70 in 100)"
    alone = [item.model_copy(update={"p_best": None}) for item in advised]
    assert lead_finding("long", alone) == "Long: A from game 1"


def test_a_lane_is_as_wide_and_long_as_the_rules_say() -> None:
    """39 boards across; foul line to head pin 60 ft. Source: equipment rules of the sport (from memory)."""
    assert lane.board_y(1, False) > lane.board_y(39, False) and lane.board_y(1, True) < lane.board_y(39, True)
    assert lane.board_y(20, False) == pytest.approx(lane.board_y(20, True))
    path = lane.Path(None, 10, None, None, 17.5, True, "tip")
    drawing = lane.draw([lane.Lane("late", (path,))], False)
    assert "unlogged" in drawing and drawing.count("lane-pin") == 10 and drawing.count("lane-best-dot") == 2


def test_a_log_of_arrow_boards_alone_is_drawn_as_a_row_of_arrows() -> None:
    """Board 1 is at the bowler's own edge: on the right for a right-hander looking down the lane."""
    paths = (lane.Path(None, 10, None, None, None, True, "tip"), lane.Path(None, 14, None, None, None, False, "tip"))
    drawings = [str(lane.draw([lane.Lane("late", paths)], left)) for left in (False, True)]
    assert all("lane-pin" not in drawing and drawing.count("-dot") == 2 for drawing in drawings)
    for drawing, left in zip(drawings, (False, True), strict=True):
        best = float(re.findall(r'lane-best-dot" cx="([\d.]+)"', drawing)[0])
        assert best == pytest.approx(lane.board_x(10, left), abs=0.06)
    assert lane.board_x(1, False) > lane.board_x(39, False) and lane.board_x(1, True) < lane.board_x(39, True)
    entered = lane.Path(None, 10, None, None, 17.5, True, "tip")
    assert "lane-pin" in lane.draw([lane.Lane("fresh", paths), lane.Lane("late", (entered,))], False)
