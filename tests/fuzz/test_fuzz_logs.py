"""Whatever the bytes of a club's logs: only a told error comes out, and every row read is kept or set aside."""

from __future__ import annotations

import csv
import tempfile
from pathlib import Path

import duckdb
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.errors import RackledgerError
from pipeline.intake import load_folder
from tests.fuzz.profile import cases
from tests.intake.logs import REFERENCES, shot, write_logs

FILES = (*REFERENCES, "shots.csv")
_ROWS = [shot(f, 1, "X") for f in range(1, 8)] + [shot(8, 1, "7-10"), shot(8, 2, "10"), shot(1, 1, "3", bowler="tarn")]
_SNIPPETS = st.sampled_from([
    b'"', b'""', b",", b";", b"\t", b"\n", b"\r", b"\r\n", b"\0", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b"=1+1", b"'",
    b"nan", b"inf", b"-0", b"1e308", b"9" * 400, b"\\", b"NULL", b"../../x", "７".encode(), "\u202e".encode(),
])  # fmt: skip
_START = st.floats(0, 1)
_CHANGE = st.one_of(
    st.tuples(st.just("put"), _START, st.one_of(_SNIPPETS, st.binary(max_size=6))),
    st.tuples(st.just("over"), _START, st.one_of(_SNIPPETS, st.binary(max_size=6))),
    st.tuples(st.just("cut"), _START, st.integers(1, 200)),
    st.tuples(st.just("twice"), _START, st.integers(1, 200)),
    st.tuples(st.just("turn"), _START, st.integers(1, 255)),
    st.tuples(st.just("encode"), _START, st.sampled_from(["utf-16", "utf-16-le", "cp1252", "utf-8-sig", "utf-32"])),
)
Change = tuple[str, float, object]


def changed(content: bytes, change: Change) -> bytes:
    """``content`` with one change at a share of its length."""
    kind, share, what = change
    at = int(share * len(content))
    if isinstance(what, bytes):
        return content[:at] + what + content[at + (len(what) if kind == "over" else 0) :]
    if isinstance(what, str):
        return content.decode("utf-8", "replace").encode(what, "replace")
    assert isinstance(what, int)
    if kind == "cut":
        return content[:at] + content[at + what :]
    if kind == "twice":
        return content[: at + what] + content[at:]
    return content[:at] + bytes(byte ^ what for byte in content[at : at + 1]) + content[at + 1 :]


def account(folder: Path, database: Path) -> None:
    """Load, and see that the counts told are those of the tables, to the row."""
    try:
        report = load_folder(folder, database)
    except RackledgerError as error:
        assert str(error).strip()
        return
    for file in report.files:
        assert file.read == file.kept + file.quarantined
    assert all(line for line in report.lines())
    with duckdb.connect(str(database), read_only=True) as connection:
        for file in report.files:
            if file.status == "refused":
                continue
            table = "deliveries" if file.kind == "shots" else file.kind
            kept = connection.execute(f"SELECT count(*) FROM {table} WHERE source_file = ?", [file.name]).fetchall()
            asks = "SELECT count(DISTINCT line) FROM quarantine WHERE source_file = ?"
            aside = connection.execute(asks, [file.name]).fetchall()
            assert (kept, aside) == ([(file.kept,)], [(file.quarantined,)])
    _quarantine_runs_nothing(database.with_name("season.quarantine.csv"))


def _quarantine_runs_nothing(path: Path) -> None:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    assert not [cell for cell in cells if cell[:1] in tuple("=+-@\t\r\n")]


@cases(quick=25, many=3000)
@given(st.lists(st.tuples(st.sampled_from(FILES), _CHANGE), min_size=1, max_size=5))
@example([("shots.csv", ("cut", 0.0, 200))])
@example([("shots.csv", ("put", 0.99, b'"'))])
@example([("shots.csv", ("encode", 0.0, "utf-32"))])
@example([("bowlers.csv", ("over", 0.5, b"../../x"))])
def test_changed_bytes(changes: list[tuple[str, Change]]) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = write_logs(Path(place) / "logs", _ROWS)
        for name, change in changes:
            path = folder / name
            path.write_bytes(changed(path.read_bytes(), change))
        account(folder, Path(place) / "season.duckdb")


@cases(quick=10, many=500)
@given(st.lists(st.tuples(st.sampled_from(FILES), _CHANGE), min_size=1, max_size=3))
def test_changed_after_a_load(changes: list[tuple[str, Change]]) -> None:
    """A second load of changed files replaces rows of the first; what it refuses stays as it was."""
    with tempfile.TemporaryDirectory() as place:
        folder, database = write_logs(Path(place) / "logs", _ROWS), Path(place) / "season.duckdb"
        load_folder(folder, database)
        for name, change in changes:
            path = folder / name
            path.write_bytes(changed(path.read_bytes(), change))
        account(folder, database)
