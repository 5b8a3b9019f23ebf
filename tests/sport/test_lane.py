from __future__ import annotations

import math

import pytest

from pipeline.settings import BlockPhases, PocketLimits
from pipeline.sport import lane


@pytest.mark.parametrize(
    ("board", "zone"),
    [
        (10, "short"),
        (14.9, "short"),
        (15, "light"),
        (16.4, "light"),
        (16.5, "pocket"),
        (18.5, "pocket"),
        (18.6, "high"),
        (20.4, "high"),
        (20.5, "brooklyn"),
        (30, "brooklyn"),
    ],
)
def test_entry_zones_with_the_default_limits(board: float, zone: str) -> None:
    assert lane.entry_zone(board, PocketLimits()) == zone


def test_entry_zones_follow_the_settings() -> None:
    assert lane.entry_zone(15.4, PocketLimits(centre_board=16, half_width=0.5)) == "light"


@pytest.mark.parametrize(
    ("board", "line"),
    [
        (0, "outside first arrow"),
        (2.4, "outside first arrow"),
        (2.5, "first arrow"),
        (7.4, "first arrow"),
        (7.5, "second arrow"),
        (15, "third arrow"),
        (22.4, "fourth arrow"),
        (25, "fifth arrow"),
        (27.5, "fifth arrow"),
        (27.6, "inside fifth arrow"),
    ],
)
def test_lines_by_the_nearest_arrow(board: float, line: str) -> None:
    assert lane.line_name(board) == line


def test_tables_agree_with_the_functions_and_hold_every_name() -> None:
    zones = lane.entry_zone_table(PocketLimits())
    assert list(zones["half_board"]) == [half / 2 for half in range(81)]
    assert set(zones["zone"]) == {"short", "light", "pocket", "high", "brooklyn"}
    lines = lane.line_table()
    assert list(lines["board"]) == list(range(41))
    assert set(lines["line"]) == set(lane.LINES)
    phases = lane.phase_table(BlockPhases(), to_game=7)
    assert list(phases["phase"]) == ["fresh"] * 2 + ["transition"] * 2 + ["late"] * 3


def test_not_a_number_is_refused() -> None:
    with pytest.raises(ValueError, match="entry board"):
        lane.entry_zone(math.nan, PocketLimits())
    with pytest.raises(ValueError, match="arrow board"):
        lane.line_name(math.inf)
    with pytest.raises(ValueError, match="counted from 1"):
        lane.phase_of(0, BlockPhases())
