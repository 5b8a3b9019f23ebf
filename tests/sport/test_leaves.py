from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.sport import leaves

masks = st.integers(0, leaves.FULL_RACK)


@pytest.mark.parametrize(
    ("text", "pins"),
    [
        ("10", (10,)),
        ("4-7", (4, 7)),
        ("4 7", (4, 7)),
        ("3,6,10", (3, 6, 10)),
        (" 3 - 6 - 10 ", (3, 6, 10)),
        ("3\u201310", (3, 10)),
        ("10-3", (3, 10)),
        ("2;4;5", (2, 4, 5)),
        ("4+6", (4, 6)),
        ("7 pin", (7,)),
        ("3-10 pins", (3, 10)),
        ("x", ()),
        ("X", ()),
        ("/", ()),
        ("0", ()),
        ("b0011000000", (3, 4)),
        ("B0000000001", (10,)),
        ("-", tuple(range(1, 11))),
        ("strike", ()),
        ("Spare", ()),
        ("s6-10", (6, 10)),
        ("split 7-10", (7, 10)),
        ("6/10", (6, 10)),
        ("10.0", (10,)),
        ("#10", (10,)),
    ],
)
def test_notations(text: str, pins: tuple[int, ...]) -> None:
    assert leaves.pins(leaves.parse_leave(text)) == pins


def test_a_dash_leaves_what_was_faced() -> None:
    assert leaves.parse_leave("-", facing=leaves.from_pins((3, 10))) == leaves.from_pins((3, 10))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "11",
        "3-0",
        "3-3",
        "07-Oct",
        "3.10",
        "stroke",
        "b01",
        "b0000000002",
        "pin",
        "7 pins",
        "6/",
        "/6",
        "9-",
        "9\u2013",
    ],
)
def test_refusals_say_how_to_mend(text: str) -> None:
    with pytest.raises(leaves.LeaveError) as caught:
        leaves.parse_leave(text)
    assert caught.value.what and caught.value.mend.endswith(".")
    assert str(caught.value) == f"{caught.value.what}. {caught.value.mend}"


@given(masks)
def test_text_is_read_back(mask: int) -> None:
    assert leaves.parse_leave(leaves.format_leave(mask)) == mask
    assert leaves.from_pins(leaves.pins(mask)) == mask


@given(masks)
def test_mirror_is_its_own_inverse_and_keeps_the_type(mask: int) -> None:
    mirrored = leaves.mirror(mask)
    assert leaves.mirror(mirrored) == mask
    assert mirrored.bit_count() == mask.bit_count()
    assert leaves.leave_type(mirrored) == leaves.leave_type(mask)
    assert leaves.is_split(mirrored) == leaves.is_split(mask)


def test_mirror_swaps_the_corners() -> None:
    assert leaves.format_leave(leaves.mirror(leaves.parse_leave("7"))) == "10"
    assert leaves.format_leave(leaves.mirror(leaves.parse_leave("2-4-5-8"))) == "3-5-6-9"


def test_types_cover_every_leave_once_and_every_type_occurs() -> None:
    table = leaves.leave_table()
    assert list(table["standing"]) == list(range(1024))
    assert set(table["leave_type"]) == set(leaves.LEAVE_TYPES)
    assert table["leave"].is_unique
    only_once = table.groupby("leave_type").size()
    assert only_once["strike"] == only_once["full rack"] == 1
    assert only_once["corner pin"] == 2
    assert only_once["other single pin"] == 7  # ten pins less two corners and the head pin


@given(masks)
def test_split_types_are_the_splits(mask: int) -> None:
    assert leaves.leave_type(mask).startswith("split") == leaves.is_split(mask)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("1", "head pin"),
        ("1-2-4", "head pin"),
        ("7", "corner pin"),
        ("9", "other single pin"),
        ("2-4-5", "bucket"),
        ("2-8", "cluster"),
        ("4-6-7-10", "split, three or more pins"),
    ],
)
def test_types_by_common_practice(text: str, kind: str) -> None:
    assert leaves.leave_type(leaves.parse_leave(text)) == kind


@pytest.mark.parametrize("mask", [-1, 1024])
def test_no_leave_outside_ten_pins(mask: int) -> None:
    with pytest.raises(leaves.LeaveError):
        leaves.pins(mask)
