"""Checking bowlers, balls, patterns, blocks and maintenance: small files, row by row."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from pipeline.everyone import EVERYONE
from pipeline.intake import readings
from pipeline.intake.checks.dates import read_dates
from pipeline.intake.checks.faults import MEND_MISFIT
from pipeline.intake.checks.other_spellings import BOTH_HANDS, bare_number, choice_of, is_no_row, is_nothing, offer
from pipeline.intake.errors import FileRefused
from pipeline.intake.files.column_map import ColumnMap
from pipeline.intake.files.columns import REFERENCES, Column
from pipeline.intake.files.csv_rows import CsvRow, csv_rows, values
from pipeline.intake.files.sniff import CsvFile
from pipeline.intake.quarantine import Quarantined
from pipeline.intake.report import Reading

ReferenceRow = dict[str, object]
ReferenceRows = dict[str, dict[str, ReferenceRow]]
_Ids = dict[str, dict[str, ReferenceRow | int]]  # by kind and id: another file's row, or the line of this file

_FLAGS = dict.fromkeys(("1", "true", "yes", "y", "x", "t"), True) | dict.fromkeys(
    ("0", "false", "no", "n", "f", "-"), False
)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
_LINKS = {
    "balls": ("bowler", "bowlers"),
    "maintenance": ("ball", "balls"),
}
KEYS = {"bowlers": "bowler", "balls": "ball", "patterns": "pattern", "blocks": "block"}


@dataclass
class CheckedFile:
    """The result of one file: rows to keep, reasons for the others, and why the whole file was refused, if it was."""

    name: str
    kind: str
    sha256: str = ""
    read: int = 0
    kept: list[ReferenceRow] = field(default_factory=list)
    shared: int = 0  # rows that another file defines identically
    set_aside: list[Quarantined] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    refused: str | None = None


@dataclass(frozen=True)
class _Fault:
    column: str
    value: str
    reason: str
    mend: str


def check_references(
    files: Sequence[CsvFile], columns: ColumnMap, elsewhere: ReferenceRows, before: ReferenceRows
) -> dict[str, CheckedFile]:
    """Check all reference files of a folder against each other.

    Args:
        files: the readable ones, at most one per kind.
        columns: how their columns are named.
        elsewhere: by kind and id, stored rows that other files defined.
        before: by kind and id, all stored rows, used in place of a file that proves unusable.

    Returns:
        By kind, what each file gave.
    """
    by_kind = {file.kind: file for file in files}
    checked: dict[str, CheckedFile] = {}
    ids: _Ids = {kind: dict(rows) for kind, rows in elsewhere.items()}
    for kind in REFERENCES:
        file = by_kind.get(kind)
        if file is None:
            continue
        result = CheckedFile(file.name, kind, file.sha256)
        try:
            _check_file(file, columns, result, ids)
        except FileRefused as error:
            result = CheckedFile(file.name, kind, file.sha256, refused=str(error))
            ids[kind] = dict(before.get(kind, {}))
        checked[kind] = result
    return checked


def _check_file(file: CsvFile, columns: ColumnMap, result: CheckedFile, ids: _Ids) -> None:
    required = [column.name for column in REFERENCES[file.kind] if column.required]
    rows = [(csv_row, values(file, csv_row, columns.of(file.kind))) for csv_row in csv_rows(file)]
    read = len(rows)
    rows = [(csv_row, texts) for csv_row, texts in rows if csv_row.misfit or not is_no_row(texts, required)]
    result.read = len(rows)
    result.readings += readings.skipped(file.name, read - len(rows))
    otherwise: list[tuple[str, str, str]] = []
    dates = read_dates({texts.get("date", "") for _, texts in rows})
    defined = ids.setdefault(file.kind, {})
    link = _LINKS.get(file.kind)
    known = set(ids.get(link[1], {})) if link else set()
    cells, otherwise_read = _Cells(dates), _Otherwise()
    for csv_row, texts in rows:
        row, faults = _check_row(file.kind, csv_row, texts, cells)
        key = texts.get(KEYS.get(file.kind, ""), "")
        if not faults and key in defined and _alike(file.kind, row, defined[key]):
            result.shared += 1
            continue
        faults += _check_ids(file.kind, row, texts, defined, known)
        if faults:
            raw = file.delimiter.join(csv_row.fields)
            result.set_aside += [
                Quarantined(file.name, csv_row.line, f.column, f.value, f.reason, f.mend, raw) for f in faults
            ]
        else:
            result.kept.append({**row, "source_file": file.name, "line": csv_row.line})
            otherwise += otherwise_read.cells(file.kind, row, texts)
            if file.kind in KEYS:
                defined[key] = csv_row.line
    result.readings += readings.counted(file.name, otherwise)


class _Otherwise:
    """Cells read otherwise than written; each distinct text of a column is compared once."""

    def __init__(self) -> None:
        self._seen: dict[tuple[str, str, object], str | None] = {}

    def cells(self, kind: str, row: ReferenceRow, texts: dict[str, str]) -> Iterator[tuple[str, str, str]]:
        """Those of a kept row: (column, value, read as)."""
        for column in REFERENCES[kind]:
            text = texts.get(column.name, "")
            if not text or (column.type == "text" and text == row[column.name]):
                continue
            seen = (column.name, text, row[column.name])
            if seen not in self._seen:
                self._seen[seen] = _read_as(column, text, row[column.name])
            read_as = self._seen[seen]
            if read_as is not None:
                yield column.name, text, read_as
        if kind == "balls" and not texts.get("core"):
            yield "core", "", f"{row['core']}, as it is a spare ball"


def _read_as(column: Column, text: str, value: object) -> str | None:
    """The value a cell was read as, in words; None if the cell says it plainly."""
    if not column.required and is_nothing(text):
        return None if (column.type, text) == ("flag", "-") else "empty"  # - is a plain no
    if _as_written(column, text, value):
        return None
    return f"{value:g}" if isinstance(value, float) else str(value)


def _as_written(column: Column, text: str, value: object) -> bool:
    """Whether a cell's text already says the value it was read as."""
    if column.type == "choice":
        return text.lower().replace("_", " ") in {str(value), str(value).replace("-", " ")}
    if column.type == "date":
        return text == str(value)
    if column.type in {"text", "flag"}:
        return True
    return _NUMBER.fullmatch(text) is not None and float(text.replace(",", ".")) == value


