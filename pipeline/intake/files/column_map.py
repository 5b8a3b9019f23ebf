"""Column maps: a TOML file that maps the column names of a CSV to ours.

One table per kind of file, for instance::

    [shots.columns]          # ours = "theirs"
    block = "Session no."
    [shots.constants]        # ours = "value for every row", for a column their file lacks
    lane = "1"
    [bowlers.values.hand]    # theirs = "ours", value by value
    R = "right"
    L = "left"
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.intake.errors import IntakeError
from pipeline.intake.files.columns import REFERENCES, columns_of


@dataclass(frozen=True)
class KindMap:
    """The map for one kind of file; all keys are our column names."""

    columns: dict[str, str] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    values: dict[str, dict[str, str]] = field(default_factory=dict)

    @property
    def rewrites(self) -> bool:
        """Whether values change, not only the names of columns."""
        return bool(self.constants or self.values)


@dataclass(frozen=True)
class ColumnMap:
    """Maps by kind of file, and a digest that tells whether they changed."""

    kinds: dict[str, KindMap] = field(default_factory=dict)
    digest: str = ""

    def of(self, kind: str) -> KindMap:
        """The map of a kind; an empty one if the file does not name it."""
        return self.kinds.get(kind, KindMap())


def read_column_map(path: Path | None) -> ColumnMap:
    """Read a column map; the empty one if ``path`` is None.

    Raises:
        IntakeError: it cannot be read, is not TOML, or names a kind, part or column that does not exist.
    """
    if path is None:
        return ColumnMap()
    try:
        content = path.read_bytes()
        tables = tomllib.loads(content.decode("utf-8-sig"))
    except OSError as error:
        raise IntakeError(f"{path}: cannot be read ({error.strerror}); give a readable column map.") from error
    except UnicodeDecodeError as error:
        raise IntakeError(f"{path}: is not UTF-8 text; save it as UTF-8.") from error
    except (ValueError, RecursionError) as error:  # bad TOML, a number of thousands of digits, endless brackets
        raise IntakeError(f"{path}: is not valid TOML ({error}); mend that line.") from error
    kinds = {kind: _kind_map(path, kind, table) for kind, table in tables.items()}
    return ColumnMap(kinds, hashlib.sha256(content).hexdigest())


def _kind_map(path: Path, kind: str, table: object) -> KindMap:
    if kind != "shots" and kind not in REFERENCES:
        raise IntakeError(f"{path}: [{kind}] is not a known file type; use shots, {', '.join(REFERENCES)}.")
    known = {column.name for column in columns_of(kind)}
    parts = _table(path, kind, table, {"columns", "constants", "values"})
    values = _table(path, f"{kind}.values", parts.get("values", {}), known)
    return KindMap(
        columns=_texts(path, f"{kind}.columns", parts.get("columns", {}), known),
        constants=_texts(path, f"{kind}.constants", parts.get("constants", {}), known),
        values={name: _texts(path, f"{kind}.values.{name}", pairs, None) for name, pairs in values.items()},
    )


def _table(path: Path, where: str, table: object, known: set[str] | None) -> dict[str, object]:
    if not isinstance(table, dict):
        raise IntakeError(f"{path}: {where} must be a table.")
    for key in table:
        if known is not None and key not in known:
            raise IntakeError(f"{path}: {where}.{key} does not exist; use one of {', '.join(sorted(known))}.")
    return table


def _texts(path: Path, where: str, table: object, known: set[str] | None) -> dict[str, str]:
    texts: dict[str, str] = {}
    for key, value in _table(path, where, table, known).items():
        if isinstance(value, (dict, list)):
            raise IntakeError(f"{path}: {where}.{key} must be text.")
        texts[key] = str(value)
    return texts
