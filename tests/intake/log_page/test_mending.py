"""A delivery logged some time ago is put right in its place, if what came after still follows."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from pipeline.sport.leaves import FULL_RACK, from_pins
from tests.intake.log_page.phone import Phone, game_of

pytestmark = pytest.mark.browser

Ready = Callable[..., Phone]


def mend(phone: Phone, frame: int, delivery: int) -> None:
    phone.unfold("game")
    phone.tap(f"#frames [aria-label$='frame {frame}, delivery {delivery}']")


def leaves(phone: Phone) -> list[str]:
    return [row["leave"] for row in phone.rows()]


def test_the_pins_ball_and_board_of_an_earlier_delivery(ready: Ready) -> None:
    """The 10 pin was the 7 pin: mended under the spare that followed and another bowler's frame."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.touch((from_pins([10]), False), 12)
    phone.touch((0, False), 30)
    phone.touch((0, False), 14)
    assert phone.turn() == "wren frame 2, delivery 1"
    mend(phone, 1, 1)
    assert phone.turn() == "wren frame 1, delivery 1" and phone.marked() == [10]
    phone.tap("[data-pin='10']")
    phone.tap("[data-pin='7']")
    phone.tap("#bag button:has-text('Chalk')")
    phone.touch_board(15)
    assert phone.page.locator("#said").inner_text() == "Put right: wren, 7, Chalk, board 15."
    assert phone.turn() == "wren frame 2, delivery 1"
    assert phone.load().rows_quarantined == 0
    rows = [(row["bowler"], row["leave"], row["ball"], row["arrow_board"]) for row in phone.rows()]
    assert rows == [
        *[("wren", "7", "wren-chalk", "15"), ("wren", "/", "wren-chalk", "30"), ("tarn", "X", "tarn-moss", "14")]
    ]


def test_a_mend_that_what_follows_contradicts_is_refused(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    for shot in game_of((7, 2, 10)):
        phone.type(shot)
    mend(phone, 1, 1)
    phone.tap("#all-down")
    phone.tap("#record")
    assert phone.page.locator("#wrong").inner_text().startswith("Deliveries after it would no longer follow")
    phone.tap("#undo")
    assert phone.page.locator("#said").inner_text() == "Left as it was."
    assert phone.due() == "frame 3, delivery 1"
    assert phone.load().rows_quarantined == 0
    assert leaves(phone) == ["8-9-10", "10", "X"]


def test_a_strike_of_the_tenth_that_was_none_makes_the_next_one_a_spare(ready: Ready) -> None:
    """The later sign is written anew: by the load's rules X stands for a new rack only."""
    phone = ready(("wren", "right"))
    for _ in range(11):
        phone.type((0, False))
    mend(phone, 10, 1)
    phone.tap("#all-down")
    phone.tap("[data-pin='10']")
    phone.tap("#record")
    phone.type((from_pins([7]), False))
    assert phone.load().rows_quarantined == 0
    assert leaves(phone)[-3:] == ["10", "/", "7"]
    assert phone.scores() == [8 * 30 - 1 + 20 + 19]  # nine strikes, the last two short of a count, then 9 / 9


def test_a_mend_survives_a_closed_page(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    for shot in game_of((7, 2, 10)):
        phone.type(shot)
    mend(phone, 1, 2)
    phone.close_and_open()
    assert phone.due() == "frame 1, delivery 2" and phone.page.locator("#undo").inner_text() == "Leave it"
    phone.type((from_pins([10]), False))  # unmarks the 10 pin, and no pin marked is no answer
    assert phone.page.locator("#wrong").inner_text().startswith("Mark the pins")
    phone.type((0, False))
    assert phone.load().rows_quarantined == 0
    assert leaves(phone) == ["8-9-10", "/", "X"]


def test_random_mends_leave_a_log_that_loads(ready: Ready) -> None:
    """Any delivery of a random evening mended to anything: taken or refused, every row loads, and none is lost."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    chance = random.Random(29)
    shots = [[chance.choice([0, chance.randint(0, FULL_RACK)]), chance.random() < 0.05] for _ in range(90)]
    # What is true of a log sheet is mostly near to what was written: a mend changes a pin, or all.
    mends = [[chance.randrange(90), chance.choice([0, 1 << chance.randrange(10), FULL_RACK])] for _ in range(400)]
    taken = phone.page.evaluate(
        """([shots, mends]) => {
            for (const [standing, foul] of shots) {
                state.draft = { ...emptyDraft(), standing: standing & currentStand().facing, foul };
                recordDraft();
            }
            return mends.filter(([at, standing]) => {
                state.draft = { ...draftOf(currentSession().events[at]), at };
                const { facing } = currentStand();
                Object.assign(state.draft, { standing: standing & facing, foul: false });
                return recordDraft();
            }).length;
        }""",
        [shots, mends],
    )
    phone.page.evaluate("state.draft = emptyDraft()")
    assert 40 < taken < 360
    report = phone.load()
    assert report.rows_quarantined == 0, report.lines()
    assert len(phone.rows()) == 90