class _Cells:
    """Values of one file's cells; each distinct text of a column is read once."""

    def __init__(self, dates: dict[str, dt.date | None]) -> None:
        self._dates = dates
        self._seen: dict[tuple[str, str], tuple[str, object]] = {}

    def read(self, column: Column, text: str) -> tuple[str, object]:
        """The text, "" if it means an empty cell, and its value; None if it is empty or not allowed."""
        seen = (column.name, text)
        if seen not in self._seen:
            meant = "" if not column.required and is_nothing(text) else text
            self._seen[seen] = meant, self._dates.get(meant) if column.type == "date" else read_value(column, meant)
        return self._seen[seen]


def _check_row(kind: str, csv_row: CsvRow, texts: dict[str, str], cells: _Cells) -> tuple[ReferenceRow, list[_Fault]]:
    if csv_row.misfit:
        return {}, [_Fault("row", "", f"the row has {csv_row.misfit}", MEND_MISFIT)]
    row: ReferenceRow = {}
    faults: list[_Fault] = []
    for column in REFERENCES[kind]:
        text, value = cells.read(column, texts.get(column.name, ""))
        if value is None and column.name == "core" and _is_nothing_or_empty(text) and _is_spare_ball(texts):
            value = "symmetric"  # what a spare ball's core is does not matter to anything
        if value is None and (text or column.required):
            mend = f"{offer(text, column.choices)}{column.mend()}"
            if column.name == "hand" and text.lower() in BOTH_HANDS:
                mend = "List a bowler who uses both hands twice, once for each hand, under ids of their own."
            faults.append(_Fault(column.name, text, f"expected {column.expected()}", mend))
        row[column.name] = column.default if value is None else value
    row = {**row, "name": row["name"] or row[KEYS[kind]]} if "name" in row else row
    return row, faults


