"""Values read otherwise than written: which, as what and in how many rows; stored, so that every load can say so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import astuple

import duckdb

import queries
from pipeline.intake.report import Reading

SKIPPED_ROW = "row"
"""The column of a reading that counts rows which are no records."""


def counted(file: str, pairs: Iterable[tuple[str, str, str]]) -> list[Reading]:
    """Readings of one file from (column, value, read as), one for each row that holds it."""
    return [Reading(file, *pair, rows) for pair, rows in Counter(pairs).items()]


def skipped(file: str, rows: int) -> list[Reading]:
    """The reading that counts blank rows and totals; none if there are none."""
    return [Reading(file, SKIPPED_ROW, "blank or total", "no record", rows)] if rows else []


def store(connection: duckdb.DuckDBPyConnection, readings: Iterable[Reading]) -> None:
    """Add readings to their table."""
    rows = [astuple(reading) for reading in readings]
    if rows:
        connection.executemany("INSERT INTO readings VALUES (?, ?, ?, ?, ?)", rows)


def by_file(connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[Reading, ...]]:
    """All stored readings by file."""
    found: dict[str, list[Reading]] = {}
    for row in connection.execute(queries.sql("load/readings")).fetchall():
        found.setdefault(str(row[0]), []).append(Reading(*row))
    return {file: tuple(readings) for file, readings in found.items()}
