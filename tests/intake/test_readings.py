"""Whatever is read otherwise than written is counted and said; what could mean two things is offered, not guessed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.intake.check import check_folder
from pipeline.intake.checks.oddities import oddities
from pipeline.intake.checks.other_spellings import NOTHING, is_nothing
from pipeline.intake.files.templates import write_guide
from pipeline.intake.report import LoadReport
from pipeline.sport.leaves import LeaveError, parse_leave
from pipeline.store.database import open_for_reading
from tests.intake.logs import HEADER, REFERENCES, ask, file_report, load, reasons, shot, write_logs
from tests.intake.test_first_hour import MESSY, NO_ROWS, ROWS

SAMPLE = Path(__file__).parents[2] / "sample_logs"


def read_as(report: LoadReport, file: str = "shots.csv") -> dict[tuple[str, str], tuple[str, int]]:
    """(column, value) -> (read as, rows) of one file."""
    return {(r.column, r.value): (r.read_as, r.rows) for r in file_report(report, file).readings}


def test_every_reading_of_the_messy_sheet_is_counted(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [*ROWS, *NO_ROWS], **MESSY)
    report = load(folder)
    assert read_as(report) == {
        ("leave", "#10"): ("10", 1),
        ("leave", "10.0"): ("10", 1),
        ("leave", "6/10"): ("6-10", 1),
        ("leave", "s6-10"): ("6-10", 1),
        ("leave", "spare"): ("none standing", 1),
        ("leave", "strike"): ("none standing", 1),
        ("arrow_board", "n/a"): ("empty", 1),
        ("entry_board", "?"): ("empty", 1),
        ("speed_mph", "-"): ("empty", 1),
        ("foul", "n/a"): ("empty", 1),
        ("date", "2026-03-05 00:00:00"): ("2026-03-05", 1),
        ("row", "blank or total"): ("no record", 2),
    }
    balls = read_as(report, "balls.csv")
    assert balls["cover", "plastic"] == ("polyester", 1) and balls["core", "asym"] == ("asymmetric", 1)
    assert balls["core", ""] == ("symmetric, as it is a spare ball", 1) and balls["surface_grit", "?"] == ("empty", 1)
    assert file_report(report, "maintenance.csv").skipped == file_report(report, "bowlers.csv").skipped == 1
    assert "  shots.csv, entry_board: '?' as empty (1)" in report.lines()
    again = load(folder)
    assert again.reading_lines() == report.reading_lines() != []
    assert [(f.skipped, f.unused) for f in again.files] == [(f.skipped, f.unused) for f in report.files]
    assert check_folder(folder).report.reading_lines() == report.reading_lines()


def test_readings_follow_a_changed_file(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "#10")])
    assert read_as(load(folder)) == {("leave", "#10"): ("10", 1)}
    write_logs(folder, [shot(1, 1, "10")])
    report = load(folder)
    assert read_as(report) == {} and report.reading_lines() == []


def test_a_left_handers_pins_are_shown_as_typed(tmp_path: Path) -> None:
    report = load(write_logs(tmp_path / "logs", [shot(1, 1, "s4/7", bowler="tarn")]))
    assert read_as(report) == {("leave", "s4/7"): ("4-7", 1)} and sum(file.repaired for file in report.files) == 1


# In a frame's shorthand 6/ is six pins and a spare, 9- nine pins and a miss (common practice of score sheets).
@pytest.mark.parametrize("text", ["6/", "9-", "/6", "-9", "6\u2013"])
def test_shorthand_of_a_whole_frame_is_not_taken_for_a_pin(text: str) -> None:
    with pytest.raises(LeaveError, match="looks like a whole frame"):
        parse_leave(text)


@pytest.mark.parametrize("leave", ["6/12", "6/6", "0/10", "10/10"])
def test_slashes_that_are_no_pins_are_offered_the_right_form(tmp_path: Path, leave: str) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, leave), shot(2, 1, "X")])
    load(folder)
    assert set(reasons(folder)) == {(2, "leave")}


def test_slashed_pins_must_have_stood(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "3-10"), shot(1, 2, "6/10")])
    load(folder)
    assert "already down" in reasons(folder)[3, "leave"][1]


def test_units_in_a_shot(tmp_path: Path) -> None:
    row = shot(
        1, 1, "X", breakpoint_ft="41 ft", speed_mph="28.2 km/h", rev_rpm="350 RPM", entry_board='"17,5 boards"',
        entry_angle_deg="4.5°", arrow_board="-3 in",
    )  # fmt: skip
    folder = write_logs(tmp_path / "logs", [row, row.replace("-3 in", "12").replace(",1,1,1,", ",1,2,1,")])
    report = load(folder)
    columns = "breakpoint_ft, speed_mph, rev_rpm, entry_board, entry_angle_deg, arrow_board"
    ((*answers, arrow),) = ask(folder, f"SELECT {columns} FROM deliveries")
    assert answers == pytest.approx([41, 28.2 / 1.609344, 350, 17.5, 4.5]) and arrow == 12
    assert read_as(report)["speed_mph", "28.2 km/h"] == ("17.52", 1)
    assert set(reasons(folder)) == {(2, "arrow_board")}


def speeds(rows: int, low: float) -> list[str]:
    return [shot(k % 10 + 1, 1, "X", game=k // 10 + 1, speed_mph=f"{low + k % 5:g}") for k in range(rows)]


def test_a_file_of_speeds_that_are_no_mph_is_read_in_kmh_and_said_so(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", speeds(40, 27))
    report = load(folder)
    assert report.rows_quarantined == 0  # though 31 mph is beyond what the column holds
    low, high = ask(folder, "SELECT min(speed_mph), max(speed_mph) FROM deliveries")[0]
    assert (low, high) == (pytest.approx(27 / 1.609344), pytest.approx(31 / 1.609344))
    assert ("mph", 40) in read_as(report).values()
    assert any("nine in ten above 21, so in km/h" in line for line in report.lines())


@pytest.mark.parametrize(("rows", "low"), [(40, 15), (40, 20), (19, 27)])
def test_speeds_that_may_be_mph_stay(tmp_path: Path, rows: int, low: float) -> None:
    folder = write_logs(tmp_path / "logs", speeds(rows, low))
    load(folder)
    assert ask(folder, "SELECT min(speed_mph) FROM deliveries") == [(low,)]


def test_a_column_named_in_kmh_is_said(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", speed_mph="28"), shot(2, 1, "X", speed_mph="27.5 km/h")])
    (folder / "shots.csv").write_text((folder / "shots.csv").read_text().replace("speed_mph", "speed (km/h)"))
    report = load(folder)
    assert ask(folder, "SELECT round(speed_mph::DOUBLE, 1) FROM deliveries ORDER BY line") == [(17.4,), (17.1,)]
    assert read_as(report)["speed_mph", "speeds in km/h, by the column's name"] == ("mph", 2)


def only(**cells: str) -> str:
    """A row that is empty but for some columns."""
    return ",".join(cells.get(name, "") for name in HEADER.split(","))


NOT_TOTALS = ["summer", "Totally", "average joe"]


@pytest.mark.parametrize("name", NOT_TOTALS)
def test_a_row_is_no_total_because_a_name_begins_like_one(tmp_path: Path, name: str) -> None:
    row = only(block=name)
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), row], blocks=REFERENCES["blocks.csv"] + f"{name},,low,,\n")
    report = load(folder)
    assert (file_report(report).skipped, file_report(report).quarantined) == (0, 1)
    assert (file_report(report, "blocks.csv").skipped, file_report(report, "blocks.csv").quarantined) == (0, 1)


@pytest.mark.parametrize("label", ["Total", "Totals:", "Grand total", "Subtotal", "Average", "AVG."])
@pytest.mark.parametrize("column", ["date", "block", "bowler"])
def test_totals_are_skipped_whatever_they_sum(tmp_path: Path, label: str, column: str) -> None:
    row = only(**{column: label, "frame": "55", "leave": "31", "speed_mph": "17.2"})
    report = load(write_logs(tmp_path / "logs", [shot(1, 1, "X"), row]))
    assert (file_report(report).read, file_report(report).skipped) == (1, 1)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("encoding", ["utf-8", "cp1252"])  # read by the database, and record by record
def test_blank_rows_count_the_same_however_the_file_is_read(tmp_path: Path, encoding: str, end: str) -> None:
    folder = write_logs(tmp_path / "logs", [])
    rows = [HEADER, shot(1, 1, "#10", note="schön"), NO_ROWS[0], shot(2, 1, "X", entry_board="?"), NO_ROWS[1]]
    (folder / "shots.csv").write_bytes((end.join(rows) + end).encode(encoding))
    report = load(folder)
    assert (file_report(report).read, file_report(report).kept, file_report(report).skipped) == (2, 2, 2)
    assert read_as(report)["entry_board", "?"] == ("empty", 1)


def test_blank_rows_stay_blank_under_a_column_maps_constants(tmp_path: Path) -> None:
    column_map = tmp_path / "columns.toml"
    column_map.write_text('[shots.constants]\nlane = "4"\nblock = "b1"\n')
    header, row = "date,bowler,game,frame,delivery,ball,leave", "2026-03-05,wren,1,1,1,w1,X"
    folder = write_logs(tmp_path / "logs", [])
    (folder / "shots.csv").write_text(f"{header}\n{row}\n,,,,,,\n")
    shots = file_report(load(folder, column_map=column_map))
    assert (shots.kept, shots.skipped, shots.quarantined) == (1, 1, 0)


def test_totals_stay_totals_under_a_column_maps_constants(tmp_path: Path) -> None:
    column_map = tmp_path / "columns.toml"
    column_map.write_text('[shots.constants]\nlane = "4"\nblock = "b1"\n[balls.constants]\nbowler = "wren"\n')
    folder = write_logs(tmp_path / "logs", [])
    header, row = "date,bowler,game,frame,delivery,ball,leave", "2026-03-05,wren,1,1,1,w1,X"
    (folder / "shots.csv").write_text(f"{header}\n{row}\nTotal,,1,,,,\n")
    (folder / "balls.csv").write_text(
        "ball,cover,core,games_before\nw1,solid,symmetric,3\nTotal,,,3\naverage,pearl,sym,0\n"
    )
    report = load(folder, column_map=column_map)
    assert [
        (f.kept, f.skipped, f.quarantined) for f in map(lambda n: file_report(report, n), ("shots.csv", "balls.csv"))
    ] == [(1, 1, 0), (2, 1, 0)]  # a ball may be called "average" where all it needs is there


# A pattern needs its id alone, so one may be called "Average": its file ends in two blank rows instead.
EVERY_FILE = {"bowlers": "Total", "balls": "Subtotal:", "patterns": "", "blocks": "TOTALS", "maintenance": "Sum"}


def test_blank_and_total_rows_count_in_every_file_and_on_every_load(tmp_path: Path) -> None:
    care = "date,ball,action,grit,note\n2026-03-04,w1,clean,,\n"
    files = {kind: REFERENCES.get(f"{kind}.csv", care) for kind in EVERY_FILE}
    for kind, label in EVERY_FILE.items():
        width = files[kind].splitlines()[0].count(",")
        files[kind] += f"{',' * width}\n{label}{',' * width}\n"
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), *NO_ROWS], **files)
    first, again = load(folder), load(folder)
    for report in (first, again, check_folder(folder).report):
        assert {f.name: (f.skipped, f.quarantined) for f in report.files} == dict.fromkeys(
            [*(f"{kind}.csv" for kind in EVERY_FILE), "shots.csv"], (2, 0)
        )
    assert all("2 blank or total rows skipped (unchanged" in file.text() for file in again.files)


def test_a_time_of_day_behind_a_date_is_left_out(tmp_path: Path) -> None:
    dates = ["2026-03-05 19:30:00", "2026-03-05T19:30:00.000Z", "05.03.2026 7:30 PM", "2026-03-05 00:00:00"]
    folder = write_logs(tmp_path / "logs", [shot(k, 1, "X", date=text) for k, text in enumerate(dates, start=1)])
    assert load(folder).rows_quarantined == 0
    assert ask(folder, "SELECT count(DISTINCT date), count(*) FROM deliveries") == [(1, 4)]


def test_a_spare_ball_whose_core_is_a_word_for_nothing(tmp_path: Path) -> None:
    balls = REFERENCES["balls.csv"].replace("polyester,symmetric", "polyester,n/a")
    assert load(write_logs(tmp_path / "logs", [shot(1, 1, "X")], balls=balls)).rows_quarantined == 0


def test_a_bowler_of_both_hands_gets_advice_on_what_to_do(tmp_path: Path) -> None:
    bowlers = REFERENCES["bowlers.csv"].replace("Wren,right", "Wren,both")
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", bowler="tarn")], bowlers=bowlers)
    load(folder)
    ((mend,),) = ask(folder, "SELECT mend FROM quarantine WHERE column_name = 'hand'")
    assert mend == "List a bowler who uses both hands twice, once for each hand, under ids of their own."


def test_a_baker_game_is_kept_whole_and_scores_for_nobody(tmp_path: Path) -> None:
    rows = [shot(k, 1, "X", bowler=("wren", "tarn")[k % 2]) for k in range(1, 11)]
    assert load(write_logs(tmp_path / "logs", rows)).rows_quarantined == 0


def test_the_guide_has_every_special_case(tmp_path: Path) -> None:
    text = write_guide(tmp_path).read_text(encoding="utf-8")
    for words in ("Practice without games", "several bowlers share", "both hands", "Baker games", "Team games", "km/h"):
        assert words in text


def test_pin_counts_of_one_bowler_are_asked_about_in_a_club(tmp_path: Path) -> None:
    counts = [shot(k % 10 + 1, 1, str(6 + k % 4), game=k // 10 + 1) for k in range(60)]
    leaves = ["3-10", "10", "6-10", "7", "2-8", "4-7", "1-2-4", "9"]
    honest = [shot(k % 10 + 1, 1, leaves[k % 8], game=k // 10 + 1, bowler="tarn") for k in range(100)]
    (note,) = load(write_logs(tmp_path / "logs", [*counts, *honest])).notes
    assert note.startswith("wren: 60 of 60 leaves are a single pin")


def test_the_sample_season_is_not_asked_whether_it_holds_pin_counts(tmp_path: Path) -> None:
    load(SAMPLE, tmp_path / "season.duckdb")
    with open_for_reading(tmp_path / "season.duckdb") as connection:
        assert oddities(connection) == ()


def test_a_mistyped_pattern_comes_with_the_nearest(tmp_path: Path) -> None:
    blocks = REFERENCES["blocks.csv"].replace(",low,", ",Low 1,")
    patterns = REFERENCES["patterns.csv"].replace("low,", "low-1,")
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")], blocks=blocks, patterns=patterns)
    (note,) = load(folder).notes
    assert "Low 1: did you mean low-1?" in note


def test_review_prints_what_was_loaded_before_it_says_that_nothing_is_left(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", ball="blue")])
    command = [sys.executable, "-m", "pipeline", "review", str(folder), "--db", str(tmp_path / "s.duckdb")]
    done = subprocess.run(
        [*command, "--out", str(tmp_path / "out")], capture_output=True, text=True, check=False, cwd=SAMPLE.parent
    )
    assert done.returncode == 1 and "No first delivery that counts" in done.stderr
    assert "1 row, ball: unknown ball." in done.stdout


def test_the_database_knows_the_same_words_for_nothing(tmp_path: Path) -> None:
    rows = [shot(k % 10 + 1, 1, "X", game=1 + k // 10, entry_board=word.upper()) for k, word in enumerate(NOTHING)]
    folder = write_logs(tmp_path / "logs", rows)
    assert load(folder).rows_quarantined == 0 and all(map(is_nothing, NOTHING))
