"""A first look at a CSV before it is read: its digest, encoding, delimiter, header and whether its lines are plain."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import numpy as np

from pipeline.intake.checks.other_spellings import near_column
from pipeline.intake.errors import FileRefused
from pipeline.intake.files.column_map import KindMap
from pipeline.intake.files.columns import SPEED_IN_KMH, columns_of

_CHUNK = 1 << 22
_UTF8 = "utf-8-sig"
_DELIMITERS = (",", ";", "\t")
_GLOB = set("*?[]{}")
KMH_PER_MPH = 1.609344
"""Kilometres in a mile, exact (international yard and pound agreement of 1959, from memory)."""


@dataclass(frozen=True)
class CsvFile:
    """A file that can be read.

    ``places`` gives, for each field of a record, our column name, or None if the column is not ours.
    ``lines`` counts line ends, an unfinished last line included. ``plain`` files are UTF-8 with one kind of line
    end and no byte-order mark, so the database may read them directly. ``underscores`` says
    whether there is one below the header.
    """

    path: Path
    name: str
    kind: str
    sha256: str
    encoding: str
    delimiter: str
    places: tuple[str | None, ...]
    lines: int
    plain: bool
    unused: tuple[str, ...] = ()
    in_kmh: bool = False
    underscores: bool = False


@dataclass
class _Scan:
    sha256: str = ""
    size: int = 0
    newlines: int = 0
    returns: int = 0
    nuls: int = 0
    last: bytes = b""
    underscores: bool = False
    utf8: bool = True
    head: bytes = b""


def sniff(path: Path, kind: str, columns: KindMap, digest: str = "") -> CsvFile:
    """Look at ``path``.

    Args:
        path: the file.
        kind: ``shots`` or a kind of reference file.
        columns: how its columns are named.
        digest: mixed into the file's digest, so that another column map counts as another content.

    Raises:
        FileRefused: empty, binary, of an unknown encoding, without a required column, or unreadable.
    """
    try:
        scan = _scan(path, digest)
    except OSError as error:
        raise FileRefused(f"cannot be read ({error.strerror}); check its permissions") from error
    encoding = _encoding(scan, path)
    header, below = _header(path, encoding)
    try:
        delimiter, places = _places(header, kind, columns)
    except FileRefused:
        _refuse_title_line(below, kind, columns)
        _refuse_open_quote(header, _DELIMITERS)
        raise
    _refuse_open_quote(header, (delimiter,))
    placed = list(zip(_names(header, delimiter), places, strict=True))
    in_kmh = any(place == "speed_mph" and name in SPEED_IN_KMH for name, place in placed)
    unused = tuple(name[:40] for name, place in placed if place is None and name)
    plain = encoding == _UTF8 and scan.returns in {0, scan.newlines} and not _GLOB & set(str(path))
    lines = scan.newlines + (scan.last not in {b"\n", b""})
    return CsvFile(
        path,
        path.name,
        kind,
        scan.sha256,
        encoding,
        delimiter,
        places,
        lines,
        plain,
        unused,
        in_kmh,
        scan.underscores,
    )


def _scan(path: Path, digest: str) -> _Scan:
    scan = _Scan()
    sha = hashlib.sha256(digest.encode())
    decoder = codecs.getincrementaldecoder("utf-8")()
    with path.open("rb") as file, ThreadPoolExecutor(1) as beside:
        while chunk := file.read(_CHUNK):
            hashed = beside.submit(sha.update, chunk)  # a third of the work, and it leaves the interpreter free
            body = 0 if scan.head else chunk.find(b"\n") + 1
            scan.underscores = scan.underscores or chunk.find(b"_", body) >= 0
            scan.head = scan.head or chunk[:65536]
            scan.size += len(chunk)
            scan.newlines += int(np.count_nonzero(np.frombuffer(chunk, np.uint8) == ord("\n")))  # count takes longer
            scan.returns += chunk.count(b"\r")
            scan.nuls += chunk.count(b"\0")
            scan.last = chunk[-1:]
            scan.utf8 = scan.utf8 and _decodes(decoder, chunk, final=False)
            hashed.result()
    scan.utf8 = scan.utf8 and _decodes(decoder, b"", final=True)
    scan.sha256 = sha.hexdigest()
    return scan


def _decodes(decoder: codecs.IncrementalDecoder, chunk: bytes, *, final: bool) -> bool:
    if chunk.isascii() and not decoder.getstate()[0] and not final:
        return True  # by far the most usual, and quick to see
    try:
        decoder.decode(chunk, final)
    except UnicodeDecodeError:
        return False
    return True


def _encoding(scan: _Scan, path: Path) -> str:
    if not scan.head.strip(b"\xef\xbb\xbf\r\n \t"):
        raise FileRefused("is empty; it needs a header and at least one row")
    if scan.head[:2] in {codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE}:
        return _checked(path, "utf-16")
    if scan.nuls:
        return _without_mark(scan, path)
    if scan.utf8:
        return _UTF8
    return _checked(path, "cp1252")


def _without_mark(scan: _Scan, path: Path) -> str:
    """UTF-16 without a byte-order mark shows as a NUL in nearly every second byte."""
    half = len(scan.head) / 2
    if scan.head[1::2].count(0) > 0.9 * half:
        return _checked(path, "utf-16-le")
    if scan.head[0::2].count(0) > 0.9 * half:
        return _checked(path, "utf-16-be")
    raise FileRefused("holds NUL bytes, so it is not a text file; export it again as CSV")


def _checked(path: Path, encoding: str) -> str:
    try:
        with path.open(encoding=encoding) as file:
            while text := file.read(_CHUNK):
                if "\0" in text:
                    raise FileRefused("holds NUL bytes, so it is not a text file; export it again as CSV")
    except UnicodeError as error:
        raise FileRefused("is neither UTF-8, UTF-16 nor Windows-1252 text; save it as UTF-8") from error
    return encoding


def _header(path: Path, encoding: str) -> tuple[str, list[str]]:
    """The first line, and the few below it."""
    with path.open(encoding=encoding, newline=None) as file:
        first, *below = [file.readline(65536).strip("\n") for _ in range(4)]
    return first, below


def _refuse_open_quote(header: str, delimiters: Sequence[str]) -> None:
    """Say so if the first line ends within quotes, which would make column names of the rows below it."""
    for delimiter in delimiters:
        below = iter(["below"])
        next(csv.reader(chain([f"{header}\n"], below), delimiter=delimiter), None)
        if next(below, None) is None:
            raise FileRefused(
                "has a quote in its first line that is never closed there; write all column names on that line"
            )


def _refuse_title_line(below: list[str], kind: str, columns: KindMap) -> None:
    """Say so if the column names stand on a line below the first."""
    for number, line in enumerate(below, start=2):
        try:
            _places(line, kind, columns)
        except FileRefused:
            continue
        raise FileRefused(f"has its column names on line {number}; remove what stands above them")


def _names(header: str, delimiter: str) -> list[str]:
    return [_plain_name(text) for text in next(csv.reader(io.StringIO(header), delimiter=delimiter), [])]


def _places(header: str, kind: str, columns: KindMap) -> tuple[str, tuple[str | None, ...]]:
    """Delimiter and column of each field: the delimiter under which most of our columns are found."""
    theirs = {_plain_name(there): ours for ours, there in columns.columns.items()}
    known = {column.name for column in columns_of(kind)} - set(columns.columns)
    theirs = dict.fromkeys(SPEED_IN_KMH if kind == "shots" and "speed_mph" in known else (), "speed_mph") | theirs
    tried = []
    for delimiter in _DELIMITERS:
        try:
            fields = next(csv.reader(io.StringIO(header), delimiter=delimiter), [])
        except csv.Error:
            continue
        names = [_plain_name(text) for text in fields]
        tried.append((delimiter, names, tuple(theirs.get(n, n if n in known else None) for n in names)))
    delimiter, names, places = max(tried, key=lambda one: (sum(p is not None for p in one[2]), len(one[1])))
    _check_places(names, places, kind, columns)
    return delimiter, places


def _check_places(names: list[str], places: tuple[str | None, ...], kind: str, columns: KindMap) -> None:
    named = [place for place in places if place]
    for name in named:
        if named.count(name) > 1:
            raise FileRefused(f"has two columns for {name}; remove or rename one")
    if len(names) == 1 and not named:
        raise FileRefused(
            f"has no comma, semicolon or tab in its first line (it reads: {names[0][:40]}); save it as CSV with commas"
        )
    shown = ", ".join(name[:40] for name in names[:30])
    if not named:
        raise FileRefused(
            f"has no recognised column names in its first line (it reads: {shown}); let that line name the columns, "
            "or give a column map"
        )
    given = set(named) | set(columns.constants)
    missing = [c.name for c in columns_of(kind) if c.required and c.name not in given]
    if missing:
        spare = [name for name, place in zip(names, places, strict=True) if place is None and name]
        near = {ours: near_column(ours, spare) for ours in missing}
        offered = ", ".join(f"{theirs[:40]} for {ours}" for ours, theirs in near.items() if theirs)
        raise FileRefused(
            f"lacks the column{'s' * (len(missing) > 1)} {', '.join(missing)} (its first line reads: {shown}); "
            f"add the column, or name it in a column map{f' (perhaps {offered})' if offered else ''}"
        )


def _plain_name(text: str) -> str:
    return "_".join(text.strip().strip('"').lower().split())
