"""Values read otherwise than written: which, as what and in how many rows; stored, so every load can report them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import duckdb
import pyarrow as pa

import queries
from pipeline.intake.report import SKIPPED_ROW, Reading


def counted(file: str, pairs: Iterable[tuple[str, str, str]]) -> list[Reading]:
    """Readings of one file from (column, value, read as), one for each row that holds it."""
    return [Reading(file, *pair, rows) for pair, rows in Counter(pairs).items()]


def skipped(file: str, rows: int) -> list[Reading]:
    """The reading that counts blank rows and totals; none if there are none."""
    return [Reading(file, SKIPPED_ROW, "blank or total", "no record", rows)] if rows else []


def store(connection: duckdb.DuckDBPyConnection, readings: Iterable[Reading]) -> None:
    """Add readings to their table."""
    rows = [vars(reading) for reading in readings]
    if rows:
        connection.register("found", pa.Table.from_pylist(rows))
        connection.execute('INSERT INTO readings SELECT file, "column", value, read_as, rows FROM found')
        connection.unregister("found")


def by_file(connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[Reading, ...]]:
    """All stored readings by file."""
    of_file: dict[str, list[Reading]] = {}
    for row in connection.execute(queries.sql("load/readings")).fetchall():
        of_file.setdefault(str(row[0]), []).append(Reading(*row))
    return {file: tuple(readings) for file, readings in of_file.items()}
