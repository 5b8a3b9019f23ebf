"""Lane measures against published specifications, and what follows from them by geometry."""

from __future__ import annotations

import math

import pytest

from pipeline.settings import PocketLimits
from pipeline.sport import lane
from pipeline.sport.leaves import PIN_PLACES

# 12 in between neighbours in a triangle: lane specification as quoted by others (SECONDHAND); rows by geometry.
PIN_SPACING_IN = 12.0
ROW_STEP_IN = PIN_SPACING_IN * math.sqrt(3) / 2


def _place(pin: int) -> tuple[float, float]:
    column, row = PIN_PLACES[pin]
    return column * PIN_SPACING_IN / 2, row * ROW_STEP_IN


@pytest.mark.parametrize(
    ("one", "other", "inches"),
    # COMPUTED from 12 in between neighbours in a triangle of 36 in a side (the same article, VERIFIED).
    [
        (7, 10, 36),
        (1, 7, 36),
        (1, 10, 36),
        (2, 7, 24),
        (3, 10, 24),
        (4, 6, 24),
        (8, 10, 24),
        (5, 7, 20.785),
        (1, 2, 12),
    ],
)
def test_distances_between_pins(one: int, other: int, inches: float) -> None:
    assert math.dist(_place(one), _place(other)) == pytest.approx(inches, abs=5e-4)


def test_head_pin_to_back_row() -> None:
    # COMPUTED: three rows of 12 * sqrt(3) / 2 in.
    assert _place(7)[1] == pytest.approx(31.1769, abs=5e-5)


@pytest.mark.parametrize("board", [17, 17.5, 18])
def test_best_entry_boards_are_pocket(board: float) -> None:
    # Highest strike percentage at entry board 17-18: Ridenour, USBC article, VERIFIED; 17.5 SECONDHAND.
    assert lane.entry_zone(board, PocketLimits()) == "pocket"


def test_head_pin_stands_on_board_20() -> None:
    # Centre of 39 boards: COMPUTED. Past it the ball has crossed over.
    assert (lane.BOARDS + 1) / 2 == 20
    assert lane.entry_zone(20.5, PocketLimits()) == "brooklyn"
