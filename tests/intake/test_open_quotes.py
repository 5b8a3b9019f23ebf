"""A quote that is opened and never closed costs its own line, and no other is lost in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.intake.logs import REFERENCES, ask, file_report, kept_lines, load, reasons, shot, write_logs

OPEN = '"broke off here'


def strikes(*frames: int) -> list[str]:
    return [shot(frame, 1, "X") for frame in frames]


@pytest.mark.parametrize(
    ("after", "kept"),
    [
        ([], [2]),
        (strikes(3, 4), [2, 4, 5]),
        ([*strikes(3), shot(4, 1, "X", note='"closed, well"'), *strikes(5)], [2, 4, 5, 6]),
        ([*strikes(3), shot(4, 1, "X", note='"two\nlines"'), *strikes(5)], [2, 4, 5, 7]),
        ([*strikes(3), shot(4, 1, "X", note='"a ""word"" in it"'), *strikes(5)], [2, 4, 5, 6]),
    ],
    ids=["last row", "to the end", "to a quoted note", "to a note of two lines", "to doubled quotes"],
)
def test_open_quote_in_shots(tmp_path: Path, after: list[str], kept: list[int]) -> None:
    folder = write_logs(tmp_path / "logs", [*strikes(1), shot(2, 1, "X", note=OPEN), *after])
    report = file_report(load(folder))
    assert (report.read, report.kept) == (len(after) + 2, len(after) + 1)
    assert kept_lines(folder) == kept
    assert reasons(folder) == {(3, "row"): ("None", "the row has a quote that is never closed")}
    assert ask(folder, "SELECT raw_row FROM quarantine WHERE line = 3 AND raw_row NOT LIKE '%2026%2026%'")


def test_open_quotes_on_several_lines(tmp_path: Path) -> None:
    rows = [shot(frame, 1, "X", note=OPEN if frame % 3 == 0 else "") for frame in range(1, 10)]
    folder = write_logs(tmp_path / "logs", rows)
    report = file_report(load(folder))
    assert (report.read, report.kept) == (9, 6)
    assert {line for line, _ in reasons(folder)} == {4, 7, 10}


def test_notes_of_several_lines_are_kept(tmp_path: Path) -> None:
    note = '"first, second\nthird, fourth\n\nfifth"'
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", note=note), *strikes(2)])
    assert file_report(load(folder)).kept == 2
    assert kept_lines(folder) == [2, 6]


def test_open_quote_in_a_reference_file(tmp_path: Path) -> None:
    head, first, second = REFERENCES["bowlers.csv"].splitlines()
    text = "\n".join([head, first, 'moss,"Moss,right,one-handed,,1990', second]) + "\n"
    folder = write_logs(tmp_path / "logs", strikes(1), bowlers=text)
    report = file_report(load(folder), "bowlers.csv")
    assert (report.read, report.kept) == (3, 2)
    assert ask(folder, "SELECT line, reason FROM quarantine") == [(3, "the row has a quote that is never closed")]
