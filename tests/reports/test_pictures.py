"""Pictures and charts draw what their tables say: marks are read back from the page and set beside the values."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Locator, Page

from reports.charts import figures, specs
from reports.html import lane
from reports.style import wording
from reports.views.arsenal import restarts
from reports.views.lead_pictures import lead_finding
from tests.reports import factory

pytestmark = pytest.mark.browser

TABLE = """figure => [...figure.querySelectorAll('tbody tr:not(.group)')].map(row => [...row.cells].map(
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
    elements = page.locator(query).all()
    assert elements
    return elements


def test_discs_of_the_leaders_have_the_area_of_their_chance(page: Page, small_reports: Path) -> None:
    """The radius of certainty is 18; the disc advised is at least large enough for its number."""
    for figure in _figures(page, small_reports, "transition", ".leads-picture:visible"):
        rows = {(wording.shorten(row[1], 24), row[0]): row for row in figure.evaluate(TABLE)}
        marks = figure.evaluate(MARKS)
        assert marks
        for mark in marks:
            words = re.match(r"(.*), (?:moving with the lane|.* kept), game (\d+):", mark["tip"])
            assert words is not None
            row = rows[words[1], words[2]]
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
        match = re.search(r"start over board (\d+) at the arrows", figure.inner_text())
        strong = [row for row in figure.evaluate(TABLE) if row[2] == "strong"]
        assert (match is None) == (not strong)
        assert match is None or float(match[1]) == round(float(strong[0][4]))


@dataclass(frozen=True)
class Drawn:
    """A kind of chart: its page, how its ids begin, and the columns of its table drawn along, up, and as crosses."""

    page: str
    begins: str
    along: int
    up: int
    raw: int | None = None


CHARTS = {
    "entry": Drawn("season", "entry-", 0, 1, 2),
    "season": Drawn("season", "season-", 0, 3),
    "curves": Drawn("transition", "curve-", 2, 3),
    "ball life": Drawn("arsenal", "age-", 0, 1, 2),
    "calibration": Drawn("method", "calibration", 1, 2),
}


def _number(text: str) -> float:
    """A value of a table; dates as days."""
    return float(dt.date.fromisoformat(text).toordinal()) if text.count("-") == 2 else float(text)


def _on_a_line(values: list[float], places: list[float]) -> float:
    """The slope of a straight line through (value, place), to half a unit of the drawing."""
    slope, start = np.polyfit(values, places, 1)
    assert np.abs(start + slope * np.array(values) - places).max() < 0.5
    return float(slope)


@pytest.mark.parametrize("kind", CHARTS)
def test_points_and_crosses_of_a_chart_stand_where_the_table_says(page: Page, small_reports: Path, kind: str) -> None:
    """Places on the page are a straight line of the table's values, along and up."""
    of = CHARTS[kind]
    for figure in _figures(page, small_reports, of.page, f"figure.chart[id^='{of.begins}']:visible"):
        rows = figure.evaluate(TABLE)
        marks = [mark for mark in figure.evaluate(MARKS) if mark["at"]]
        crosses = [mark for mark in marks if "as logged" in mark["tip"]]
        drawn = [(rows, of.up, [mark for mark in marks if mark not in crosses])]
        drawn += [] if of.raw is None else [(rows, of.raw, crosses)]
        lines = []
        for table, up, value in drawn:
            shown = [row for row in table if row[up] not in ("", "none")]
            assert len(shown) == len(value) > 1
            along = [_number(row[of.along]) for row in shown]
            assert _on_a_line(along, [float(mark["at"][0]) for mark in value]) > 0
            lines.append(_on_a_line([float(row[up]) for row in shown], [float(mark["at"][1]) for mark in value]))
        assert all(slope < 0 for slope in lines) and lines == pytest.approx([lines[0]] * len(lines), rel=0.02)


def test_bars_of_scores_are_as_tall_as_their_probability(page: Page, small_reports: Path) -> None:
    boxes = """figure => [...figure.querySelectorAll('.plot [data-tip]')].map(mark => {
      const box = mark.getBBox(); return [mark.dataset.tip.split(':')[0], box.x, box.y, box.width, box.height]; })"""
    for figure in _figures(page, small_reports, "plan", "figure.chart[id^='scores-']:visible"):
        table = {row[0]: float(row[1]) for row in figure.evaluate(TABLE)}
        bars = [bar for bar in figure.evaluate(boxes) if bar[0] in table]
        assert len(bars) == len(table) > 5
        assert _on_a_line([table[bar[0]] for bar in bars], [bar[4] for bar in bars]) > 0
        foot = {round(bar[2] + bar[4], 1) for bar in bars}
        assert len(foot) == 1 and len({round(bar[3], 1) for bar in bars}) == 1  # one ground, one width
        assert _on_a_line([float(bar[0].split(" ")[0]) for bar in bars], [bar[1] for bar in bars]) > 0


def test_what_lies_off_the_scale_is_an_arrow_at_its_edge() -> None:
    """Nothing on or beyond the ends of an axis is cut: the plot has room around them."""
    points = next(item for item in factory.season().curves if item.bowler == "b1").points
    scale = figures.WorthScale(-10.0, 10.0)
    far = [point.model_copy(update={"raw": raw}) for point, raw in zip(points, [10.0, 60.0, -80.0], strict=False)]
    drawn = str(figures.worth_curves([far], scale, "games", (1.0, 8.0)))
    heights = {
        name: [float(y) for y in re.findall(rf'<path transform="translate\([\d.]+,([\d.]+)\)"[^>]*d="{shape}', drawn)]
        for name, shape in (("cross", "M-[\\d.]+,-[\\d.]+L[\\d.]+,[\\d.]+M"), ("arrow", "M-[\\d.]+,-?[\\d.]+L0,"))
    }
    top, bottom = 5.0, specs.HEIGHT - 5.0
    assert heights["cross"] == pytest.approx([top])
    assert sorted(heights["arrow"]) == pytest.approx([top, bottom])


def test_every_plot_answers_to_a_pointer_a_finger_and_keys(browser: Browser, small_reports: Path) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 760}, has_touch=True)
    page = context.new_page()
    for name in ("season", "transition", "arsenal", "plan", "person", "method"):
        page.goto((small_reports / f"{name}.html").as_uri() + "#bowler=b3")
        plots = page.locator(".plot:visible").all()
        assert plots
        for plot in plots:
            plot.scroll_into_view_if_needed()
            for act in ("hover", "tap", "press"):
                page.keyboard.press("Escape")
                if act == "press":  # a finger comes from the plot before, which has the focus
                    plot.focus()
                assert not page.locator("#tip").is_visible()
                getattr(plot, act)(**({"key": "ArrowRight"} if act == "press" else {}))
                assert page.locator("#tip").is_visible(), (name, plot.get_attribute("aria-label"))
                elements = page.locator("#tip").inner_text()
                assert re.search(r"\d", elements)
                label = plot.locator("xpath=..").get_attribute("id") or ""
                if not label.startswith(("scores-", "lane-", "leads-")):
                    assert "shots" in elements or "games" in elements, elements
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