def _is_nothing_or_empty(text: str) -> bool:
    return not text or is_nothing(text)


def _is_spare_ball(texts: dict[str, str]) -> bool:
    return _FLAGS.get(texts.get("spare_ball", "").lower()) is True


def _alike(kind: str, row: ReferenceRow, other: ReferenceRow | int) -> bool:
    """Whether a row says what another file's row of the same id says; a line number means a row of the same file."""
    return not isinstance(other, int) and all(row[column.name] == other[column.name] for column in REFERENCES[kind])


def _defined_already(kind: str, key: str, row: ReferenceRow, other: ReferenceRow | int) -> tuple[str, str]:
    """The reason and the mend of a second definition of an id."""
    if isinstance(other, int):
        mend = "Keep one of the two rows."
        if kind == "balls":
            mend = f"{mend[:-1]}; list a shared ball once for each bowler, under ids of their own."
        return f"this {key} already stands on line {other}", mend
    differs = [
        column.name for column in REFERENCES[kind] if column.name in row and row[column.name] != other[column.name]
    ]
    shown = ", ".join(f"{name} {other[name]}" for name in differs)
    mend = "Write it alike in both files, or give one of the two another id."
    return f"this {key} is defined in {other['source_file']} with {shown or 'other values'}", mend


def _check_ids(
    kind: str, row: ReferenceRow, texts: dict[str, str], defined: dict[str, ReferenceRow | int], known: set[str]
) -> list[_Fault]:
    faults = []
    key = KEYS.get(kind)
    if kind == "bowlers" and texts.get("bowler", "").casefold() == EVERYONE:
        reason = f"{EVERYONE} stands for all bowlers together"
        faults.append(_Fault("bowler", texts["bowler"], reason, "Give the bowler another id in every file."))
    if key and texts.get(key, "") in defined:
        faults.append(_Fault(key, texts[key], *_defined_already(kind, key, row, defined[texts[key]])))
    if kind in _LINKS:
        column, kinds = _LINKS[kind]
        value = texts.get(column, "")
        if value and value not in known:
            mend = f"{offer(value, known)}Add it to {kinds}.csv, mend its row there, or correct the id."
            if not known:
                mend = f"There is no usable row in {kinds}.csv: add that file, or mend its rows."
            faults.append(_Fault(column, value, f"unknown {column}", mend))
    return faults


def read_value(column: Column, text: str) -> object:
    """A value of one column; None if the text is empty or invalid; dates are read elsewhere."""
    if not text:
        return None
    if column.type == "text":
        return text
    if column.type == "flag":
        return _FLAGS.get(text.lower())
    if column.type == "choice":
        word = choice_of(column.name, " ".join(text.lower().replace("_", " ").split()))
        return next((choice for choice in column.choices if word in {choice, choice.replace("-", " ")}), None)
    return _read_number(column, text)


def _read_number(column: Column, text: str) -> float | int | None:
    word = bare_number(column.name, text)
    if not _NUMBER.fullmatch(word) or len(word) > 30:
        return None
    meant = {float(word.replace(",", "."))}
    if _THOUSANDS.fullmatch(word):
        meant.add(float(word.replace(",", "")))
    able = [n for n in meant if column.low <= n <= column.high and (column.type == "number" or n.is_integer())]
    if len(able) != 1:  # 1,200 may be 1.2 or 1200
        return None
    return int(able[0]) if column.type == "whole" else able[0]
