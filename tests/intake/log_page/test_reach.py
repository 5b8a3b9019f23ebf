"""The page in the hand: what a delivery needs is in sight, large enough and stays where it is; and it can be read."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe

from pipeline.sport.leaves import from_pins
from tests.intake.log_page.phone import Phone

pytestmark = pytest.mark.browser

Ready = Callable[..., Phone]
LEAST_TARGET = 44
"""CSS pixels: Web Content Accessibility Guidelines 2.2, success criterion 2.5.5 (level AAA), from memory."""
_BOXES = """() => Object.fromEntries(
    [...document.querySelectorAll("button, input, select, summary, a")].filter((part) => part.checkVisibility())
        .map((part, at) => {
            const target = part.closest("label.tick") ?? part;
            const box = target.getBoundingClientRect();
            const name = `${at} ${part.id || part.name || part.dataset.pin || part.textContent}`;
            return [name, [box.left, box.top, box.width, box.height]];
        }))"""
_HIDDEN = """(touched) => [...document.querySelectorAll(touched)].filter((part) => {
    const box = part.getBoundingClientRect();
    const inner = [[box.left + 3, box.top + 3], [box.right - 3, box.bottom - 3]];
    return !inner.every(([x, y]) => part === document.elementFromPoint(x, y)?.closest(touched));
}).map((part) => part.outerHTML)"""
_TOUCHED = "#deck button, #bag button, #arrow, #usual button, #players button, #undo, #record"


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("height", [640, 740])
def test_a_delivery_needs_no_scrolling(ready: Ready, height: int, hand: str) -> None:
    """Two bowlers, eight balls, boards to repeat and a message: each touch reaches what it aims at, as it lies."""
    phone = ready(("wren", hand), ("tarn", "right"))
    phone.go("people")
    for name in ("Fern", "Old Ridge pearl", "Slate", "Loam", "Heather in the morning", "Ash"):
        phone.add_ball("wren", name)
    phone.page.set_viewport_size({"width": 360, "height": height})
    phone.go("log")
    phone.touch((from_pins([7, 10]), False), 12)
    phone.touch((0, False), 30)
    phone.tap("#players button:has-text('wren')")
    phone.touch((from_pins([10]), False), 14)
    assert phone.page.evaluate(_HIDDEN, _TOUCHED) == []
    assert phone.page.evaluate("scrollY") == 0


def test_the_left_hand_finds_all_in_place(ready: Ready) -> None:
    """Held in the left hand, the deck keeps its pins and turns only what lies about them; nothing overlaps."""
    phone = ready(("wren", "right"), ("tarn", "right"))
    places = "() => [...document.querySelectorAll('[data-pin]')].map((pin) => pin.getBoundingClientRect().x)"
    pins = phone.page.evaluate(places)
    phone.unfold("keys")
    phone.page.check("#left-thumb")
    phone.close_and_open()
    assert phone.page.evaluate(places) == pins
    strike, foul = (phone.page.locator(part).bounding_box() for part in ("#all-down", "#foul"))
    assert strike and foul and strike["x"] < 30 < 200 < foul["x"]
    assert phone.page.evaluate(_HIDDEN, _TOUCHED) == []


@pytest.mark.parametrize("view", ["people", "session", "log", "files"])
def test_every_target_is_large_enough(ready: Ready, view: str) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.touch((from_pins([10]), False))
    phone.go(view)
    phone.page.evaluate("document.querySelectorAll('details').forEach((box) => (box.open = true))")
    boxes = phone.page.evaluate(_BOXES)
    small = {name: box for name, box in boxes.items() if min(box[2], box[3]) < LEAST_TARGET}
    assert len(boxes) > 4 and small == {}


def test_marking_moves_nothing(ready: Ready) -> None:
    """No mark, choice or message shifts or widens anything on the screen of a delivery."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.touch((from_pins([10]), False))
    before = phone.page.evaluate(_BOXES)
    for part in ("[data-pin='10']", "#all-down", "#none-fell", "#foul", "#bag button:nth-child(1)", "#undo"):
        phone.tap(part)
        if part != "#undo":
            assert phone.page.evaluate(_BOXES) == before, part
    before = phone.page.evaluate(_BOXES)
    phone.tap("#players button:nth-child(2)")
    phone.tap("#players button:nth-child(1)")
    assert phone.page.evaluate(_BOXES) == before


def test_nothing_flickers_under_a_finger(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    styles = phone.page.evaluate(
        """() => [...document.querySelectorAll("button, input")].map((part) => {
            const style = getComputedStyle(part);
            return [style.transitionDuration, style.animationName, style.webkitTapHighlightColor].join(" ");
        })"""
    )
    assert set(styles) == {"0s none rgba(0, 0, 0, 0)"}


@pytest.mark.parametrize("colours", ["light", "dark"])
@pytest.mark.parametrize("view", ["people", "session", "log", "files"])
def test_it_can_be_read_and_reached(ready: Ready, view: str, colours: str) -> None:
    """By axe-core's rules of the Web Content Accessibility Guidelines, contrast among them; no wider than the phone.

    320 pixels are those of the guidelines' success criterion 1.4.10 (from memory).
    """
    phone = ready(("wren", "right"), ("an-alias-of-thirty-characters-", "left"))
    phone.touch((from_pins([3, 10]), False))
    phone.tap("[data-pin='10']")
    phone.page.emulate_media(color_scheme="dark" if colours == "dark" else "light")
    phone.go(view)
    phone.page.evaluate("document.querySelectorAll('details').forEach((box) => (box.open = true))")
    ground = phone.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert (int(ground[4:].split(",")[0]) < 64) == (colours == "dark")
    violations = Axe().run(phone.page).response["violations"]
    assert [(item["id"], item["nodes"][0]["html"][:120]) for item in violations] == []
    for width in (360, 320):
        phone.page.set_viewport_size({"width": width, "height": 640})
        assert phone.page.evaluate("document.documentElement.scrollWidth") == width


def test_the_colours_can_be_set_against_the_phone(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.page.emulate_media(color_scheme="light")
    phone.page.evaluate("document.getElementById('keys').open = true")
    phone.page.select_option("#colours", "dark")
    dark = phone.page.evaluate("getComputedStyle(document.body).backgroundColor")
    phone.close_and_open()
    assert phone.page.evaluate("getComputedStyle(document.body).backgroundColor") == dark
    phone.page.emulate_media(color_scheme="dark")
    phone.page.evaluate("document.getElementById('keys').open = true")
    phone.page.select_option("#colours", "light")
    assert phone.page.evaluate("getComputedStyle(document.body).backgroundColor") != dark


@pytest.mark.parametrize("hand", ["right", "left"])
def test_three_touches_record_a_delivery(ready: Ready, hand: str) -> None:
    phone = ready(("wren", hand))
    phone.tap("[data-pin='10']")
    phone.tap("#bag button:has-text('Chalk')")
    phone.touch_board(17)
    assert phone.due() == "frame 1, delivery 2"
    assert phone.page.locator("#said").inner_text() == "Recorded: wren, 10, Chalk, board 17."
    assert phone.load().rows_quarantined == 0
    assert phone.rows()[0]["arrow_board"] == "17"
