"""Faults around the command: one clear sentence and a non-zero exit each, and what was there is still there."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from pipeline import cli
from pipeline.decisions.export.writers import to_csv, to_json
from pipeline.errors import RackledgerError
from pipeline.settings import Settings
from pipeline.store.season import open_season
from tests.faults.kill_runs import TABLES, database_print, folder_print
from tests.faults.places import ENVIRONMENT, on_full_disk, one_sentence, rackledger, run, signalled, where_read_only
from tests.faults.season import earlier_reports_are_whole, loaded, with_another_shot
from tests.reports.factory import season as decisions

_HOLD = """
import sys
from pathlib import Path
from pipeline.store.database import open_for_writing
connection = open_for_writing(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""
# The command with one query that would take days on threads of its own, and Ctrl-C once the process works on it.
_STOP_IN_A_QUERY = """
import os, signal, sys, threading, time
import queries
from pipeline import cli
from pipeline.store import season
signal.signal(signal.SIGINT, signal.default_int_handler)
read, long = queries.sql, sys.argv[1]
def stop_when_at_work():
    start = time.process_time()  # of all threads
    while time.process_time() < start + 0.5:
        time.sleep(0.01)
    print(f"stopped at {time.monotonic()}", flush=True)
    os.kill(os.getpid(), signal.SIGINT)
def sql(name):
    if name != long:
        return read(name)
    threading.Thread(target=stop_when_at_work).start()
    return "SET threads = 4; SELECT sum(sqrt(a.range * b.range)) FROM range(10000000) AS a, range(10000000) AS b"
queries.sql = season.sql = sql
sys.argv = ["rackledger", *sys.argv[2:]]
cli.main()
"""


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return loaded(tmp_path_factory.mktemp("faults") / "start")


@pytest.fixture
def place(start: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(start, tmp_path / "place"))


def load(place: Path) -> list[str]:
    return rackledger("load", place / "logs", "--db", place / "season.duckdb")


def report(place: Path) -> list[str]:
    return rackledger("report", "--db", place / "season.duckdb", "--out", place / "reports")


def here(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: object) -> tuple[int, str]:
    """Exit code and standard error of the command, run in this process to be quick."""
    monkeypatch.setattr(sys, "argv", ["rackledger", *map(str, words)])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return int(str(ended.value.code)), capsys.readouterr().err


# Full disk


def test_load_on_a_full_disk(place: Path) -> None:
    before = database_print(place / "season.duckdb")
    noise = random.Random(1)
    shots = place / "logs" / "shots.csv"
    head, first = shots.read_text(encoding="utf-8").splitlines()[:2]
    row = dict(zip(head.split(","), first.split(","), strict=True)) | {"leave": "X"}
    games = [row | {"game": str(g), "frame": str(f)} for g in range(1, 100) for f in range(1, 11)]
    shots.write_text(
        "\n".join([head, *(",".join((r | {"note": noise.randbytes(300).hex()}).values()) for r in games)]) + "\n",
        encoding="utf-8",
    )
    logs = Path(shutil.move(place / "logs", place.with_name("logs")))
    done = on_full_disk(rackledger("load", logs, "--db", place / "season.duckdb"), place, 64_000)
    one_sentence(done, "season.duckdb", "disk is full")
    assert database_print(place / "season.duckdb") == before
    assert earlier_reports_are_whole(place)


def test_report_on_a_full_disk(place: Path) -> None:
    database = Path(shutil.move(place / "season.duckdb", place.with_name("season.duckdb")))
    shutil.rmtree(place / "logs")
    done = on_full_disk(rackledger("report", "--db", database, "--out", place / "reports"), place, 150_000)
    one_sentence(done, "reports", "cannot be written")
    assert earlier_reports_are_whole(place)
    assert sorted(path.name for path in place.iterdir()) == ["reports", "season.quarantine.csv"]


def test_print_to_a_full_disk(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            rackledger("template", tmp_path / "new"),
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env=ENVIRONMENT,
        )
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    assert "No space left" in done.stderr


@pytest.mark.parametrize("write", [lambda d, p: to_json(d, p / "d.json"), to_csv], ids=["json", "csv"])
def test_exports_that_do_not_fit_leave_the_earlier_ones(write: Callable[..., object], tmp_path: Path) -> None:
    write(decisions(), tmp_path)
    before = folder_print(tmp_path)
    largest = max(path.stat().st_size for path in tmp_path.iterdir())
    changed = decisions().model_copy(update={"title": "Another"})
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (largest // 2, hard))
    try:
        with pytest.raises(OSError, match="too large"):
            write(changed, tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    files = {path.name for path in tmp_path.iterdir()}
    assert not [name for name in files if name.endswith(".part")]
    assert write is to_csv or folder_print(tmp_path) == before


# Read-only places


def test_read_only_folder(place: Path) -> None:
    before = database_print(place / "season.duckdb")
    one_sentence(where_read_only(load(with_another_shot(place)), place), "no permission")
    one_sentence(where_read_only(report(place), place), "no permission")
    one_sentence(where_read_only(rackledger("template", place / "new"), place), "cannot be written")
    new = rackledger("load", place / "logs", "--db", place / "new.duckdb")
    one_sentence(where_read_only(new, place), "no permission")
    assert database_print(place / "season.duckdb") == before
    assert earlier_reports_are_whole(place)


def test_a_season_can_be_read_where_nothing_can_be_written(place: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from pipeline.store.season import open_season; "
        "from pipeline.settings import Settings\n"
        "with open_season(Path(sys.argv[1]), Settings()) as season: print(len(season.table('deliveries')))"
    )
    done = where_read_only([sys.executable, "-c", code, str(place / "season.duckdb")], place)
    assert done.stdout == "3\n", done.stderr


# Another process


def test_locked_by_another_process(place: Path) -> None:
    command = [sys.executable, "-c", _HOLD, str(place / "season.duckdb")]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen(command, text=True, env=ENVIRONMENT, **pipes) as holder:  # type: ignore[call-overload]
        assert holder.stdout.readline() == "held\n"
        for attempt in (load, report):
            one_sentence(run(attempt(place)), f"process id {holder.pid}")
        holder.communicate("")
    assert earlier_reports_are_whole(place)


# Files that are no season


def _text(path: Path, good: Path) -> None:
    path.write_text("not a database\n" * 1000)


def _empty(path: Path, good: Path) -> None:
    path.touch()


def _of_another_program(path: Path, good: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE t (x)")


def _of_other_tables(path: Path, good: Path) -> None:
    duckdb.connect(str(path)).execute("CREATE TABLE t (x INTEGER)").close()


def _cut_short(path: Path, good: Path) -> None:
    path.write_bytes(good.read_bytes()[: good.stat().st_size // 2])


def _of_an_older_version(path: Path, good: Path) -> None:
    shutil.copy(good, path)
    with duckdb.connect(str(path)) as connection:
        connection.execute("UPDATE schema_version SET version = 0")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (_text, "not a season database"),
        (_empty, "not a season database"),
        (_of_another_program, "not a season database"),
        (_of_other_tables, "of something else"),
        (_cut_short, "damaged"),
        (_of_an_older_version, "schema version 0, this program writes version 3; move it away and load the logs again"),
    ],
)
def test_not_a_season(
    make: Callable[[Path, Path], None],
    words: str,
    place: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = place / "other.duckdb"
    make(path, place / "season.duckdb")
    before = path.read_bytes()
    for command in (
        ["load", place / "logs", "--db", path],
        ["report", "--db", path, "--out", place / "reports"],
        ["decide", "--db", path, "--json", place / "d.json"],
    ):
        code, printed = here(capsys, monkeypatch, *command)
        assert code == 1
        assert words in printed and len(printed.splitlines()) == 1
    assert path.read_bytes() == before
    assert earlier_reports_are_whole(place)


def test_damage_anywhere_in_a_season_is_reported(place: Path) -> None:
    """Bytes overwritten at many places; a block's checksum is looked at only when the block is read."""
    whole, dice, refused = (place / "season.duckdb").read_bytes(), random.Random(1), 0
    before = database_print(place / "season.duckdb")
    for _ in range(40):
        at = dice.randrange(len(whole) - 64)
        (place / "season.duckdb").write_bytes(whole[:at] + dice.randbytes(64) + whole[at + 64 :])
        try:
            with open_season(place / "season.duckdb", Settings()) as season:
                for table in TABLES:
                    season.table(table)
            assert database_print(place / "season.duckdb") == before  # it met room that holds nothing
        except RackledgerError as error:
            refused += 1
            assert "damaged" in str(error)
            assert str(error).isprintable()
    assert refused > 10


# Names the shell can give and the database cannot take


@pytest.mark.parametrize("name", ["season\udcff.duckdb", "new\udcff/season.duckdb"])
def test_names_that_are_not_text(place: Path, name: str) -> None:
    (place / "new\udcff").mkdir()
    one_sentence(run(rackledger("load", place / "logs", "--db", place / name)), "not UTF-8")


def test_logs_with_names_that_are_not_text(place: Path) -> None:
    shutil.copy(place / "logs" / "shots.csv", place / "logs" / "shots\udcff\n.csv")
    done = run(load(place))
    assert done.returncode == 3, done.stderr
    assert "shots\\udcff\\n.csv: refused" in done.stdout
    one_sentence(run(rackledger("load", place / "logs\udcff", "--db", place / "s.duckdb")), "not UTF-8")


@pytest.mark.parametrize("name", [":memory:", "md:club", "sqlite:club.db"])
def test_a_name_is_a_file_whatever_it_looks_like(
    place: Path, name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place)
    assert here(capsys, monkeypatch, "load", "logs", "--db", name)[0] == 0
    assert database_print(place / name) == database_print(place / "season.duckdb")


def test_any_name_can_be_printed(place: Path) -> None:
    """A terminal of few signs shows the others as escapes."""
    command = rackledger("template", place / "new \u2603")
    done = subprocess.run(command, capture_output=True, check=False, env=ENVIRONMENT | {"PYTHONIOENCODING": "cp1252"})
    assert done.returncode == 0, done.stderr
    assert b"new \\u2603" in done.stdout


# Ctrl-C


def test_stopped_load(place: Path) -> None:
    before = database_print(place / "season.duckdb")
    with_another_shot(place)
    words = ("load", place / "logs", "--db", place / "season.duckdb")
    one_sentence(signalled("storing deliveries", signal.SIGINT, *words), "stopped", code=130)
    assert database_print(place / "season.duckdb") == before


@pytest.mark.parametrize(("command", "query"), [("load", "load/marks"), ("report", "views/first_balls")])
def test_stopped_in_the_middle_of_a_query(place: Path, command: str, query: str) -> None:
    before = database_print(place / "season.duckdb")
    with_another_shot(place)
    words = {"load": load(place), "report": report(place)}[command][3:]
    done = run([sys.executable, "-c", _STOP_IN_A_QUERY, query, *words])
    ended = time.monotonic()
    one_sentence(done, "stopped", code=130)
    stopped = done.stdout.rpartition("stopped at ")[2]  # DuckDB may draw its own bar under ``python -c``
    assert ended - float(stopped) < 10  # about one second where nothing else runs
    assert database_print(place / "season.duckdb") == before
    assert earlier_reports_are_whole(place)


def test_stopped_report(place: Path) -> None:
    words = ("report", "--db", place / "season.duckdb", "--out", place / "reports")
    one_sentence(signalled("drawing charts", signal.SIGINT, *words), "stopped", code=130)
    assert earlier_reports_are_whole(place)
    assert not [path for path in place.iterdir() if path.name.startswith(".")]
    assert os.access(place / "season.duckdb", os.W_OK)
