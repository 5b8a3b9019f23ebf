"""Loading again: the same changes nothing, a changed file replaces its own rows, and what depends on it follows."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from pipeline.intake import IntakeError
from pipeline.store.database import SCHEMA_VERSION, open_for_reading
from tests.intake.logs import HEADER, REFERENCES, ask, file_report, kept_lines, load, reasons, shot, write_logs

TABLES = ("bowlers", "balls", "patterns", "blocks", "maintenance", "deliveries", "quarantine", "sources")


def content(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    return {table: sorted(ask(folder, f"FROM {table}"), key=repr) for table in TABLES}


def test_same_files_change_nothing(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "11")])
    load(folder)
    before = content(folder)
    report = load(folder)
    assert content(folder) == before
    assert {file.status for file in report.files} == {"unchanged"}
    assert report.rows_quarantined == 1


def test_a_changed_file_replaces_only_its_own_rows(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "11")], name="shots_1.csv")
    write_logs(folder, [shot(1, 1, "7", game=2), shot(1, 2, "/", game=2)], name="shots_2.csv")
    load(folder)
    write_logs(folder, [shot(1, 1, "7", game=2)], name="shots_2.csv")
    report = load(folder)
    assert file_report(report, "shots_1.csv").status == "unchanged"
    assert ask(folder, "SELECT source_file, line FROM deliveries ORDER BY ALL") == [
        ("shots_1.csv", 2),
        ("shots_2.csv", 2),
    ]
    assert set(reasons(folder)) == {(3, "leave")}
    assert ask(folder, "SELECT rows_read FROM sources WHERE source_file = 'shots_2.csv'") == [(1,)]


def test_a_mended_ball_brings_its_shots_back(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", ball="w3"), shot(2, 1, "X")])
    load(folder)
    assert kept_lines(folder) == [3]
    (folder / "balls.csv").write_text(REFERENCES["balls.csv"] + "w3,wren,third,hybrid,symmetric,,,,,,,,\n")
    assert file_report(load(folder)).status == "loaded"
    assert kept_lines(folder) == [2, 3]
    assert reasons(folder) == {}


def test_a_ball_that_went_takes_its_shots_along(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "X", ball="w2")])
    load(folder)
    kept = [line for line in REFERENCES["balls.csv"].splitlines() if not line.startswith("w1")]
    (folder / "balls.csv").write_text("\n".join(kept) + "\n")
    (folder / "maintenance.csv").unlink()
    load(folder)
    assert kept_lines(folder) == [3]


def test_a_hand_that_changed_mirrors_again(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "7")])
    load(folder)
    assert ask(folder, "SELECT standing FROM deliveries") == [(1 << 6,)]
    (folder / "bowlers.csv").write_text(REFERENCES["bowlers.csv"].replace("wren,Wren,right", "wren,Wren,left"))
    load(folder)
    assert ask(folder, "SELECT standing FROM deliveries") == [(1 << 9,)]


def test_a_new_block_leaves_other_files_alone(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "X", ball="w9")], name="shots_1.csv")
    load(folder)
    (folder / "blocks.csv").write_text(REFERENCES["blocks.csv"] + "b3,2026-03-19,low,,\n")
    (folder / "shots_2.csv").write_text(HEADER + "\n" + shot(1, 1, "X", block="b3", date="2026-03-19") + "\n")
    report = load(folder)
    assert file_report(report, "shots_1.csv").status == "unchanged"
    assert file_report(report, "shots_2.csv").kept == 1


def test_a_frame_in_two_files_is_kept_once(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "7"), shot(1, 2, "/")], name="shots_1.csv")
    write_logs(folder, [shot(1, 1, "7"), shot(2, 1, "X")], name="shots_2.csv")
    load(folder)
    assert reasons(folder)[2, "frame"][1] == "this frame was already read from shots_1.csv"
    write_logs(folder, [shot(1, 1, "7"), shot(3, 1, "X")], name="shots_3.csv")
    load(folder)
    assert len(ask(folder, "FROM deliveries")) == 4
    assert len(reasons(folder)) == 1  # line 2 of shots_2 and of shots_3
    write_logs(folder, [shot(9, 1, "X")], name="shots_1.csv")
    report = load(folder)
    assert file_report(report, "shots_2.csv").kept == 2
    assert file_report(report, "shots_3.csv").kept == 1


def test_a_refused_file_keeps_what_it_gave(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    write_logs(folder, [shot(2, 1, "X")], name="shots_2.csv")
    load(folder)
    (folder / "shots_2.csv").write_bytes(b"\0\0\0")
    assert [file.name for file in load(folder).refused] == ["shots_2.csv"]
    assert len(ask(folder, "FROM deliveries")) == 2
    assert ask(folder, "SELECT refused IS NOT NULL FROM sources WHERE source_file = 'shots_2.csv'") == [(True,)]
    write_logs(folder, [shot(2, 1, "X")], name="shots_2.csv")
    assert load(folder).refused == ()
    assert ask(folder, "SELECT refused FROM sources WHERE source_file = 'shots_2.csv'") == [(None,)]


def test_reading_connection_reads_only(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    load(folder)
    with open_for_reading(tmp_path / "season.duckdb") as connection:
        assert connection.execute("SELECT version FROM schema_version").fetchall() == [(SCHEMA_VERSION,)]
        connection.execute("CREATE TEMP VIEW one AS SELECT 1")
        with pytest.raises(duckdb.Error):
            connection.execute("DELETE FROM deliveries")
        with pytest.raises(duckdb.PermissionException):
            connection.execute(f"SELECT * FROM read_csv('{folder}/shots.csv')")
        with pytest.raises(duckdb.Error):
            connection.execute("SET enable_external_access = true")


def test_the_whole_load_is_undone_where_it_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "11")])
    load(folder)
    before = content(folder)
    write_logs(folder, [shot(4, 1, "X")], blocks=REFERENCES["blocks.csv"] + "b3,2026-03-19,,,\n")

    def fails(*_: object) -> None:
        raise IntakeError("stopped on purpose")

    monkeypatch.setattr("pipeline.intake.load.quarantine.store", fails)
    with pytest.raises(IntakeError, match="on purpose"):
        load(folder)
    assert content(folder) == before
