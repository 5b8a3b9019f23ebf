"""A messy but honest spreadsheet loads in one go: nothing good is lost, and everything doubtful comes with an offer."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.intake.check import check_folder
from pipeline.intake.checks.other_spellings import nearest
from tests.intake.logs import HEADER, ask, file_report, load, shot, write_logs

MESSY = {
    "bowlers": "Bowler,Name,Hand,Style,Coach\nwren,Wren,R,1-handed,Aunt Maggie\ntarn,Tarn,l,two handed,\n,,,,\n",
    "balls": "ball,bowler,name,cover,core,rg_in,diff_in,surface_grit,benchmark,spare_ball,Drilled by\n"
    'Blue,wren,Blue,solid reactive,asym,2.48 in,0.052",2000 grit,yes,no,the shop\n'
    "w2,wren,White,plastic,,n/a,-,?,no,yes,\nt1,tarn,Only,Pearl Reactive,sym,2.55,0.04,4000,yes,no,\n",
    "patterns": "pattern,name,length_ft,volume_ml,ratio\nlow,Low Road,39 ft,24 mL,5 to 1\nhouse,House,,,\n",
    "blocks": "block,date,pattern\nb1,2026-03-05 00:00:00,low\nb2,2026-03-12 00:00:00,house\nb3,2026-03-19,secret\n",
    "maintenance": "date,ball,action,grit,note\n2026-03-06,Blue,Resurfaced,#2000,\n,,,,\n",
}
ROWS = [
    shot(1, 1, "s6-10", ball="Blue", arrow_board="n/a", entry_board="?", speed_mph="-"),
    shot(1, 2, "spare", ball="w2", game="1.0", lane="#7"),
    shot(2, 1, "strike", ball="Blue", date="2026-03-05 00:00:00", foul="n/a"),
    shot(3, 1, "#10", ball="Blue"),
    shot(3, 2, "/", ball="w2"),
    shot(4, 1, "6/10", ball="Blue"),
    shot(4, 2, "10.0", ball="w2"),
    shot(1, 1, "7", bowler="tarn", block="b2", date="2026-03-12"),
    shot(1, 1, "X", block="b3", date="2026-03-19", ball="Blue"),
]
NO_ROWS = ["," * HEADER.count(","), "Total" + "," * HEADER.count(",")]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_logs(tmp_path / "logs", [*ROWS, *NO_ROWS], **MESSY)


def test_a_messy_spreadsheet_loads_whole_at_the_first_try(folder: Path) -> None:
    report = load(folder)
    assert report.rows_quarantined == 0, report.lines()
    shots = file_report(report)
    assert (shots.read, shots.kept, shots.skipped) == (len(ROWS), len(ROWS), 2)
    leaves = ask(folder, "SELECT standing FROM deliveries WHERE block = 'b1' ORDER BY frame, delivery")
    assert [mask for (mask,) in leaves] == [1 << 5 | 1 << 9, 0, 0, 1 << 9, 0, 1 << 5 | 1 << 9, 1 << 9]
    assert ask(folder, "SELECT cover, core FROM balls ORDER BY ball") == [
        ("solid", "asymmetric"),
        ("pearl", "symmetric"),
        ("polyester", "symmetric"),
    ]
    assert ask(folder, "SELECT hand, style, coach FROM bowlers ORDER BY bowler DESC") == [
        ("right", "one-handed", "Aunt Maggie"),
        ("left", "two-handed", None),
    ]
    assert ask(folder, "SELECT length_ft, volume_ml, ratio FROM patterns WHERE pattern = 'low'") == [(39, 24, 5)]
    assert ask(folder, "SELECT action, grit FROM maintenance") == [("resurface", 2000)]
    assert ask(folder, "SELECT count(arrow_board) + count(entry_board) + count(speed_mph) FROM deliveries") == [(0,)]


def test_a_pattern_without_a_length_is_unposted_and_said_so(folder: Path) -> None:
    report = load(folder)
    (note,) = report.notes
    assert note.startswith("2 blocks name a pattern without a length (house, secret): taken as unposted")


def test_columns_nobody_reads_are_named_with_the_nearest_of_ours(folder: Path) -> None:
    text = (folder / "shots.csv").read_text().replace("rev_rpm", "rev rate", 1).replace("note", "weather", 1)
    (folder / "shots.csv").write_text(text)
    shots = file_report(load(folder))
    assert "rev_rate (nearest of ours: rev_rpm)" in shots.text() and "weather" in shots.text()


def test_an_unknown_id_comes_with_the_nearest_known_one(tmp_path: Path) -> None:
    rows = [shot(1, 1, "X", ball="blue"), shot(2, 1, "X", ball="Bleu"), shot(3, 1, "X", ball="zebra")]
    checked = check_folder(write_logs(tmp_path / "logs", rows, **MESSY))
    mends = {cause.value: cause.mend for cause in checked.causes}
    assert mends["blue"].startswith("Did you mean Blue? ") and mends["Bleu"].startswith("Did you mean Blue? ")
    assert "Did you mean" not in mends["zebra"]


def test_check_stores_nothing_and_groups_by_cause(tmp_path: Path) -> None:
    rows = [shot(k, 1, "X", ball="blue") for k in range(1, 6)] + [shot(6, 1, "11", ball="Blue")]
    folder = write_logs(tmp_path / "logs", rows, **MESSY)
    (folder / "shots_2.csv").write_bytes(b"\0\0\0\0")
    command = [sys.executable, "-m", "pipeline", "check", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2])
    assert done.returncode == 3, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("shots_2.csv: would be refused")
    first = lines[lines.index("What would be set aside, by cause:") + 1]
    assert first.startswith("  5 rows, ball 'blue': unknown ball. Did you mean Blue?") and first.endswith("line 2)")
    assert [path.name for path in tmp_path.iterdir()] == ["logs"]


def test_review_says_what_was_set_aside_before_it_says_that_nothing_is_left(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", ball="blue")], **MESSY)
    command = [sys.executable, "-m", "pipeline", "review", str(folder), "--db", str(tmp_path / "s.duckdb")]
    command += ["--out", str(tmp_path / "reports")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2])
    assert done.returncode == 1 and "delivery" in done.stderr.lower()
    assert "Did you mean Blue?" in done.stdout


def test_check_is_clean_where_a_load_is(folder: Path) -> None:
    checked = check_folder(folder)
    assert checked.causes == () and checked.report.rows_quarantined == 0
    assert checked.lines()[-1] == "Nothing was stored."


def test_speeds_in_kmh_are_read_as_mph(tmp_path: Path) -> None:
    rows = [shot(1, 1, "X", speed_mph="28"), shot(2, 1, "X", speed_mph="27,5")]
    folder = write_logs(tmp_path / "logs", [rows[0]])
    text = (folder / "shots.csv").read_text().replace("speed_mph", "Speed km/h")
    (folder / "shots.csv").write_text(text)
    assert load(folder).rows_quarantined == 0
    ((speed,),) = ask(folder, "SELECT speed_mph FROM deliveries")
    assert speed == pytest.approx(28 / 1.609344, abs=0.01)


def test_only_a_whole_word_makes_a_row_of_totals(tmp_path: Path) -> None:
    """An unfinished row that merely begins like a total is set aside with its reason, not skipped."""
    rows = [shot(1, 1, "X"), "summer league" + "," * HEADER.count(","), "Totals:" + "," * HEADER.count(",")]
    shots = file_report(load(write_logs(tmp_path / "logs", rows)))
    assert (shots.read, shots.kept, shots.quarantined, shots.skipped) == (2, 1, 1, 1)


def test_a_title_above_the_header_is_named(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    write_logs(folder, [shot(2, 1, "X")], name="shots_2.csv")
    (folder / "shots_2.csv").write_text("My season\n\n" + (folder / "shots_2.csv").read_text())
    (refused,) = load(folder).refused
    assert refused.refused == "has its column names on line 3; remove what stands above them"


def test_pin_counts_in_the_column_for_pins_are_asked_about(tmp_path: Path) -> None:
    rows = [shot(k % 10 + 1, 1, str(6 + k % 4), game=k // 10 + 1) for k in range(60)]
    report = load(write_logs(tmp_path / "logs", rows))
    assert any("were numbers of pins typed" in note for note in report.notes)


@pytest.mark.parametrize(
    ("text", "known", "near"),
    [("blue", ["Blue", "Black"], "Blue"), ("Blue 2", ["blue-2"], "blue-2"), ("zebra", ["Blue"], None), ("x", [], None)],
)
def test_nearest(text: str, known: list[str], near: str | None) -> None:
    assert nearest(text, known) == near
