"""Several folders in one database, files that move or go, and dropping what is stored from them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.intake import IntakeError, load_folder
from pipeline.intake.forget import forget
from tests.intake.logs import REFERENCES, ask, file_report, load, shot, write_logs

DB = "season.duckdb"


def test_two_folders_with_files_of_one_name_are_both_kept(tmp_path: Path) -> None:
    anna = write_logs(tmp_path / "anna", [shot(1, 1, "X")])
    ben = write_logs(tmp_path / "ben", [shot(1, 1, "X", game=2), shot(2, 1, "X", game=2)])
    load(anna)
    report = load(ben)
    assert report.rows_quarantined == 0  # the references say the same in both
    assert ask(ben, "SELECT source_file, count(*) FROM deliveries GROUP BY ALL ORDER BY ALL") == [
        ("ben/shots.csv", 2),
        ("shots.csv", 1),
    ]
    assert {file.status for file in load(anna).files} == {"unchanged"}
    write_logs(anna, [shot(1, 1, "7")])
    load(anna)
    assert ask(ben, "SELECT count(*) FROM deliveries") == [(3,)]


def test_a_ball_defined_in_two_ways_is_a_fault_that_names_the_other_file(tmp_path: Path) -> None:
    load(write_logs(tmp_path / "anna", [shot(1, 1, "X")]))
    other = REFERENCES["balls.csv"].replace(
        "w1,wren,first,solid,asymmetric,2.48", "w1,wren,first,pearl,asymmetric,2.51"
    )
    ben = write_logs(tmp_path / "ben", [shot(1, 1, "X", game=2)], balls=other)
    report = load(ben)
    assert file_report(report, "ben/balls.csv").quarantined == 1
    (fault,) = report.faults
    assert (fault.column, fault.value) == ("ball", "w1")
    assert fault.reason == "this ball is defined in balls.csv with cover solid, rg_in 2.48"
    assert ask(ben, "SELECT cover FROM balls WHERE ball = 'w1'") == [("solid",)]


def test_a_moved_folder_and_a_renamed_file_are_recognised(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    moved = tmp_path / "archive" / "logs"
    moved.parent.mkdir()
    folder.rename(moved)
    report = load(moved, tmp_path / DB)
    assert {file.status for file in report.files} == {"unchanged"} and report.left_behind == ()
    (moved / "shots.csv").rename(moved / "shots_spring.csv")
    report = load(moved, tmp_path / DB)
    assert report.left_behind == () and report.rows_quarantined == 0
    assert ask(moved, "SELECT source_file FROM deliveries", tmp_path / DB) == [("shots_spring.csv",)]
    write_logs(moved, [shot(1, 1, "7"), shot(1, 2, "/")], name="shots_spring.csv")
    assert file_report(load(moved, tmp_path / DB), "shots_spring.csv").kept == 2


def test_a_copy_of_logs_and_database_together_is_the_same_season(tmp_path: Path) -> None:
    load(write_logs(tmp_path / "one" / "logs", [shot(1, 1, "X")]))
    shutil.copytree(tmp_path / "one", tmp_path / "two")
    report = load(tmp_path / "two" / "logs")
    assert {file.status for file in report.files} == {"unchanged"} and report.rows_quarantined == 0


def test_files_no_longer_there_are_listed_at_every_load_and_can_be_dropped(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "9")], name="shots_1.csv")
    load(folder)
    (folder / "shots_1.csv").unlink()
    write_logs(folder, [shot(1, 1, "7"), shot(1, 2, "/")], name="shots_2.csv")
    for _ in range(2):
        report = load(folder)
        assert [(file.name, file.rows) for file in report.left_behind] == [("shots_1.csv", 2)]
        assert any("rackledger forget --missing" in line for line in report.lines())
        assert file_report(report, "shots_2.csv").kept == 0  # the stale rows hold the frame
    assert forget(tmp_path / DB, (), missing=True) == [("shots_1.csv", 2)]
    report = load(folder)
    assert report.left_behind == () and file_report(report, "shots_2.csv").kept == 2
    assert ask(folder, "SELECT DISTINCT source_file FROM deliveries") == [("shots_2.csv",)]


def test_what_others_need_is_not_dropped(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    with pytest.raises(IntakeError, match=r"shots\.csv: still needs what would go"):
        forget(tmp_path / DB, ["bowlers.csv"])
    assert ask(folder, "SELECT count(*) FROM bowlers") == [(2,)]
    with pytest.raises(IntakeError, match=r"stored are shots\.csv"):
        forget(tmp_path / DB, ["shot.csv"])
    assert len(forget(tmp_path / DB, [str(folder)])) == 6
    assert ask(folder, "SELECT count(*) FROM sources") == [(0,)]


def test_rows_whose_references_went_are_set_aside_and_come_back(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(1, 1, "3", bowler="tarn")])
    load(folder)
    whole = (folder / "bowlers.csv").read_text()
    (folder / "balls.csv").rename(tmp_path / "balls.csv")
    (folder / "bowlers.csv").write_text(
        whole.splitlines()[0] + "\n" + whole.splitlines()[2].replace("wren,2001", ",2001") + "\n"
    )
    load(folder)
    assert ask(folder, "SELECT ball FROM balls") == [("t1",)]
    assert ask(folder, "SELECT count(*) FROM maintenance") == [(0,)]
    assert ask(folder, "SELECT DISTINCT reason FROM quarantine WHERE source_file = 'balls.csv'") == [
        ("unknown bowler",)
    ]
    assert ask(folder, "SELECT rows_kept, rows_quarantined FROM sources WHERE source_file = 'balls.csv'") == [(1, 2)]
    (folder / "bowlers.csv").write_text(whole)
    (tmp_path / "balls.csv").rename(folder / "balls.csv")
    assert load(folder).rows_quarantined == 0
    assert ask(folder, "SELECT count(*) FROM deliveries") == [(2,)]


def test_two_databases_in_one_folder_have_lists_of_their_own_and_a_users_file_stays(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "11")])
    for name in ("a.duckdb", "b.duckdb"):
        load_folder(folder, tmp_path / name)
    assert (tmp_path / "a.quarantine.csv").is_file() and (tmp_path / "b.quarantine.csv").is_file()
    mine = tmp_path / "c.quarantine.csv"
    mine.write_text("notes of my own\n")
    with pytest.raises(IntakeError, match="move it away"):
        load_folder(folder, tmp_path / "c.duckdb")
    assert mine.read_text() == "notes of my own\n" and not (tmp_path / "c.duckdb").exists()


def test_a_second_folder_of_one_name_is_not_taken_for_the_first_moved(tmp_path: Path) -> None:
    """Two sticks with a folder ``logs`` each, of which one is in at a time."""
    first = write_logs(tmp_path / "one" / "logs", [shot(1, 1, "X")])
    load(first, tmp_path / DB)
    first.parent.rename(tmp_path / "pulled out")
    bowlers = REFERENCES["bowlers.csv"] + "moor,Moor,left,,,\n"
    second = write_logs(tmp_path / "two" / "logs", [shot(1, 1, "X", game=2)], bowlers=bowlers)
    report = load(second, tmp_path / DB)
    assert ask(second, "SELECT count(*) FROM deliveries", tmp_path / DB) == [(2,)]
    assert [file.name for file in report.left_behind if file.rows] == ["bowlers.csv", "shots.csv"]


def test_a_folder_that_moved_and_changed_at_once_is_recognised_and_reported(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    moved = tmp_path / "archive" / "logs"
    moved.parent.mkdir()
    folder.rename(moved)
    write_logs(moved, [shot(1, 1, "X"), shot(2, 1, "7")])
    report = load(moved, tmp_path / DB)
    assert file_report(report, "shots.csv").kept == 2 and report.left_behind == ()
    assert any("taken for a newer version of" in line for line in report.lines())
    assert not any("taken for" in line for line in load(moved, tmp_path / DB).lines())


def test_a_reference_file_with_another_ending_is_the_same_file(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    (folder / "balls.csv").unlink()
    (folder / "balls.txt").write_text(REFERENCES["balls.csv"].replace("2.48", "2.51"))
    report = load(folder)
    assert (report.rows_quarantined, report.left_behind) == (0, ())
    assert ask(folder, "SELECT rg_in, source_file FROM balls WHERE ball = 'w1'") == [(2.51, "balls.txt")]


def test_what_was_mended_in_one_folder_brings_back_rows_of_the_other(tmp_path: Path) -> None:
    """A ball defined in two ways, and a frame in two files: the file that was set aside need not change."""
    anna = write_logs(tmp_path / "anna", [shot(1, 1, "X")])
    load(anna)
    changed = REFERENCES["balls.csv"].replace("2.48", "2.51")
    ben = write_logs(tmp_path / "ben", [shot(1, 1, "7"), shot(1, 1, "X", game=2)], balls=changed)
    assert load(ben).rows_quarantined == 2
    write_logs(anna, [shot(1, 1, "X", game=3)], balls=changed)
    assert load(anna).rows_quarantined == 0
    assert load(ben).rows_quarantined == 0
    assert ask(ben, "SELECT count(*) FROM deliveries") == [(3,)]
    for folder in (anna, ben):
        assert {file.status for file in load(folder).files} == {"unchanged"}


def test_a_shared_ball_stays_with_the_file_that_still_has_it(tmp_path: Path) -> None:
    anna = write_logs(tmp_path / "anna", [shot(1, 1, "X", ball="w2")])
    ben = write_logs(tmp_path / "ben", [shot(1, 1, "X", game=2)])
    (ben / "maintenance.csv").unlink()
    load(anna)
    load(ben)
    kept = [line for line in REFERENCES["balls.csv"].splitlines() if not line.startswith("w1")]
    (anna / "balls.csv").write_text("\n".join(kept) + "\n")
    (anna / "maintenance.csv").write_text("date,ball,action,grit,note\n")
    load(anna)
    assert load(ben).rows_quarantined == 0
    assert ask(ben, "SELECT source_file FROM balls WHERE ball = 'w1'") == [("ben/balls.csv",)]
    assert ask(ben, "SELECT count(*) FROM deliveries") == [(2,)]


def test_a_frame_whose_first_delivery_lost_its_ball_goes_whole(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "7"), shot(1, 2, "/", ball="w2")], name="shots_1.csv")
    load(folder)
    (folder / "shots_1.csv").rename(tmp_path / "elsewhere.csv")
    (folder / "maintenance.csv").unlink()
    kept = [line for line in REFERENCES["balls.csv"].splitlines() if not line.startswith("w1")]
    write_logs(folder, [shot(5, 1, "X", ball="w2")], name="shots_2.csv", balls="\n".join(kept) + "\n")
    load(folder)
    assert ask(folder, "SELECT source_file FROM deliveries") == [("shots_2.csv",)]
    assert ask(folder, "SELECT line, column_name FROM quarantine WHERE source_file = 'shots_1.csv' ORDER BY ALL") == [
        (2, "ball"),
        (3, "delivery"),
    ]


def test_no_bowler_is_called_everyone(tmp_path: Path) -> None:
    """Decisions call all bowlers together by that word."""
    bowlers = REFERENCES["bowlers.csv"] + "Everyone,Every One,left,,,\n"
    report = load(write_logs(tmp_path / "logs", [shot(1, 1, "X")], bowlers=bowlers))
    assert file_report(report, "bowlers.csv").quarantined == 1
    assert report.faults[0].reason == "everyone stands for all bowlers together"


def test_a_row_that_waited_for_another_folder_comes_back_once_that_is_loaded(tmp_path: Path) -> None:
    anna = write_logs(tmp_path / "anna", [shot(1, 1, "X")])
    load(anna)
    balls = REFERENCES["balls.csv"] + "m1,moor,only,pearl,symmetric,,,,,,no,no,0\n"
    ben = write_logs(tmp_path / "ben", [shot(1, 1, "X", game=2)], balls=balls)
    assert load(ben).rows_quarantined == 1
    (anna / "bowlers.csv").write_text(REFERENCES["bowlers.csv"] + "moor,Moor,left,one-handed,,\n")
    load(anna)
    assert load(ben).rows_quarantined == 0
    assert ask(ben, "SELECT source_file FROM balls WHERE ball = 'm1'") == [("ben/balls.csv",)]
