"""Values read otherwise than written: which, as what and in how many rows; stored, so that every load can say so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import astuple

import duckdb

import queries
from pipeline.intake.checks.near_misses import is_nothing
from pipeline.intake.files.columns import Column
from pipeline.intake.report import Reading

SKIPPED_ROW = "row"
"""The column of a reading that counts rows which are no records."""

_EMPTY = "empty"


def counted(file: str, pairs: Iterable[tuple[str, str, str]]) -> list[Reading]:
    """Readings of one file from (column, value, read as), one for each row that holds it."""
    return [Reading(file, *pair, rows) for pair, rows in Counter(pairs).items()]


def of_row(columns: Iterable[Column], texts: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    """Optional cells that hold a word for nothing, and numbers with a sign or a unit: (column, value, read as).

    Args:
        columns: those of the file's kind.
        texts: a row that was kept, as written, by our columns.
    """
    for column in columns:
        text = texts.get(column.name, "").strip()
        if not text or column.type in {"text", "date", "choice"}:
            continue
        if not column.required and is_nothing(text):
            if (column.type, text) != ("flag", "-"):  # which is a plain no
                yield column.name, text, _EMPTY
        elif column.type != "flag" and not _is_number(text):
            yield column.name, text, "a number in our unit"


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


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True
