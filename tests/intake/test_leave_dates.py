"""Leaves that a spreadsheet took for dates."""

from __future__ import annotations

import datetime as dt
from itertools import combinations
from pathlib import Path

import pytest

from pipeline.intake.checks.dates import leave_from_date, looks_like_a_date, read_dates
from pipeline.sport.leaves import FULL_RACK, from_pins
from tests.intake.logs import ask, file_report, load, reasons, shot, write_logs

# How a spreadsheet shows 7-10 once it took it for a date; serial 46302 is 2026-10-07 in the 1900 date system
# (day 1 is 1900-01-01 and 1900 counts as a leap year, as the ECMA-376 file format describes it).
SHAPES = [
    "7-Oct", "07-Oct", "Oct-07", "Oct 7", "7. Oct", "7-Oct-26", "7 October 2026", "2026-10-07",
    "2026-10-07 00:00:00", "07/10/2026", "10/07/2026", "10/7/26", "07.10.2026", "10-Jul", "2026-07-10", "46302",
]  # fmt: skip


@pytest.mark.parametrize("text", SHAPES)
def test_seven_ten(text: str) -> None:
    assert looks_like_a_date(text)
    assert leave_from_date(text, FULL_RACK) == from_pins([7, 10])


def test_every_two_pin_leave_comes_back_whichever_number_was_the_month() -> None:
    for one, other in combinations(range(1, 11), 2):
        for day, month in ((one, other), (other, one)):
            date = dt.date(2026, month, day)
            for text in (f"{date:%Y-%m-%d}", f"{day}-{date:%b}", f"{date:%d/%m/%Y}", f"{date:%m/%d/%Y}"):
                assert leave_from_date(text, FULL_RACK) == from_pins([one, other])


def test_three_pins_became_a_year() -> None:
    assert leave_from_date("2010-06-03", FULL_RACK) == from_pins([3, 6, 10])
    assert leave_from_date("01/02/2004", FULL_RACK) == from_pins([1, 2, 4])


@pytest.mark.parametrize("text", ["31-Oct", "7-Nov", "7-Jul", "2026-12-24", "46387"])
def test_no_legal_reading(text: str) -> None:
    assert looks_like_a_date(text)
    assert leave_from_date(text, FULL_RACK) is None


@pytest.mark.parametrize("text", ["7-10", "10", "3-6-10", "4 7", "X", "/", "-", "b0000000001", "1-2-4-10"])
def test_leaves_are_no_dates(text: str) -> None:
    assert not looks_like_a_date(text)


def test_repaired_only_where_legal_in_its_frame(tmp_path: Path) -> None:
    rows = [
        shot(1, 1, "7-Oct"), shot(1, 2, "10"),
        shot(2, 1, "3-10"), shot(2, 2, "7-Oct"),
        shot(3, 1, "4-7-10"), shot(3, 2, "Apr-07"),
        shot(4, 1, "31-Dec"), shot(4, 2, "/"),
    ]  # fmt: skip
    folder = write_logs(tmp_path / "logs", rows)
    report = file_report(load(folder))
    assert report.repaired == 2
    stored = ask(folder, "SELECT line, standing FROM deliveries WHERE repaired ORDER BY line")
    assert stored == [(2, from_pins([7, 10])), (7, from_pins([4, 7]))]
    faults = reasons(folder)
    assert set(faults) == {(5, "leave"), (8, "leave"), (9, "delivery")}
    assert faults[5, "leave"][0] == "7-Oct"


def test_dates_as_people_write_them() -> None:
    day = dt.date(2026, 10, 7)
    for text in ("2026-10-07", "2026/10/7", "7.10.2026", "7 Oct 2026", "Oct 7, 2026", "2026-10-07T00:00:00", "46302"):
        assert read_dates([text])[text] == day, text
    assert read_dates(["10/7/2026"])["10/7/2026"] is None
    assert read_dates(["10/7/2026", "10/25/2026"])["10/7/2026"] == day
    assert read_dates(["7/10/2026", "25/10/2026"])["7/10/2026"] == day
    assert read_dates(["2026-13-01", "", "soon"]) == {"2026-13-01": None, "": None, "soon": None}
