"""Rows set aside: kept in the database with their reason, and written as a CSV that is safe to open anywhere."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass, fields
from itertools import islice
from pathlib import Path

import duckdb
import pyarrow as pa

import queries
from pipeline.errors import printable
from pipeline.intake.errors import IntakeError
from pipeline.intake.report import Fault, Reason
from pipeline.output_files import replacing
from pipeline.spreadsheet import as_text

_BATCH = 20_000
_AFTER_LOST = (
    "an earlier delivery of this frame was set aside, so the pins this one faced are unknown",
    "Mend the row of the earlier delivery; this one is then read again.",
)


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


def place_of(database: Path) -> Path:
    """Path of the list of rows set aside: beside the database and named after it."""
    return database.with_name(f"{database.name.removesuffix('.duckdb')}.quarantine.csv")


def refuse_foreign(database: Path) -> None:
    """Refuse to overwrite a file at :func:`place_of` that is not the list of this database.

    Raises:
        IntakeError: the file is the user's, or another database's list.
    """
    place = place_of(database)
    if not place.exists():
        return
    try:
        with place.open(encoding="utf-8-sig", errors="replace") as file:
            start = file.readline(1000)
    except OSError as error:
        raise IntakeError(f"{place}: cannot be read ({error.strerror}); move it away and run again.") from error
    if start and _mark(database) not in start:
        raise IntakeError(
            f"{place}: is there already and is not the list of rows set aside from {database.name}; move it away, "
            "since a load writes that list there."
        )


def _mark(database: Path) -> str:
    """The last column's name, which marks a list as ours."""
    return f"set aside by rackledger from {printable(database.name)}"


def dangling(source_file: str, line: int, column: str, value: str) -> Quarantined:
    """The reason for a stored row that names something no longer defined; its original text is not stored."""
    if column == "delivery":
        return Quarantined(source_file, line, column, value, *_AFTER_LOST, "")
    mend = f"Define it again in {column}s.csv, or correct the id; then load the folder of {source_file} again."
    return Quarantined(source_file, line, column, value, f"unknown {column}", mend, "")


def write_csv(connection: duckdb.DuckDBPyConnection, database: Path) -> Path:
    """Write the whole quarantine table to :func:`place_of`, whole or not at all; returns the path.

    Cells that a spreadsheet would run as formulas are kept as text, see ``pipeline/spreadsheet.py``.
    """
    place = place_of(database)
    with replacing(place, "utf-8-sig") as text:
        writer = csv.writer(text)
        writer.writerow(["file", "line", "column", "value", "reason", "mend", "row as read", _mark(database)])
        writer.writerows([*row, ""] for row in _safe_rows(connection))
    return place


def commonest(connection: duckdb.DuckDBPyConnection) -> tuple[Reason, ...]:
    """The commonest reasons for rows set aside, each with its number of rows."""
    return tuple(Reason(*row) for row in connection.execute(queries.sql("load/commonest_reasons")).fetchall())


def reference_faults(connection: duckdb.DuckDBPyConnection) -> tuple[Fault, ...]:
    """The first faults of reference rows that other rows depend on."""
    return tuple(Fault(*row) for row in connection.execute(queries.sql("load/reference_faults")).fetchall())


def _safe_rows(connection: duckdb.DuckDBPyConnection) -> Iterator[list[str]]:
    result = connection.execute(queries.sql("load/quarantine_list"))
    while rows := result.fetchmany(_BATCH):
        for row in rows:
            yield [as_text("" if cell is None else str(cell)) for cell in row]
