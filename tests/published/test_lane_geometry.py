"""Lane measures against published specifications, and what follows from them by geometry."""

from __future__ import annotations

import math

import pytest

from pipeline.settings import PocketLimits
from pipeline.sport import lane
from pipeline.sport.leaves import PIN_PLACES


def _place(pin: int) -> tuple[float, float]:
    column, row = PIN_PLACES[pin]
    return column * lane.PIN_SPACING_IN / 2, row * lane.ROW_STEP_IN


def test_foul_line_to_pit_adds_up() -> None:
    # 60 ft, 34 3/16 in and 62 ft 10 3/16 in: lane specification as quoted by others (SECONDHAND).
    assert lane.FOUL_LINE_TO_HEAD_PIN_FT * 12 + lane.HEAD_PIN_TO_PIT_IN == lane.FOUL_LINE_TO_PIT_IN


def test_board_width() -> None:
    # 39 boards on 41.5 in: doi 10.1177/17479541241306543, introduction, VERIFIED. It prints 1.07 in a board;
    # 41.5 / 39 = 1.0641 in is COMPUTED, so only agreement to 0.01 in is asked.
    assert abs(lane.BOARD_WIDTH_IN - 1.0641) < 5e-5
    assert abs(lane.BOARD_WIDTH_IN - 1.07) < 0.01


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


def test_straight_ball_from_the_edge() -> None:
    # COMPUTED: from the lane's edge to its centre over 60 ft, atan(20.75 / 720) = 1.651 degrees.
    assert lane.straight_angle_deg(lane.LANE_WIDTH_IN / 2) == pytest.approx(1.651, abs=5e-4)


@pytest.mark.parametrize("board", [17, 17.5, 18])
def test_best_entry_boards_are_pocket(board: float) -> None:
    # Highest strike percentage at entry board 17-18: Ridenour, USBC article, VERIFIED; 17.5 SECONDHAND.
    assert lane.entry_zone(board, PocketLimits()) == "pocket"


def test_head_pin_stands_on_board_20() -> None:
    # Centre of 39 boards: COMPUTED. Past it the ball has crossed over.
    assert (lane.BOARDS + 1) / 2 == 20
    assert lane.entry_zone(20.5, PocketLimits()) == "brooklyn"
