"""Open the season's database; every fault is explained in one sentence.

A DuckDB file allows one writer or many readers. Extensions are never fetched or loaded, and once a connection is
handed out it can touch no file but the database itself and the folders named when it was opened.
"""

from __future__ import annotations

import os
import re
import secrets
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import duckdb

import queries
from pipeline.errors import IntakeError
from pipeline.output_files import refuse_undecodable
from pipeline.store.scratch import sweep

SCHEMA_VERSION = 3
MEMORY_LIMIT = "2500MB"  # leaves room for Python under the 4 GB promised at ten million deliveries

_MAGIC = slice(8, 12)
_TRIES, _PAUSE = 10, 0.1  # times and seconds: keeping the fits of a season takes a fraction of a second
_NO_EXTENSIONS = {"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
_SAYINGS: tuple[tuple[str, str], ...] = (
    (
        r"no space left|disk full|file too large|out of disk|not enough disk",
        "the disk is full; free some space and run again",
    ),
    (r"permission denied|read-only file system", "no permission to write there; choose a folder you may write to"),
    (r"no such file or directory", "its folder does not exist; make it first or choose another"),
    (
        r"not a valid duckdb|checksum|corrupt|serializ|deserializ|wal file|storage version|newer version"
        r"|attempted to read",
        "the file is damaged or not a season database; restore it from a copy, or move it away and load the logs again",
    ),
    (r"name too long", "the name is too long; choose a shorter one"),
    (r"out of memory|failed to allocate", "not enough memory; close other programs and run again"),
    (r"different configuration|already attached", "this program already has it open in another way; close that first"),
)


def open_for_writing(database: Path, readable: Sequence[Path] = ()) -> duckdb.DuckDBPyConnection:
    """A connection that may write ``database`` (made if it is missing) and read the folders in ``readable``.

    Tables are not made here but in the first load's transaction, see :func:`ensure_schema`.

    Raises:
        IntakeError: locked by another process, not ours, damaged, of another schema version, or not writable.
    """
    with explained(database):
        _refuse_impossible(database)
        if database.exists() and not os.access(database, os.W_OK):
            raise IntakeError(f"{database}: no permission to write there; choose a folder you may write to.")
        connection = duckdb.connect(_place(database), config={**_NO_EXTENSIONS, "memory_limit": MEMORY_LIMIT})
        sweep(database)
        return _settled(connection, database, readable, fresh_allowed=True)


def open_for_reading(database: Path) -> duckdb.DuckDBPyConnection:
    """A read-only connection to a loaded ``database``; temporary tables and views may still be made in it.

    Raises:
        IntakeError: missing, empty, being written by another process, not ours, damaged, or of another schema version.
    """
    with explained(database):
        if not database.exists():
            raise IntakeError(f"{database}: there is no such database; load a folder of logs first.")
        _refuse_impossible(database)
        connection = _connected_for_reading(database)
        return _settled(connection, database, (), fresh_allowed=False)


def _connected_for_reading(database: Path) -> duckdb.DuckDBPyConnection:
    """A bare connection; waits for another run that is writing its fits."""
    for _ in range(_TRIES):
        try:
            return duckdb.connect(_place(database), read_only=True, config={**_NO_EXTENSIONS})
        except duckdb.IOException as error:
            if "lock" not in str(error).lower():
                raise
            time.sleep(_PAUSE)
    return duckdb.connect(_place(database), read_only=True, config={**_NO_EXTENSIONS})


def ensure_schema(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the tables of ``queries/schema`` that are missing; call inside the transaction of the load."""
    for name in queries.names("schema"):
        connection.execute(queries.sql(name))
    if connection.execute("SELECT count(*) FROM schema_version").fetchall() == [(0,)]:
        connection.execute("INSERT INTO schema_version VALUES (?)", [SCHEMA_VERSION])
        connection.execute("INSERT INTO alias_salt VALUES (?)", [secrets.token_hex(16)])


def alias_salt(connection: duckdb.DuckDBPyConnection) -> str:
    """The random text that seeds aliases; made with the database, so reading it changes nothing."""
    ((salt,),) = connection.table("alias_salt").fetchall()
    return str(salt)


@contextmanager
def transaction(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """A transaction: everything inside is done, or nothing."""
    connection.begin()
    try:
        yield
    except BaseException:
        with suppress(duckdb.Error):  # stopped once more; closing the connection gives the transaction up as well
            connection.rollback()
        raise
    connection.commit()


@contextmanager
def explained(database: Path) -> Iterator[None]:
    """Turn faults of DuckDB and of the file system into an :class:`IntakeError` that names ``database``."""
    try:
        yield
    except (duckdb.Error, OSError) as error:
        raise IntakeError(f"{database}: {_saying(error)}.") from error


def _saying(error: BaseException) -> str:
    text = str(error)
    holder = re.search(r"PID (\d+)", text)
    if "lock" in text.lower() and holder:
        return f"another process has it open (process id {holder[1]}); wait until it ends or end it, then run again"
    for pattern, saying in _SAYINGS:
        if re.search(pattern, text, re.IGNORECASE):
            return saying
    return f"the database could not be used ({' '.join(text.split())[:200]})"


def _place(database: Path) -> str:
    """The whole path: a bare name such as ``:memory:`` or ``x:y`` would mean something else to DuckDB."""
    return str(database.absolute())


def _refuse_impossible(database: Path) -> None:
    """Look at the name and the first bytes before DuckDB does: it would offer foreign files to an extension."""
    refuse_undecodable(database)
    if database.is_dir():
        raise IntakeError(f"{database}: is a folder; name a database file.")
    if not database.parent.is_dir():
        raise IntakeError(f"{database}: its folder does not exist; make it first or choose another.")
    if not database.exists():
        if not os.access(database.parent, os.W_OK):
            raise IntakeError(f"{database}: no permission to write there; choose a folder you may write to.")
        return
    with database.open("rb") as file:
        head = file.read(12)
    if head[_MAGIC] != b"DUCK":
        raise IntakeError(f"{database}: the file is damaged or not a season database; move it away or name another.")


def _settled(
    connection: duckdb.DuckDBPyConnection, database: Path, readable: Sequence[Path], *, fresh_allowed: bool
) -> duckdb.DuckDBPyConnection:
    try:
        _check_version(connection, database, fresh_allowed=fresh_allowed)
        connection.execute("SET allowed_directories = ?", [[str(folder.resolve()) for folder in readable]])
        connection.execute("SET enable_external_access = false")
    except BaseException:
        connection.close()
        raise
    return connection


def _check_version(connection: duckdb.DuckDBPyConnection, database: Path, *, fresh_allowed: bool) -> None:
    rows = connection.execute("SELECT table_name FROM duckdb_tables() WHERE NOT internal").fetchall()
    tables = {name for (name,) in rows}
    if not tables:
        if fresh_allowed:
            return
        raise IntakeError(f"{database}: nothing has been loaded into it yet; load a folder of logs first.")
    if "schema_version" not in tables:
        raise IntakeError(f"{database}: is a database of something else; name another file.")
    versions = [version for (version,) in connection.execute("SELECT version FROM schema_version").fetchall()]
    if versions != [SCHEMA_VERSION]:
        shown = ", ".join(map(str, versions)) or "none"
        raise IntakeError(
            f"{database}: has schema version {shown}, this program writes version {SCHEMA_VERSION}; "
            "move it away and load the logs again."
        )
