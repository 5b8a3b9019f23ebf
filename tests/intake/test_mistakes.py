"""A folder with many kinds of mistakes loads its good rows and explains each bad one."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.intake.logs import ask, file_report, kept_lines, load, reasons, shot, write_logs

# (row, column that must be named, words that must be in the reason)
MISTAKES = [
    (shot(1, 1, "X", date="2026-02-30"), "date", "date"),
    (shot(1, 1, "X", date=""), "date", "empty"),
    (shot(1, 1, "X", date="2025-03-05"), "date", "another day"),
    (shot(1, 1, "X", block="b9"), "block", "unknown block"),
    (shot(1, 1, "X", block=""), "block", "empty"),
    (shot(1, 1, "X", bowler="nobody", ball="w1"), "bowler", "unknown bowler"),
    (shot(1, 1, "X", ball="w9"), "ball", "unknown ball"),
    (shot(1, 1, "X", ball="t1"), "ball", "another bowler"),
    (shot(1, 1, "X", lane="seven"), "lane", "whole number"),
    (shot(1, 1, "X", lane="7.5"), "lane", "whole number"),
    (shot(1, 1, "X", game=0), "game", "from 1 to 60"),
    (shot(11, 1, "X"), "frame", "from 1 to 10"),
    (shot(1, 4, "X"), "delivery", "from 1 to 3"),
    (shot(1, 1, "X", laydown_board="41"), "laydown_board", "from 0 to 40"),
    (shot(1, 1, "X", arrow_board="0"), "arrow_board", "from 1 to 39"),
    (shot(1, 1, "X", breakpoint_board="-1"), "breakpoint_board", "from 0 to 40"),
    (shot(1, 1, "X", breakpoint_ft="420"), "breakpoint_ft", "from 10 to 60"),
    (shot(1, 1, "X", entry_board="175"), "entry_board", "from 0 to 40"),
    (shot(1, 1, "X", entry_angle_deg="57"), "entry_angle_deg", "from -2 to 12"),
    (shot(1, 1, "X", speed_mph="172"), "speed_mph", "from 5 to 30"),
    (shot(1, 1, "X", speed_mph="nan"), "speed_mph", "from 5 to 30"),
    (shot(1, 1, "X", rev_rpm="fast"), "rev_rpm", "from 0 to 700"),
    (shot(1, 1, "X", foul="perhaps"), "foul", "yes or no"),
    (shot(1, 1, ""), "leave", "empty"),
    (shot(1, 1, "11"), "leave", "no pin 11"),
    (shot(1, 1, "7-7"), "leave", "twice"),
    (shot(1, 1, "seven"), "leave", "expected a leave"),
    (shot(1, 1, "/"), "leave", "cannot be a spare"),
    (shot(1, 1, "31-Dec"), "leave", "spreadsheet"),
    (shot(1, 2, "/"), "delivery", "delivery 1 of this frame is missing"),
    (shot(1, 1, "X") + ",one,two", "row", "21 fields instead of 19"),
    ("2026-03-05,b1,wren", "row", "3 fields instead of 19"),
]


@pytest.mark.parametrize(("row", "column", "words"), MISTAKES)
def test_each_mistake_is_named(tmp_path: Path, row: str, column: str, words: str) -> None:
    folder = write_logs(tmp_path / "logs", [shot(5, 1, "X"), row, shot(6, 1, "X")])
    report = file_report(load(folder))
    assert (report.read, report.kept) == (3, 2)
    assert kept_lines(folder) == [2, 4]
    faults = reasons(folder)
    assert set(faults) == {(3, column)}
    assert words in faults[3, column][1]


def test_all_mistakes_at_once(tmp_path: Path) -> None:
    rows = []
    for game, (row, _, _) in enumerate(MISTAKES, start=2):
        rows += [row, shot(1, 1, "3-10", game=game), shot(1, 2, "/", game=game, ball="w2")]
    folder = write_logs(tmp_path / "logs", rows)
    report = file_report(load(folder))
    assert report.read == 3 * len(MISTAKES)
    assert report.kept == 2 * len(MISTAKES)
    assert {line for line, _ in reasons(folder)} == {2 + 3 * n for n in range(len(MISTAKES))}
    with (tmp_path / "season.quarantine.csv").open(encoding="utf-8-sig", newline="") as file:
        listed = list(csv.DictReader(file))
    assert len({row["line"] for row in listed}) == len(MISTAKES)
    assert all(row["reason"] and row["mend"] and row["row as read"] for row in listed)
    assert [int(row["line"]) for row in listed] == sorted(int(row["line"]) for row in listed)


# Order within a frame: the rules of the game (a strike ends frames 1-9, a third delivery in the tenth is earned by a
# strike or a spare, pins knocked down stay down).
FRAMES = [
    ("a strike ends the frame", [shot(1, 1, "X"), shot(1, 2, "7")], {3: "strike"}),
    ("no third delivery", [shot(1, 1, "7"), shot(1, 2, "/"), shot(1, 3, "X")], {4: "only the tenth"}),
    ("third not earned", [shot(10, 1, "7-10"), shot(10, 2, "7"), shot(10, 3, "X")], {4: "earned"}),
    ("third earned by a spare", [shot(10, 1, "7-10"), shot(10, 2, "/"), shot(10, 3, "X")], {}),
    ("third earned by a strike", [shot(10, 1, "X"), shot(10, 2, "10"), shot(10, 3, "/")], {}),
    ("three strikes", [shot(10, 1, "X"), shot(10, 2, "X"), shot(10, 3, "X")], {}),
    ("no spare at a new rack", [shot(10, 1, "X"), shot(10, 2, "/"), shot(10, 3, "X")], {3: "new rack", 4: "set aside"}),
    ("a felled pin stays down", [shot(1, 1, "3-10"), shot(1, 2, "3-6")], {3: "pin 6 was already down"}),
    ("the frame depends on its first row", [shot(1, 1, "X", lane="x"), shot(1, 2, "7")], {2: "whole", 3: "set aside"}),
    ("no strike at a spare", [shot(1, 1, "7"), shot(1, 2, "X")], {3: "cannot be a strike"}),
    ("after a foul the rack is set again", [shot(1, 1, "", foul="yes"), shot(1, 2, "/")], {}),
    ("a like copy is needless", [shot(1, 1, "7"), shot(1, 1, "7"), shot(1, 2, "/")], {3: "duplicate of an earlier"}),
    (
        "differing copies are both unsure",
        [shot(1, 1, "7"), shot(1, 1, "10"), shot(1, 2, "/")],
        {2: "differ", 3: "differ", 4: "set aside"},
    ),
]


@pytest.mark.parametrize(("rows", "bad"), [case[1:] for case in FRAMES], ids=[case[0] for case in FRAMES])
def test_order_within_a_frame(tmp_path: Path, rows: list[str], bad: dict[int, str]) -> None:
    folder = write_logs(tmp_path / "logs", rows)
    report = file_report(load(folder))
    assert report.kept == len(rows) - len(bad)
    faults_by_line = {line: why for (line, _), (_, why) in reasons(folder).items()}
    assert set(faults_by_line) == set(bad)
    for line, words in bad.items():
        assert words in faults_by_line[line]


def test_what_is_stored(tmp_path: Path) -> None:
    rows = [
        shot(1, 1, "7", bowler="tarn"), shot(1, 2, "/", bowler="tarn"),
        shot(10, 1, "X"), shot(10, 2, "-", foul="x"), shot(10, 3, "6-10"),
    ]  # fmt: skip
    folder = write_logs(tmp_path / "logs", rows)
    load(folder)
    stored = ask(folder, "SELECT bowler, facing, standing, first_ball, foul FROM deliveries ORDER BY line")
    pin_10, full = 1 << 9, 1023  # a left-hander's 7 pin is stored as the 10; bit p-1 stands for pin p
    assert stored == [
        ("tarn", full, pin_10, True, False),
        ("tarn", pin_10, 0, False, False),
        ("wren", full, 0, True, False),
        ("wren", full, full, True, True),
        ("wren", full, pin_10 | 1 << 5, False, False),  # a rack set again after a foul is no new rack
    ]


def test_a_row_tells_all_its_mistakes(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(2, 1, "X"), shot(1, 1, "X", lane="x", speed_mph="99", ball="w9")])
    load(folder)
    assert set(reasons(folder)) == {(3, "lane"), (3, "speed_mph"), (3, "ball")}


def test_rows_of_a_quarantined_ball_go_with_it(tmp_path: Path) -> None:
    balls = "ball,bowler,cover,core\nw1,wren,rubber,symmetric\nw2,wren,polyester,symmetric\nt1,tarn,pearl,symmetric\n"
    folder = write_logs(
        tmp_path / "logs", [shot(1, 1, "7"), shot(1, 2, "/", ball="w2"), shot(2, 1, "X", ball="w2")], balls=balls
    )
    report = load(folder)
    assert file_report(report, "balls.csv").quarantined == 1
    assert reasons(folder)[2, "ball"] == ("w1", "unknown ball")
    assert kept_lines(folder) == [4]


def test_the_commonest_reasons_are_printed_with_the_load(tmp_path: Path) -> None:
    rows = [shot(k, 1, "X", block="b2", date="2026-03-12") for k in range(1, 8)] + [shot(k, 1, "X") for k in (1, 2)]
    rows += [shot(3, 1, "X", lane="x"), shot(4, 1, "X", lane="", speed_mph="99")]
    folder = write_logs(tmp_path / "logs", rows, blocks="block,date,pattern\nb1,2026-03-05,low\nb2,soon,low\n")
    printed = load(folder).lines()
    at = printed.index("Set aside most often:")
    assert any(line.endswith("10 kept, 10 set aside.") for line in printed) and "season.quarantine.csv" in printed[-1]
    assert printed[at + 1].startswith("  7 rows, block: unknown block. Add it to blocks.csv")
    assert len(printed) == at + 5 and printed[at + 2].startswith("  1 row, ")


def test_a_fault_in_a_reference_file_is_printed_before_what_depends_on_it(tmp_path: Path) -> None:
    balls = "ball,bowler,cover,core\nw1,wren,rubber,symmetric\n"
    printed = load(write_logs(tmp_path / "logs", [shot(k, 1, "X") for k in (1, 2, 3)], balls=balls)).lines()
    at = printed.index("Mend these first, since other rows name them:")
    assert printed[at + 1].startswith("  balls.csv line 2, cover 'rubber': expected ") and printed[at + 2].startswith(
        "Set aside"
    )
    assert not any("unknown" in line for line in printed[: at + 2])


def test_a_missing_file_is_named_in_the_mend(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    (folder / "bowlers.csv").unlink()
    printed = load(folder).lines()
    assert any("no usable row in bowlers.csv: add that file" in line for line in printed)


def test_nothing_set_aside_needs_no_reasons(tmp_path: Path) -> None:
    report = load(write_logs(tmp_path / "logs", [shot(1, 1, "X")]))
    assert report.reasons == () and report.lines()[-1].endswith("0 set aside.")


REFERENCE_MISTAKES = [
    ("bowlers", "bowler,hand\nwren,both\ntarn,left\n", "hand"),
    ("bowlers", "bowler,hand\nwren,right\ntarn,left\nwren,left\n", "bowler"),
    ("balls", "ball,bowler,cover,core,rg_in\nw1,wren,solid,symmetric,25\n", "rg_in"),
    ("patterns", "pattern,length_ft\nlow,long\n", "length_ft"),
    ("blocks", "block,date,pattern\nb1,yesterday,low\n", "date"),
    ("maintenance", "date,ball,action\n2026-03-06,w1,polish away\n", "action"),
    ("maintenance", "date,ball,action\n2026-03-06,w9,clean\n", "ball"),
    ("maintenance", "date,ball,action\n2026-03-06,w1\n", "row"),
]


@pytest.mark.parametrize(("kind", "text", "column"), REFERENCE_MISTAKES)
def test_references_are_checked_too(tmp_path: Path, kind: str, text: str, column: str) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")], **{kind: text})
    assert file_report(load(folder), f"{kind}.csv").quarantined == 1
    answers = ask(folder, f"SELECT column_name FROM quarantine WHERE source_file = '{kind}.csv'")
    assert (column,) in answers
