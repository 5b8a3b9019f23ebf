"""The files and references a database already holds, and what changed since."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import duckdb
import pyarrow as pa

import queries
from pipeline.intake.checks.faults import CLASH
from pipeline.intake.checks.reference import KEYS, CheckedFile, ReferenceRow
from pipeline.intake.checks.shots import create_temp_table
from pipeline.intake.files.columns import REFERENCES, Column
from pipeline.intake.report import FileReport, Status
from pipeline.intake.sources import Source

_TYPES = {
    "text": pa.string(),
    "choice": pa.string(),
    "whole": pa.int64(),
    "number": pa.float64(),
    "flag": pa.bool_(),
    "date": pa.date32(),
}
FROM_FILES = ("deliveries", "maintenance", "blocks", "patterns", "balls", "bowlers", "quarantine", "readings")
"""Tables whose rows name the file they came from, those that name others first."""
_JUDGED_BY = {"bowlers": "hand", "balls": "bowler", "blocks": "date"}
"""The column of a reference that checks of shots depend on."""


@dataclass
class Stored:
    """What a database holds: sources by name, and by kind id -> its row, whose file is ``source_file``."""

    sources: dict[str, Source] = field(default_factory=dict)
    rows: dict[str, dict[str, ReferenceRow]] = field(default_factory=dict)

    @property
    def judged(self) -> dict[str, dict[str, object]]:
        """By kind, id -> the one column that checks of shots depend on."""
        return {kind: _judged(kind, self.rows.get(kind, {})) for kind in _JUDGED_BY}

    def elsewhere(self, kind: str, files: Collection[str]) -> dict[str, ReferenceRow]:
        """Rows of a kind, by id, that other files than ``files`` defined."""
        return {name: row for name, row in self.rows.get(kind, {}).items() if row["source_file"] not in files}

    def loses(self, file: CheckedFile) -> bool:
        """Whether storing ``file`` takes away or changes a row that another file may share."""
        after = self.elsewhere(file.kind, {file.name}) | {str(row[KEYS[file.kind]]): row for row in file.kept}
        names = [column.name for column in REFERENCES[file.kind]]
        return any(
            id_ not in after or any(row[name] != after[id_][name] for name in names)
            for id_, row in self.rows.get(file.kind, {}).items()
        )


def read_stored(connection: duckdb.DuckDBPyConnection, home: Path) -> Stored:
    """Read what is stored in a database of the folder ``home``; nothing if the schema has not been made yet."""
    stored = Stored()
    if not connection.execute("SELECT 1 FROM duckdb_tables() WHERE table_name = 'sources'").fetchall():
        return stored
    for name, path, kind, sha, read, kept, aside, repaired, refused, again in connection.execute(
        queries.sql("load/stored_sources")
    ).fetchall():
        status: Status = "refused" if refused else "unchanged"
        stored.sources[name] = Source(
            str(home / path), sha, FileReport(name, kind, status, read, kept, aside, repaired, refused), again
        )
    for kind, key in KEYS.items():
        relation = connection.table(kind)
        rows: list[ReferenceRow] = [dict(zip(relation.columns, row, strict=True)) for row in relation.fetchall()]
        stored.rows[kind] = {str(row[key]): row for row in rows}
    return stored


def current_keys(stored: Stored, checked: dict[str, CheckedFile]) -> dict[str, dict[str, object]]:
    """As ``Stored.judged``, with the files that were read again in place of what they gave before."""
    now = stored.judged
    for kind in now.keys() & checked.keys():
        file = checked[kind]
        if file.refused is None:
            kept = {str(row[KEYS[kind]]): row for row in file.kept}
            now[kind] = _judged(kind, stored.elsewhere(kind, {file.name}) | kept)
    return now


def _judged(kind: str, rows: dict[str, ReferenceRow]) -> dict[str, object]:
    return {id_: row[_JUDGED_BY[kind]] for id_, row in rows.items()}


def create_known_ids(connection: duckdb.DuckDBPyConnection, judged: dict[str, dict[str, object]]) -> None:
    """Make the temporary tables of numbered ids against which shots are checked, and types of them."""
    bowlers = {name: n for n, name in enumerate(judged["bowlers"])}
    hands = [hand == "left" for hand in judged["bowlers"].values()]
    create_temp_table(
        connection,
        "known_bowlers",
        pa.table(
            {
                "bowler": pa.array(list(bowlers), pa.string()),
                "bowler_no": _numbers(range(len(bowlers))),
                "left_handed": pa.array(hands, pa.bool_()),
            }
        ),
    )
    owners = [bowlers.get(str(owner)) for owner in judged["balls"].values()]
    balls = {"ball": pa.array(list(judged["balls"]), pa.string()), "ball_no": _numbers(range(len(owners)))}
    create_temp_table(connection, "known_balls", pa.table({**balls, "owner_no": _numbers(owners)}))
    days = pa.array(list(judged["blocks"].values()), pa.date32())
    blocks = {"block": pa.array(list(judged["blocks"]), pa.string()), "block_no": _numbers(range(len(days)))}
    create_temp_table(connection, "known_blocks", pa.table({**blocks, "date": days}))
    for name in ("load/known_block", "load/known_bowler", "load/known_ball"):
        connection.execute(queries.sql(name))


def files_to_read_again(
    connection: duckdb.DuckDBPyConnection, stored: Stored, now: dict[str, dict[str, object]], *, shots_changed: bool
) -> set[str]:
    """Loaded shots files whose verdicts may differ now, because a file they depend on changed.

    That is a file with kept rows of a reference that changed or went, with rows set aside for a reference that came
    or changed, or with rows set aside because of another shots file, if any such changed.
    """
    if not stored.sources:
        return set()
    changed: list[str] = []
    came: list[str] = []
    days_changed = False
    for kind, before in stored.judged.items():
        gone = [name for name, value in before.items() if now[kind].get(name) != value]
        changed += gone
        came += [name for name in now[kind] if name not in before] + gone
        days_changed |= kind == "blocks" and bool(gone)
    if not came and not shots_changed:
        return set()
    parameters = {
        "changed": changed,
        "came": came,
        "days_changed": days_changed,
        "shots_changed": shots_changed,
        "clash": CLASH,
    }
    return {name for (name,) in connection.execute(queries.sql("load/files_to_read_again"), parameters).fetchall()}


def store_references(connection: duckdb.DuckDBPyConnection, checked: Iterable[CheckedFile]) -> None:
    """Replace the rows of each file by those that passed."""
    for file in checked:
        columns = REFERENCES[file.kind]
        create_temp_table(connection, "reference_rows", _table(columns, file.kept))
        connection.execute(f"DELETE FROM {file.kind} WHERE source_file = ?", [file.name])
        connection.execute(f"INSERT INTO {file.kind} BY NAME SELECT * FROM reference_rows")


def _table(columns: Sequence[Column], rows: Sequence[ReferenceRow]) -> pa.Table:
    arrays = {c.name: pa.array([row[c.name] for row in rows], _TYPES[c.type]) for c in columns}
    arrays["source_file"] = pa.array([row["source_file"] for row in rows], pa.string())
    arrays["line"] = pa.array([row["line"] for row in rows], pa.int64())
    return pa.table(arrays)


def _numbers(values: Iterable[int | None]) -> pa.Array:
    return pa.array(list(values), pa.int32())
