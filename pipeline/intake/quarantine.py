"""Rows set aside: kept in the database with their reason, and written as a CSV that is safe to open anywhere."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import astuple, dataclass, fields
from itertools import islice
from pathlib import Path

import duckdb
import pyarrow as pa

import queries
from pipeline.errors import IntakeError
from pipeline.intake.report import Fault, Reason

_BATCH = 20_000
_HEADER = ("file", "line", "column", "value", "reason", "mend", "row as read")
_RISKY_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "'")


@dataclass(frozen=True)
class Quarantined:
    """One reason one row was set aside; the fields are the columns of ``queries/schema/quarantine``."""

    source_file: str
    line: int
    column_name: str
    value: str | None
    reason: str
    mend: str
    raw_row: str


def store(connection: duckdb.DuckDBPyConnection, rows: Iterable[Quarantined]) -> None:
    """Add rows to the quarantine table, a batch at a time."""
    stream = iter(rows)
    names = [field.name for field in fields(Quarantined)]
    while batch := list(islice(stream, _BATCH)):
        columns = zip(*map(astuple, batch), strict=True)
        types = [pa.int64() if name == "line" else pa.string() for name in names]
        arrays = [pa.array(column, type=kind) for column, kind in zip(columns, types, strict=True)]
        connection.register("set_aside", pa.table(dict(zip(names, arrays, strict=True))))
        connection.execute("INSERT INTO quarantine SELECT * FROM set_aside")
        connection.unregister("set_aside")


def place(database: Path) -> Path:
    """Where the list of rows set aside is written: beside ``database``, named after it."""
    return database.with_name(f"{database.name}.quarantine.csv")


def refuse_foreign(target: Path) -> None:
    """Refuse to write over a file at ``target`` that is no list of ours.

    Raises:
        IntakeError: there is such a file.
    """
    if not target.exists():
        return
    ours = False
    with suppress(OSError, UnicodeError), target.open(encoding="utf-8-sig", newline="") as text:
        ours = target.is_file() and text.readline().strip() == ",".join(_HEADER)
    if not ours:
        raise IntakeError(f"{target}: is not a list of rows set aside, which would be written there; move it away.")


def dangling(source_file: str, line: int, column: str, value: str) -> Quarantined:
    """The reason for a stored row that names what is no longer defined; how the row read is not stored."""
    mend = f"Define it again in {column}s.csv, or correct the id; then load the folder of {source_file} again."
    return Quarantined(source_file, line, column, value, f"unknown {column}", mend, "")


def write_csv(connection: duckdb.DuckDBPyConnection, target: Path) -> None:
    """Write the whole quarantine table to ``target``, at once or not at all.

    A spreadsheet would run a cell that starts with one of ``= + - @`` or a control sign as a formula, so such a cell
    gets an apostrophe in front; so does a cell that starts with an apostrophe, so that taking one away from every
    cell that has one gives back what was read.
    """
    draft = target.with_name(target.name + ".part")
    try:
        with draft.open("w", encoding="utf-8-sig", newline="") as text:
            writer = csv.writer(text)
            writer.writerow(_HEADER)
            writer.writerows(_safe_rows(connection))
        draft.replace(target)
    finally:
        draft.unlink(missing_ok=True)


def commonest(connection: duckdb.DuckDBPyConnection) -> tuple[Reason, ...]:
    """The commonest reasons for which rows were set aside, with the rows each holds for."""
    return tuple(Reason(*row) for row in connection.execute(queries.sql("load/commonest_reasons")).fetchall())


def reference_faults(connection: duckdb.DuckDBPyConnection) -> tuple[Fault, ...]:
    """The first faults of rows that other rows name, and wait for."""
    return tuple(Fault(*row) for row in connection.execute(queries.sql("load/reference_faults")).fetchall())


def _safe_rows(connection: duckdb.DuckDBPyConnection) -> Iterator[list[str]]:
    result = connection.execute(queries.sql("load/quarantine_list"))
    while rows := result.fetchmany(_BATCH):
        for row in rows:
            yield [safe_cell("" if cell is None else str(cell)) for cell in row]


def safe_cell(text: str) -> str:
    """``text`` so that no spreadsheet takes it for a formula."""
    return "'" + text if text.startswith(_RISKY_STARTS) else text
