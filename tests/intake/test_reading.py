"""Encodings, delimiters, line ends, quotes and whole-file faults."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.intake import IntakeError
from pipeline.spreadsheet import as_text
from tests.intake.logs import HEADER, ask, file_report, kept_lines, load, reasons, shot, write_logs

ROWS = [
    shot(1, 1, "7", speed_mph="17.5", note="schön – gut"),
    shot(1, 2, "6"),
    shot(2, 1, "X", entry_board="17.5"),
]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_same_rows_however_written(tmp_path: Path, encoding: str, end: str, delimiter: str) -> None:
    folder = write_logs(tmp_path / "logs", [])
    text = end.join([HEADER, *ROWS]).replace(",", delimiter)
    (folder / "shots.csv").write_bytes(text.encode(encoding))
    assert file_report(load(folder)).kept == 2
    assert ask(folder, "SELECT line, speed_mph, entry_board, note FROM deliveries ORDER BY line") == [
        (2, 17.5, None, "schön – gut"),
        (4, None, 17.5, None),
    ]
    assert set(reasons(folder)) == {(3, "leave")}


@pytest.mark.parametrize("delimiter", [";", "\t", ","])
def test_decimal_commas(tmp_path: Path, delimiter: str) -> None:
    folder = write_logs(tmp_path / "logs", [])
    row = shot(1, 1, "X", entry_board='"17,5"', speed_mph='"16,25"') if delimiter == "," else None
    row = row or shot(1, 1, "X", entry_board="17.5", speed_mph="16.25").replace(",", delimiter).replace(".", ",")
    (folder / "shots.csv").write_text(HEADER.replace(",", delimiter) + "\n" + row + "\n", encoding="utf-8")
    load(folder)
    assert ask(folder, "SELECT entry_board, speed_mph FROM deliveries") == [(17.5, 16.25)]


def test_lines_are_counted_through_quotes_and_blank_lines(tmp_path: Path) -> None:
    rows = [
        shot(1, 1, "X", note='"two\nlines"'),  # lines 2 and 3
        "",  # line 4
        shot(2, 1, '"3,10"', note='"a ""quoted"" word"'),  # line 5
        shot(2, 2, "11"),  # line 6
    ]
    folder = write_logs(tmp_path / "logs", rows)
    assert file_report(load(folder)).read == 3
    assert kept_lines(folder) == [2, 5]
    assert set(reasons(folder)) == {(6, "leave")}
    assert ask(folder, "SELECT note FROM deliveries ORDER BY line") == [("two lines",), ('a "quoted" word',)]


def test_lines_keep_their_numbers_in_a_long_file(tmp_path: Path) -> None:
    rows = [
        shot(frame, 1, "X", game=game, lane=1 + n % 40, note=f"at {2 + n}")
        for n, (game, frame) in enumerate((g, f) for g in range(1, 61) for f in range(1, 11))
    ]
    folder = write_logs(tmp_path / "logs", rows)
    assert file_report(load(folder)).kept == len(rows)
    assert ask(folder, "SELECT count(*) FROM deliveries WHERE note <> 'at ' || line") == [(0,)]


REFUSALS = [
    (b"", "is empty"),
    (b"\xef\xbb\xbf\n", "is empty"),
    (b"date,block\n2026-03-05,b1\n", "lacks the columns"),
    (HEADER.encode() + b",lane\n", "two columns for lane"),
    (HEADER.encode() + b"\nab\0c\n", "NUL"),
    (HEADER.encode() + b"\n\x81\x8d\xff\n", "neither UTF-8"),
    (b"PK\x03\x04" + bytes(range(256)) * 4, "NUL"),
    (HEADER.encode() + b'\n2026-03-05,"b1\n' + b"x" * 2_000_000, "quote"),
]


@pytest.mark.parametrize(("content", "words"), REFUSALS)
def test_a_file_at_fault_is_refused_and_others_load(tmp_path: Path, content: bytes, words: str) -> None:
    folder = write_logs(tmp_path / "logs", ROWS, name="shots_good.csv")
    (folder / "shots_bad.csv").write_bytes(content)
    report = load(folder)
    assert [file.name for file in report.refused] == ["shots_bad.csv"]
    assert words in str(file_report(report, "shots_bad.csv").refused)
    assert file_report(report, "shots_good.csv").kept == 2
    assert any("shots_bad.csv: refused" in line for line in report.lines())
    (folder / "shots_good.csv").unlink()
    with pytest.raises(IntakeError, match="no shots file can be used"):
        load(folder, tmp_path / "other.duckdb")


def test_no_logs_at_all(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="no such folder"):
        load(tmp_path / "nowhere")
    with pytest.raises(IntakeError, match="holds no shots"):
        load(tmp_path)


def test_cells_are_safe_for_spreadsheets(tmp_path: Path) -> None:
    risky = ["=1+1", "+1", "-1", "@x", "\tx", "\rx"]
    for text in risky:
        assert as_text(text) == "'" + text
    assert as_text("'x") == "''x"
    assert as_text("3-10") == "3-10"
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "=cmd()"), shot(2, 1, "X")])
    load(folder)
    with (tmp_path / "season.quarantine.csv").open(encoding="utf-8-sig", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["value"] == "'=cmd()"
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row.values())


def test_odd_file_names_are_only_names(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", ROWS, name="shots [1]*'.csv")
    (folder / "shots 1.csv").write_text(HEADER + "\n" + shot(5, 1, "X") + "\n", encoding="utf-8")
    report = load(folder)
    assert file_report(report, "shots [1]*'.csv").kept == 2
    assert file_report(report, "shots 1.csv").kept == 1


def test_rows_of_a_file_read_on_two_threads_stand_on_their_own_lines(tmp_path: Path) -> None:
    """Every row notes the line it stands on; the file is long enough to be read in pieces, which is checked by size."""
    blocks = [f"n{k:04}" for k in range(2000)]
    places = [(block, game, frame) for block in blocks for game in range(1, 21) for frame in range(1, 11)]
    rows = [
        f"2026-03-05,{block},wren,7,{game},{frame},1,{'w1' if frame < 10 or game % 7 else 'nobody'},X,line {line}"
        for line, (block, game, frame) in enumerate(places, start=2)
    ]
    listed = "block,date,pattern,event,centre\n" + "".join(f"{block},2026-03-05,,,\n" for block in blocks)
    folder = write_logs(tmp_path / "logs", [], blocks=listed)
    header = "date,block,bowler,lane,game,frame,delivery,ball,leave,note\n"
    (folder / "shots.csv").write_text(header + "\n".join(rows) + "\n", encoding="utf-8")
    assert (folder / "shots.csv").stat().st_size > 16_000_000
    assert file_report(load(folder)).quarantined == 2000 * 2
    assert ask(folder, "SELECT count(*) FROM deliveries WHERE note <> 'line ' || line") == [(0,)]
    wrong = "SELECT count(*) FROM quarantine WHERE raw_row NOT LIKE '%nobody,X,line ' || line"
    assert ask(folder, wrong) == [(0,)]
