"""Splits against the rule book's definition.

USBC playing rules, rule 2h, as quoted by others (SECONDHAND): the head pin is down and at least one pin is down (a)
between two or more standing pins, such as 7-9 or 3-10, or (b) immediately ahead of two or more, such as 5-6.
"""

from __future__ import annotations

import pytest

from pipeline.sport.leaves import is_split, leave_type, parse_leave


@pytest.mark.parametrize("leave", ["7-9", "3-10"])
def test_clause_a_examples(leave: str) -> None:
    assert is_split(parse_leave(leave))


@pytest.mark.parametrize("leave", ["5-6", "4-5"])
def test_clause_b_example_and_its_mirror(leave: str) -> None:
    assert is_split(parse_leave(leave))
    assert leave_type(parse_leave(leave)) == "split, two pins"


@pytest.mark.parametrize(
    "leave",
    # Splits by name in common practice; every one has a fallen pin between or immediately ahead by rule 2h.
    [
        "7-10",
        "4-6",
        "8-10",
        "5-7",
        "5-10",
        "4-9",
        "6-8",
        "2-7",
        "2-10",
        "3-7",
        "4-6-7-10",
        "4-7-10",
        "6-7-10",
        "3-6-7-10",
        "2-7-10",
        "3-4-6-7-10",
        "9-10",
        "7-8",
        "8-9",
        "2-9",
        "3-8",
    ],
)
def test_usual_splits(leave: str) -> None:
    assert is_split(parse_leave(leave))


@pytest.mark.parametrize(
    "leave",
    # No pin down between or immediately ahead (common practice): singles, pins in line, buckets, pins that touch.
    ["10", "2-8", "3-9", "4-7", "6-10", "2-4", "3-6-10", "2-4-7", "2-4-5-8", "3-5-6-9", "2-5", "6-9-10", "4-7-8"],
)
def test_no_splits(leave: str) -> None:
    assert not is_split(parse_leave(leave))


@pytest.mark.parametrize("leave", ["1-2-10", "1-7-10", "1-3-7", "1-2-4-10", "1-3-6-7"])
def test_a_standing_head_pin_is_never_a_split(leave: str) -> None:
    # Rule 2h asks for the head pin down; these are washouts in common practice.
    assert not is_split(parse_leave(leave))
    assert leave_type(parse_leave(leave)) == "washout"
