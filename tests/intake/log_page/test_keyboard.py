"""The whole job by keyboard alone: from the empty page to a saved file that loads."""

from __future__ import annotations

import csv

import pytest

from tests.intake.log_page.phone import Phone, game_of

pytestmark = pytest.mark.browser

MOST_TABS = 60


def tab_to(phone: Phone, target: str) -> None:
    """Go on with the tab key until the focus is at the target, as somebody without a pointer does."""
    for _ in range(MOST_TABS):
        if phone.page.evaluate("(target) => Boolean(document.activeElement?.matches(target))", target):
            return
        phone.page.keyboard.press("Tab")
    raise AssertionError(f"{target} is not reached by {MOST_TABS} tabs")


def press(phone: Phone, target: str, key: str = "Enter") -> None:
    tab_to(phone, target)
    phone.page.keyboard.press(key)


def enter(phone: Phone, target: str, text: str) -> None:
    tab_to(phone, target)
    phone.page.keyboard.type(text)


def focus_is_in_sight(phone: Phone) -> bool:
    """Whether what has the focus lies on the screen, not under the bar at its foot."""
    return bool(
        phone.page.evaluate("""() => {
            const part = document.activeElement;
            const box = part.getBoundingClientRect();
            const top = document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height / 2, 20));
            return part === top || part.contains(top);
        }""")
    )


def begin(phone: Phone) -> None:
    """Two bowlers with balls and a session, by keyboard."""
    enter(phone, "#bowler-form [name=bowler]", "wren")
    enter(phone, "#bowler-form [name=hand]", "r")
    press(phone, "#bowler-form button")
    phone.page.keyboard.type("Moss")  # the focus went on to the ball's name
    enter(phone, "#ball-form [name=cover]", "h")
    enter(phone, "#ball-form [name=core]", "s")
    press(phone, "#ball-form button")
    enter(phone, "#ball-form [name=name]", "Chalk")
    press(phone, "#ball-form [name=spare_ball]", "Space")
    enter(phone, "#ball-form [name=cover]", "po")
    press(phone, "#ball-form button")
    press(phone, "[data-view=session]")
    enter(phone, "#session-form [name=lanes]", "11 12")
    phone.page.keyboard.press("Enter")


def test_a_game_from_the_empty_page(phone: Phone) -> None:
    """Keys of the log: pins, strike, none fell, ball, arrows, foul, note; then the file is saved by Enter."""
    begin(phone)
    assert phone.turn() == "wren frame 1, delivery 1"
    phone.type((0b1000001000, False))  # 4-10
    phone.page.keyboard.press("/")
    phone.page.keyboard.press("b")  # from the ball for spares to the other
    phone.page.keyboard.press("a")
    for _ in range(3):
        phone.page.keyboard.press("ArrowLeft")
    phone.page.keyboard.press("Enter")
    phone.page.keyboard.press("-")
    phone.page.keyboard.press("Enter")
    phone.page.keyboard.press("f")
    phone.page.keyboard.press("Enter")
    press(phone, "#more > summary")
    enter(phone, "#extras [name=note]", "x f 1 - /")  # letters of the keys are letters in a text
    phone.page.keyboard.press("Enter")
    assert phone.page.locator("#wrong").inner_text().startswith("Mark the pins")
    press(phone, "#all-down", "Space")
    press(phone, "#record")
    for shot in game_of((9, 1) * 7 + (10,)):
        phone.type(shot)
    press(phone, "[data-view=files]")
    tab_to(phone, "#links a")
    with phone.page.expect_download() as download:
        phone.page.keyboard.press("Enter")
    download.value.save_as(phone.folder / download.value.suggested_filename)
    report = phone.load()
    assert report.rows_quarantined == 0, report.lines()
    rows = list(csv.DictReader((phone.folder / download.value.suggested_filename).open(encoding="utf-8", newline="")))
    assert [(row["leave"], row["ball"], row["foul"], row["note"]) for row in rows[:5]] == [
        ("4-10", "wren-moss", "", ""),
        ("/", "wren-moss", "", ""),
        ("1-2-3-4-5-6-7-8-9-10", "wren-moss", "", ""),
        ("F", "wren-moss", "yes", ""),
        ("X", "wren-moss", "", "x f 1 - /"),
    ]
    assert float(rows[1]["arrow_board"]) > 12  # the left arrow key goes to the left: a right-hander's higher boards
    assert phone.scores() == [
        10 + 0 + 20 + 6 * 19 + 20
    ]  # spare, open, strike, six spares, spare and strike: as in ``tests/scoring.py``


def test_the_focus_is_never_lost_or_hidden(phone: Phone) -> None:
    """Every stop of a round of tabs lies in sight, before and after a delivery, an undo and a choice of ball."""
    begin(phone)
    for keys in ("7", "Enter", "/", "b", "Enter", "Backspace"):
        phone.page.keyboard.press(keys)
        assert phone.page.evaluate("document.activeElement !== document.body"), keys
    phone.page.evaluate("document.querySelectorAll('#log details').forEach((box) => (box.open = true))")
    stops = set()
    for _ in range(MOST_TABS):
        phone.page.keyboard.press("Tab")
        stop = phone.page.evaluate("document.activeElement.outerHTML.slice(0, 90)")
        if stop in stops or stop.startswith("<body"):
            break
        stops.add(stop)
        assert focus_is_in_sight(phone), stop
    assert len(stops) > 25
