"""Files that are broken in ways a spreadsheet or a copy breaks them: a sentence each, and no row lost unsaid."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.intake.check import check_folder
from pipeline.intake.files import delimiters
from pipeline.intake.files.columns import REFERENCES as KINDS
from tests.intake.logs import HEADER, REFERENCES, ask, file_report, load, reasons, shot, write_logs

GOOD = [shot(1, 1, "X"), shot(2, 1, "7"), shot(2, 2, "/"), shot(3, 1, "3-10")]
TEXT = "\n".join([HEADER, *GOOD]) + "\n"


def written(folder: Path, content: bytes) -> Path:
    write_logs(folder, [shot(1, 1, "X", game=9)], "shots_ok.csv")
    (folder / "shots.csv").write_bytes(content)
    return folder


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"])
def test_every_usual_encoding_and_line_end_gives_all_rows(tmp_path: Path, encoding: str, end: str) -> None:
    folder = written(tmp_path / "logs", TEXT.replace("\n", end).encode(encoding))
    assert (file_report(load(folder)).kept, file_report(load(folder)).read) == (4, 4)


def test_line_ends_of_several_kinds_in_one_file(tmp_path: Path) -> None:
    ends = ["\r\n", "\n", "\r", "\r\n", ""]
    content = "".join(row + end for row, end in zip([HEADER, *GOOD], ends, strict=True))
    assert file_report(load(written(tmp_path / "logs", content.encode()))).kept == 4


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "it is empty"),
        (b"\xef\xbb\xbf", "it is empty"),
        (TEXT.replace("foul,note", 'foul,"note').encode(), "a quote in its first line that is never closed"),
        (TEXT.replace("speed_mph", '"speed\n(mph)"').encode(), "a quote in its first line that is never closed"),
        (TEXT.replace("foul,note", "foul,leave").encode(), "two columns for leave"),
        (TEXT.encode() + b"\0", "holds NUL bytes"),
        (b"\xff\xfe\0\0" + TEXT.encode("utf-32-le"), "holds NUL bytes"),
        (f"sep=,\n{TEXT}".encode(), "column names on line 2"),
        (TEXT.replace(",", "|").encode(), "no comma, semicolon or tab"),
        (TEXT.encode() + f"{shot(4, 1, 'X', note='z' * 5_000_000)}\n".encode(), "look for a quote never closed"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_with_its_mend(tmp_path: Path, content: bytes, words: str) -> None:
    checked = check_folder(written(tmp_path / "logs", content))
    assert words in checked.lines()[0] and checked.report.incomplete


def test_an_inch_mark_in_a_column_name_is_no_open_quote(tmp_path: Path) -> None:
    content = "\n".join([f'{HEADER},pin to pap 5"', *(f"{row}," for row in GOOD)]) + "\n"
    assert file_report(load(written(tmp_path / "logs", content.encode()))).kept == 4


def test_a_file_of_a_header_alone_says_so(tmp_path: Path) -> None:
    report = load(written(tmp_path / "logs", HEADER.encode()))
    assert file_report(report).text() == "shots.csv: no rows below its column names." and not report.incomplete


def test_very_long_values_are_cut_where_they_are_shown(tmp_path: Path) -> None:
    rows = [shot(1, 1, "7-" * 50_000 + "10"), shot(2, 1, "X", ball="b" * 90_000), shot(3, 1, "X", date="2" * 90_000)]
    bowlers = REFERENCES["bowlers.csv"] + ",".join(["y" * 90_000] * 6) + "\n"
    folder = write_logs(tmp_path / "logs", rows, bowlers=bowlers)
    report, checked = load(folder), check_folder(folder)
    lines = [*report.lines(), *checked.lines()]
    assert max(map(len, lines)) < 400 and any("(90,000 characters)" in line for line in lines)
    assert set(reasons(folder)) == {(2, "leave"), (3, "ball"), (4, "date")}


# DuckDB reads 1_7 as 17 (its numbers may be grouped by underscores); a person may mean lanes 1 and 7.
@pytest.mark.parametrize("column", ["lane", "entry_board", "speed_mph"])
def test_a_number_with_an_underscore_is_none(tmp_path: Path, column: str) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", **{column: "1_7"}), shot(2, 1, "X")])  # type: ignore[arg-type]
    load(folder)
    assert set(reasons(folder)) == {(2, column)}


def test_the_apostrophe_by_which_spreadsheets_mark_a_text_is_left_out(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "'7-10"), shot(1, 2, "'/"), shot(2, 1, "7"), shot(2, 2, "'x")])
    load(folder)
    assert set(reasons(folder)) == {(5, "leave")}


@pytest.mark.parametrize("kind", sorted(KINDS))
@pytest.mark.parametrize("damage", ["empty", "header", "nul", "open quote", "ragged", "utf-16"])
def test_a_broken_reference_file_never_fails_a_load(tmp_path: Path, kind: str, damage: str) -> None:
    folder = write_logs(tmp_path / "logs", GOOD)
    place = folder / f"{kind}.csv"
    text = place.read_text(encoding="utf-8")
    content = {
        "empty": b"",
        "header": text.split("\n", 1)[0].encode(),
        "nul": text.encode() + b"\0",
        "open quote": text.encode() + b'"open\n',
        "ragged": text.encode() + b"a,b\n",
        "utf-16": text.encode("utf-16"),
    }
    place.write_bytes(content[damage])
    report = load(folder)
    outcome = file_report(report, f"{kind}.csv")
    assert (outcome.status == "refused") == (damage in {"empty", "nul"})
    assert outcome.quarantined == (damage in {"open quote", "ragged"})


# With a comma, 1,200 games may be 1.2 or 1200; 2,000 can only be grit 2000, and 0,052 or 2,480 only decimals.
def test_a_comma_is_read_only_where_it_has_one_meaning(tmp_path: Path) -> None:
    balls = REFERENCES["balls.csv"].replace("2.48,0.052", '"2,480","0,052"').replace(",2000,", ',"2,000",')
    folder = write_logs(tmp_path / "logs", GOOD, balls=balls.replace("no,yes,0", 'no,yes,"1,200"'))
    report = load(folder)
    read = {(r.column, r.value): r.read_as for r in file_report(report, "balls.csv").readings}
    assert read == {("surface_grit", "2,000"): "2000"}
    assert ask(folder, "SELECT rg_in, diff_in, surface_grit FROM balls WHERE ball = 'w1'") == [(2.48, 0.052, 2000)]
    (cause,) = check_folder(folder).causes
    assert (cause.column, cause.value, cause.mend) == ("games_before", "1,200", "Correct the value, or leave it empty.")


def test_faults_that_other_rows_wait_for_come_first(tmp_path: Path) -> None:
    bowlers = REFERENCES["bowlers.csv"].replace("1990", "01/02/1990")
    causes = check_folder(write_logs(tmp_path / "logs", GOOD, bowlers=bowlers)).causes
    assert [(cause.column, cause.rows) for cause in causes][:2] == [("birth_year", 1), ("ball", 4)]


def test_an_id_that_only_looks_the_same_comes_with_the_known_one(tmp_path: Path) -> None:
    one, two = "ren\u00e9", "rene\u0301"  # a letter with its accent, and the two apart
    bowlers = REFERENCES["bowlers.csv"].replace("wren", one)
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", bowler=two)], bowlers=bowlers)
    assert f"Did you mean {one}?" in next(c.mend for c in check_folder(folder).causes if c.column == "bowler")


# 17,5 without quotes is two fields. DuckDB drops empty fields behind the last column, so a row with an empty note would
# be read with 5 as its speed and every later cell in the wrong column.
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])  # read by the database, and record by record
@pytest.mark.parametrize("note", ["", '"wide, then ""flat"""'])
def test_a_decimal_comma_without_quotes_shifts_no_row(tmp_path: Path, encoding: str, note: str) -> None:
    header = "date,block,bowler,lane,game,frame,delivery,ball,leave,entry_board,speed_mph,note"
    start = "2026-03-05,b1,wren,7,1"
    rows = [f"{start},1,1,w1,X,17,16,{note}", f"{start},2,1,w1,X,17,5,16,", f'{start},3,1,w1,X,"17,5",16,"a, b"']
    folder = written(tmp_path / "logs", "\n".join([header, *rows, ""]).encode(encoding))
    load(folder)
    assert {place: why for place, (_, why) in reasons(folder).items()} == {
        (3, "row"): "the row has 13 fields instead of 12"
    }
    kept = ask(folder, "SELECT entry_board, speed_mph FROM deliveries WHERE source_file = 'shots.csv' ORDER BY line")
    assert kept == [(17, 16), (17.5, 16)]


@pytest.mark.parametrize("end", ["", "\n"])
def test_delimiters_outside_quotes_are_counted_across_chunks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: str
) -> None:
    place = tmp_path / "x.csv"
    place.write_text('a,b,c\n1,"2,""x,y"",z",3\n"4,\n5",6,7' + end, encoding="utf-8")
    for size in range(1, 30):
        monkeypatch.setattr(delimiters, "_CHUNK", size)
        assert delimiters.outside_quotes(place, ",") == 6
