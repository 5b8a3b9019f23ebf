"""What the log page saves loads whole: every delivery typed, nothing set aside, and the score of the game typed."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pipeline.sport.leaves import from_pins
from tests.intake.log_page.phone import Phone, game_of

pytestmark = pytest.mark.browser

WORKED_EXAMPLE = (10, 10, 10, 7, 2, 8, 2, None, 9, 10, 7, 3, 9, 0, 10, 10, 8)
"""World Bowling / IBF Universal Playing Rules 2.1.2, worked example, 180 pins (seen); which pins fell is our choice."""
Ready = Callable[..., Phone]


def test_the_worked_example_by_touch(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.go("log")
    for shot in game_of(WORKED_EXAMPLE):
        phone.touch(shot)
    report = phone.load()
    assert report.rows_quarantined == 0 and report.refused == (), report.lines()
    assert phone.scores() == [180]
    boards = {board for (board,) in phone.stored("arrow_board")}
    assert boards == {12}


def test_a_perfect_game_by_keyboard(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.go("log")
    for _ in range(12):
        phone.type((0, False))
    report = phone.load()
    assert report.rows_quarantined == 0, report.lines()
    assert phone.scores() == [300]


def test_a_left_hander_types_real_pins(ready: Ready) -> None:
    phone = ready(("tarn", "left"))
    phone.go("log")
    phone.touch((from_pins([7]), False))
    assert phone.load().rows_quarantined == 0
    assert phone.rows()[0]["leave"] == "7"
    assert phone.stored("standing") == [(from_pins([10]),)]  # mirrored by the load


def test_an_unfinished_game_survives_a_closed_page_and_undo(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.go("log")
    for shot in game_of((10, 7, 3, 9)):
        phone.touch(shot)
    phone.close_and_open()
    phone.go("log")
    phone.tap("#undo")
    phone.tap("[data-pin='9']")  # the delivery taken back is there to mend, its 10 pin still marked
    phone.touch_board(12)
    report = phone.load()
    assert report.rows_quarantined == 0 and report.rows_kept > 4
    assert [felled for (felled,) in phone.stored("bit_count(facing) - bit_count(standing)")] == [10, 7, 3, 8]
