"""Where output may go: nothing a run reads is overwritten, and odd places work or are refused in one sentence."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from pipeline.decisions.export.output_places import ExportError, check_csv, check_json, check_key
from pipeline.decisions.export.writers import to_csv, to_json
from pipeline.errors import RackledgerError
from pipeline.intake import IntakeError
from pipeline.intake.quarantine import place_of
from pipeline.output_files import is_mount_point, refuse_inputs, usual_mode
from reports.errors import ReportError
from reports.place import check_place
from reports.publish import render_all
from tests.faults.places import one_sentence, rackledger, run, where_read_only
from tests.intake.logs import load, shot, write_logs
from tests.reports.factory import season


@pytest.fixture
def club(tmp_path: Path) -> Path:
    """A folder with logs, a loaded database and a settings file; nothing in it is large enough to fit."""
    load(write_logs(tmp_path / "logs", [shot(1, 1, "X"), shot(2, 1, "11")]))
    (tmp_path / "s.toml").write_text("[costs]\nresurface = 2.0\n", encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    "words",
    [
        ("--json", "season.duckdb"),
        ("--json", "link.duckdb"),
        ("--json", "logs/shots.csv"),
        ("--json", "season.quarantine.csv"),
        ("--json", "s.toml", "--settings", "s.toml"),
        ("--csv", "logs"),
        ("--ledger", "season.duckdb"),
        ("--ledger", "logs/shots.csv"),
        ("--ledger", "d.json", "--json", "d.json"),
        ("--ledger", "out/ledger.csv", "--csv", "out"),
        ("--json", "d.json", "--alias", "--alias-key", "season.duckdb"),
        ("--json", "d.json", "--alias", "--alias-key", "d.json"),
        ("--json", "d.json", "--alias", "--alias-key", "logs/bowlers.csv"),
    ],
)
def test_no_output_overwrites_what_the_run_reads(club: Path, words: tuple[str, ...]) -> None:
    (club / "link.duckdb").symlink_to("season.duckdb")
    before = {path: path.read_bytes() for path in club.rglob("*") if path.is_file()}
    options = [word if word.startswith("-") else club / word for word in words]
    one_sentence(run(rackledger("decide", "--db", club / "season.duckdb", *options)))
    assert {path: path.read_bytes() for path in club.rglob("*") if path.is_file()} == before


def test_a_file_of_ours_is_replaced_and_another_is_not(tmp_path: Path) -> None:
    mine, theirs = to_json(season(), tmp_path / "d.json"), tmp_path / "notes.json"
    check_json(mine)
    theirs.write_text('{"plans": 1}', encoding="utf-8")
    with pytest.raises(ExportError, match="not a file of decisions"):
        check_json(theirs)
    with pytest.raises(ExportError, match="not a key"):
        check_key(theirs)
    to_csv(season(), tmp_path / "csv")
    check_csv(tmp_path / "csv")
    (tmp_path / "csv" / "changes.csv").write_text("day,oil change\n", encoding="utf-8")
    with pytest.raises(ExportError, match="was not written by this program"):
        check_csv(tmp_path / "csv")


def test_one_place_under_two_names_is_one(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with pytest.raises(RackledgerError, match="would be overwritten"):
        refuse_inputs(tmp_path / "a" / ".." / "new.json", [None, tmp_path / "new.json"])


# The folder of the reports


def test_reports_into_the_working_folder_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for place in (Path(), Path(".."), tmp_path):
        with pytest.raises(ReportError, match=r"working in that folder|is not a report"):
            check_place(place)
    check_place(Path("reports"))


def test_reports_through_a_link_go_where_it_leads(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    index = render_all(season(), tmp_path / "link")
    assert (tmp_path / "link").is_symlink() and index == tmp_path / "link" / "index.html"
    assert (tmp_path / "real" / "index.html").is_file()


def test_a_file_through_a_link_goes_where_it_leads(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link.json").symlink_to(tmp_path / "real" / "d.json")
    to_json(season(), tmp_path / "link.json")
    to_json(season(), tmp_path / "link.json")
    assert (tmp_path / "link.json").is_symlink() and (tmp_path / "real" / "d.json").is_file()


def test_a_folder_nobody_may_write_to_is_refused_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "reports").mkdir()
    place = tmp_path / "reports"
    code = "import sys; from pathlib import Path; from reports.place import check_place; check_place(Path(sys.argv[1]))"
    done = where_read_only([sys.executable, "-c", code, str(place)], place)
    assert "ReportError" in done.stderr and ("no permission" in done.stderr or "mount point" in done.stderr)


def test_a_mount_point_is_refused_before_the_work(tmp_path: Path) -> None:
    assert is_mount_point(Path("/proc")) and not is_mount_point(tmp_path)
    (tmp_path / "reports").mkdir()
    script = 'mount --bind "$1" "$1" && exec "$2" -c "$3" "$1"'
    code = "import sys; from pathlib import Path; from pipeline.output_files import is_mount_point\n"
    code += "print(is_mount_point(Path(sys.argv[1])))"
    unshare = ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--mount", "--map-root-user"]
    done = run([*unshare, "sh", "-c", script, "sh", str(tmp_path / "reports"), sys.executable, code])
    if done.returncode:
        pytest.skip("no mount namespaces here")
    assert done.stdout == "True\n"


def test_the_database_may_not_lie_among_the_reports(club: Path) -> None:
    (club / "reports").mkdir()
    words = ("review", club / "logs", "--db", club / "reports" / "season.duckdb", "--out", club / "reports")
    one_sentence(run(rackledger(*words)), "the database")
    assert not list((club / "reports").iterdir())


# Permissions


def test_new_files_follow_the_umask_and_replaced_ones_keep_their_mode(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        render_all(season(), tmp_path / "reports")
        to_json(season(), tmp_path / "d.json")
        assert usual_mode(tmp_path / "no such file") == 0o640
    finally:
        os.umask(before)
    modes = {path: stat.S_IMODE(path.stat().st_mode) for path in tmp_path.rglob("*")}
    assert {mode for path, mode in modes.items() if path.is_dir()} == {0o750}
    assert {mode for path, mode in modes.items() if path.is_file()} == {0o640}
    (tmp_path / "d.json").chmod(0o600)
    (tmp_path / "reports").chmod(0o700)
    render_all(season(), tmp_path / "reports")
    to_json(season(), tmp_path / "d.json")
    assert stat.S_IMODE((tmp_path / "d.json").stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "reports").stat().st_mode) == 0o700
    assert stat.S_IMODE((tmp_path / "reports" / "index.html").stat().st_mode) == 0o640


# The list of rows set aside


def test_two_databases_in_one_folder_keep_a_list_each(tmp_path: Path) -> None:
    one = write_logs(tmp_path / "one", [shot(1, 1, "11")])
    two = write_logs(tmp_path / "two", [shot(1, 1, "X")])
    load(one, tmp_path / "one.duckdb")
    before = (tmp_path / "one.quarantine.csv").read_bytes()
    report = load(two, tmp_path / "two.duckdb")
    assert report.quarantine_csv == tmp_path / "two.quarantine.csv"
    assert (tmp_path / "one.quarantine.csv").read_bytes() == before and b"11" in before
    assert len({place_of(tmp_path / name) for name in ("a.duckdb", "a.db", "b.duckdb")}) == 3


def test_a_list_that_is_not_ours_is_never_overwritten(tmp_path: Path) -> None:
    mine = tmp_path / "season.quarantine.csv"
    mine.write_text("my own notes\n", encoding="utf-8")
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "11")])
    with pytest.raises(IntakeError, match="move it away"):
        load(folder)
    assert mine.read_text(encoding="utf-8") == "my own notes\n"
    assert not (tmp_path / "season.duckdb").exists()
    mine.unlink()
    load(folder)
    load(folder)  # its own it replaces
