"""Stored rows that name a bowler, ball or block which a load has taken away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

import duckdb
import pyarrow as pa

import queries
from pipeline.intake import quarantine


def set_aside_dangling(connection: duckdb.DuckDBPyConnection) -> Counter[str]:
    """Set such rows aside, and those that depend on them, until none is left; inside the transaction of the load.

    Returns:
        The rows set aside, by stored file. Each of these files is read again at its next load.
    """
    gone: Counter[str] = Counter()
    while rows := connection.execute(queries.sql("load/dangling")).fetchall():
        quarantine.store(connection, (quarantine.dangling(*row[1:]) for row in rows))
        for table in {row[0] for row in rows}:
            _delete(connection, table, {row[1:3] for row in rows if row[0] == table})
        gone.update(file for _, file, _ in {row[:3] for row in rows})
    for name, number in gone.items():
        connection.execute(queries.sql("load/recount_source"), {"name": name, "gone": number})
    return gone


def _delete(connection: duckdb.DuckDBPyConnection, table: str, places: Collection[tuple[str, int]]) -> None:
    """Delete the rows of ``table`` that came from these places, (file, line)."""
    files, lines = zip(*places, strict=True)
    connection.register("places", pa.table({"source_file": list(files), "line": list(lines)}))
    connection.execute(
        f"DELETE FROM {table} AS t USING places AS p WHERE t.source_file = p.source_file AND t.line = p.line"
    )
    connection.unregister("places")
