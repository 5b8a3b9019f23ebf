"""Fits kept in the season's database, under a hash of everything they came from.

They are read through the season's own connection and written after it is closed, in one transaction. Whatever does not
match - other data, settings or code, a damaged or foreign pack, a database that cannot be written - means a new fit,
never an error.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cache, partial
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import duckdb

import queries
from pipeline.errors import IntakeError, RackledgerError
from pipeline.settings import Settings
from pipeline.store.database import ensure_schema, open_for_writing, transaction
from pipeline.store.pack_form import PackError
from pipeline.store.packing import pack
from pipeline.store.season import Season
from pipeline.store.unpacking import unpack

PACK_VERSION = 2
"""Counts up if the same objects are packed in another form."""
_LIBRARIES = ("numpy", "scipy", "pandas", "duckdb", "statsmodels", "scikit-learn")
_NOT_FITTED = {"seasons"}  # settings that only say what a report is about
_MOST_KEYS = 3  # settings or groups of bowlers whose fits are kept side by side
_CODE = (Path(__file__).parents[1], Path(queries.__file__).parent)


@cache
def code_hash() -> str:
    """Hash of every line of the package and its queries, and of the versions of its numerical libraries."""
    digest = hashlib.sha256(str(PACK_VERSION).encode())
    for folder in _CODE:
        for path in sorted([*folder.rglob("*.py"), *folder.rglob("*.sql")]):
            digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    for library in _LIBRARIES:
        with suppress(PackageNotFoundError):
            digest.update(f"{library} {version(library)}\0".encode())
    return digest.hexdigest()


@dataclass(frozen=True)
class Key:
    """The inputs of fits: ``data`` is a hash of the stored rows and the code, ``whole`` of the settings as well."""

    data: str
    whole: str

    @classmethod
    def of(cls, connection: duckdb.DuckDBPyConnection, settings: Settings, bowlers: Sequence[str] | None) -> Key:
        """The key of a season just opened, and of the bowlers whose effects are kept (None: all)."""
        rows = connection.execute(queries.sql("shelf/content_hash")).fetchall()
        data = _hash(code_hash(), [[name, n, str(content)] for name, n, content in rows])
        fitted_with = settings.model_dump(mode="json", exclude=_NOT_FITTED)
        whole = _hash(data, fitted_with, None if bowlers is None else sorted(bowlers))
        return cls(data, whole)


def _hash(*parts: object) -> str:
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def _digest(key: Key, part: str, content: bytes) -> str:
    digest = hashlib.sha256(f"{key.whole}\0{part}\0".encode())
    digest.update(content)
    return digest.hexdigest()


class DamagedFitsError(RackledgerError):
    """A part read when first asked for is damaged; with ``fresh`` everything is fitted again."""


@dataclass(frozen=True)
class Made:
    """A part to be written: its bytes, and those of the pieces of it that are kept apart."""

    content: bytes
    pieces: list[bytes]


@dataclass
class NewParts:
    """Parts that one run made and has still to write.

    ``closed``: something could not be fitted, so that nothing is kept. ``unfit``: parts that cannot be packed.
    ``later``: parts computed when everything is written, None for one not to be kept.
    """

    made: dict[str, Made] = field(default_factory=dict, repr=False)
    later: dict[str, Callable[[], Any]] = field(default_factory=dict, repr=False)
    closed: bool = False
    unfit: tuple[str, ...] = ()


@dataclass
class Shelf:
    """The parts kept under one key, and those made in this run that are still to be written.

    ``connection``: of the open season. ``in_full``: whatever a part holds ``Lazy`` is read with it; otherwise asking
    for it may raise DamagedFitsError. ``new``: what this run made, shared by every shelf opened anew from this one.
    """

    connection: duckdb.DuckDBPyConnection
    key: Key
    fresh: bool = False
    in_full: bool = True
    new: NewParts = field(default_factory=NewParts, repr=False)
    _kept: frozenset[str] | None = field(default=None, repr=False)

    @classmethod
    def of(cls, season: Season, bowlers: Sequence[str] | None, *, fresh: bool = False, in_full: bool = True) -> Shelf:
        """The shelf of a season just opened; ``bowlers``: whose effects are kept if it is large. ``fresh``: empty."""
        kept = bowlers if season.large() else None
        return cls(season.connection, Key.of(season.connection, season.settings, kept), fresh, in_full)

    def opened_anew(self, connection: duckdb.DuckDBPyConnection) -> Shelf:
        """The shelf over another connection to the same database, with what this run has made so far and will make."""
        return replace(self, connection=connection)

    @property
    def made(self) -> dict[str, Made]:
        """The parts made in this run."""
        return self.new.made

    @property
    def later(self) -> dict[str, Callable[[], Any]]:
        """The parts computed when everything is written."""
        return self.new.later

    @property
    def closed(self) -> bool:
        """Whether nothing is kept."""
        return self.new.closed

    @property
    def unfit(self) -> tuple[str, ...]:
        """The parts that cannot be packed, each with the reason."""
        return self.new.unfit

    def close(self) -> None:
        """Keep nothing of this run."""
        self.new.closed = True

    def take(self, part: str) -> tuple[bool, Any]:
        """Whether the part is kept under this key and whole, or was made for this shelf in this run, and the part."""
        made = self.made.get(part)
        if made is not None:
            return True, unpack(made.content, made.pieces.__getitem__)
        content = None if self.fresh else self._whole(part)
        if content is None:
            return False, None
        try:
            return True, unpack(content, partial(self._piece, part), now=self.in_full)
        except PackError:
            return False, None

    def holds(self, part: str) -> bool:
        """Whether the part was kept under this key; whether it is whole shows when it is taken."""
        return not self.fresh and part in self._names()

    def add(self, made: dict[str, Made] | None) -> None:
        """Add parts that another process made for the same shelf; None if it kept nothing, and then nothing is kept."""
        if made is None:
            self.close()
            return
        for part, other in made.items():
            self.made.setdefault(part, other)

    def _whole(self, part: str) -> bytes | None:
        """The bytes of a part, if it is kept under this key as it was written."""
        if part not in self._names():
            return None
        for content, digest in self._ask("shelf/kept_part", part=part):
            if digest == _digest(self.key, part, content):
                return bytes(content)
        return None

    def _names(self) -> frozenset[str]:
        if self._kept is None:
            self._kept = frozenset(name for (name,) in self._ask("shelf/kept_names"))
        return self._kept

    def _piece(self, part: str, place: int) -> bytes:
        for content, digest in self._ask("shelf/kept_piece", part=part, place=place):
            if digest == _digest(self.key, f"{part}\0{place}", content):
                return bytes(content)
        raise DamagedFitsError(f"The fits kept in the database are damaged ({part}). Run the command with --refit.")

    def _ask(self, query: str, **names: object) -> list[tuple[Any, ...]]:
        with suppress(duckdb.CatalogException):  # a database of an earlier version has no such table
            return self.connection.execute(queries.sql(query), {"key": self.key.whole, **names}).fetchall()
        return []

    def put(self, part: str, value: Any) -> Any:
        """Add a part to be written at the end; returns it as it will be read back, so that later runs agree.

        If a part cannot be packed nothing is kept; ``unfit`` names it, for a test to find.
        """
        pieces: list[bytes] = []
        try:
            content = pack(value, pieces)
            read = unpack(content, pieces.__getitem__)
        except PackError as error:
            self.close()
            self.new.unfit = (*self.unfit, f"{part}: {error}")
            return value
        self.made[part] = Made(content, pieces)
        return read

    def to_write(self) -> bool:
        """Whether this run made something that may be kept."""
        return not self.closed and bool(self.made or self.later)

    def write(self, database: Path) -> bool:
        """Write what this run made, once the season is closed; returns whether it was written.

        A database that is read-only, full or in use stays as it is.
        """
        if not self.to_write():
            return False
        for part, make in self.later.items():
            value = make()
            if value is not None:
                self.put(part, value)
        with suppress(IntakeError, duckdb.Error, OSError), open_for_writing(database) as connection:
            with transaction(connection):
                ensure_schema(connection)
                self._clear_others(connection)
                self._write(connection)
            return True
        return False

    def _clear_others(self, connection: duckdb.DuckDBPyConnection) -> None:
        """Make the tables anew if all they hold is of other data or another version, which may have made others."""
        if connection.execute(queries.sql("shelf/of_data"), {"data": self.key.data}).fetchall() == [(False,)]:
            for query in ("shelf/drop_fits", "shelf/drop_apart"):
                connection.execute(queries.sql(query))
            ensure_schema(connection)

    def _write(self, connection: duckdb.DuckDBPyConnection) -> None:
        for part, made in self.made.items():
            names = {"key": self.key.whole, "part": part}
            for query in ("shelf/drop_part", "shelf/drop_pieces"):
                connection.execute(queries.sql(query), names)
            given = {**names, "data": self.key.data}
            digest = _digest(self.key, part, made.content)
            connection.execute(queries.sql("shelf/put_part"), {**given, "digest": digest, "content": made.content})
            for place, piece in enumerate(made.pieces):
                digest = _digest(self.key, f"{part}\0{place}", piece)
                piece_of = {**given, "place": place, "digest": digest, "content": piece}
                connection.execute(queries.sql("shelf/put_piece"), piece_of)
        connection.execute(queries.sql("shelf/drop_old"), {"data": self.key.data, "keys": _MOST_KEYS})
        connection.execute(queries.sql("shelf/drop_old_pieces"))
