"""Dropping what is stored from files that are gone, or were loaded by mistake."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path

import duckdb

import queries
from pipeline.errors import IntakeError, printable
from pipeline.intake import quarantine
from pipeline.intake.sources import Source
from pipeline.intake.stored_files import FROM_FILES, read_stored
from pipeline.store.database import explained, open_for_writing, transaction
from pipeline.store.interrupts import stoppable


def forget(database: Path, names: Sequence[str], missing: bool = False) -> list[tuple[str, int]]:
    """Drop every row stored from some files; all of it or nothing.

    Args:
        database: the season's database.
        names: files as `load` names them, or their folders.
        missing: also every file that is no longer at its place.

    Returns:
        Each file dropped, with the rows that were stored from it.

    Raises:
        IntakeError: no such database or file, or rows of other files need what would go.
    """
    if not database.exists():
        raise IntakeError(f"{database}: there is no such database; load a folder of logs first.")
    quarantine.refuse_foreign(database)
    with explained(database), open_for_writing(database) as connection, stoppable(connection):
        sources = read_stored(connection, database.absolute().parent).sources
        dropped = sorted({name for asked in names for name in _named(asked, sources)} | _missing(sources, missing))
        with transaction(connection):
            for table in (*FROM_FILES, "sources"):
                connection.execute(f"DELETE FROM {table} WHERE source_file IN (SELECT unnest(?::VARCHAR[]))", [dropped])
            _refuse_dangling(connection)
            connection.execute(queries.sql("load/read_all_again"))
        quarantine.write_csv(connection, database)
    return [(name, sources[name].report.kept) for name in dropped]


def _named(asked: str, sources: dict[str, Source]) -> list[str]:
    """The stored files that a user means: by name, by path, or all of a folder."""
    whole = str(Path(asked).absolute())
    names = [
        name
        for name, source in sources.items()
        if asked == name or source.path == whole or source.path.startswith(whole.rstrip("/") + "/")
    ]
    if not names:
        near = get_close_matches(asked, sources, n=3, cutoff=0.3) or sorted(sources)[:10]
        raise IntakeError(f"{printable(asked)}: nothing is stored from such a file; stored are {', '.join(near)}.")
    return names


def _missing(sources: dict[str, Source], wanted: bool) -> set[str]:
    return {name for name, source in sources.items() if wanted and source.gone}


def _refuse_dangling(connection: duckdb.DuckDBPyConnection) -> None:
    rows = connection.execute(queries.sql("load/dangling")).fetchall()
    if rows:
        files = sorted({file for _, file, *_ in rows})
        column, value = rows[0][3:]
        raise IntakeError(
            f"{', '.join(files[:5])}: still needs what would go ({column} {value}, and {len(rows) - 1:,} more rows); "
            "drop these files too, or load a file that defines it first."
        )
