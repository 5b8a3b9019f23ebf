"""Checking bowlers, balls, patterns, blocks and maintenance: small files, row by row."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from pipeline.intake.checks.dates import read_dates
from pipeline.intake.errors import FileRefused
from pipeline.intake.files.column_map import ColumnMap
from pipeline.intake.files.columns import REFERENCES, Column
from pipeline.intake.files.records import Record, records, values
from pipeline.intake.files.sniff import CsvFile
from pipeline.intake.quarantine import Quarantined

Row = dict[str, object]

_FLAGS = dict.fromkeys(("1", "true", "yes", "y", "x", "t"), True) | dict.fromkeys(
    ("0", "false", "no", "n", "f", "-"), False
)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+")
_LINKS = {
    "bowlers": ("coach", "bowlers"),
    "balls": ("bowler", "bowlers"),
    "blocks": ("pattern", "patterns"),
    "maintenance": ("ball", "balls"),
}
_KEYS = {"bowlers": "bowler", "balls": "ball", "patterns": "pattern", "blocks": "block"}


@dataclass
class CheckedFile:
    """What one file gave: rows to keep, reasons for the others, and why all of it was refused, where it was."""

    name: str
    kind: str
    sha256: str = ""
    read: int = 0
    kept: list[Row] = field(default_factory=list)
    set_aside: list[Quarantined] = field(default_factory=list)
    refused: str | None = None


@dataclass(frozen=True)
class _Fault:
    column: str
    value: str
    reason: str
    mend: str


def check_references(
    files: Sequence[CsvFile], columns: ColumnMap, stored: dict[str, set[str]]
) -> dict[str, CheckedFile]:
    """Check all reference files of a folder against each other.

    Args:
        files: the readable ones, at most one a kind.
        columns: how their columns are named.
        stored: ids that the database holds of kinds the folder has no file of.

    Returns:
        By kind, what each file gave.
    """
    by_kind = {file.kind: file for file in files}
    checked: dict[str, CheckedFile] = {}
    ids = {kind: dict.fromkeys(names, 0) for kind, names in stored.items()}
    for kind in REFERENCES:
        file = by_kind.get(kind)
        if file is None:
            continue
        result = CheckedFile(file.name, kind, file.sha256)
        try:
            _check_file(file, columns, result, ids)
        except FileRefused as error:
            result = CheckedFile(file.name, kind, file.sha256, refused=str(error))
        checked[kind] = result
    return checked


def _check_file(file: CsvFile, columns: ColumnMap, result: CheckedFile, ids: dict[str, dict[str, int]]) -> None:
    rows = [(record, values(file, record, columns.of(file.kind))) for record in records(file)]
    result.read = len(rows)
    dates = read_dates({found.get("date", "") for _, found in rows})
    own = ids.setdefault(file.kind, {})
    link = _LINKS.get(file.kind)
    if link and link[1] == file.kind:  # a coach may stand below the bowler
        known = {found.get(_KEYS[file.kind], "") for _, found in rows}
    else:
        known = set(ids.get(link[1], {})) if link else set()
    for record, found in rows:
        row, faults = _check_row(file.kind, record, found, dates)
        faults += _check_ids(file.kind, found, own, known)
        if faults:
            raw = file.delimiter.join(record.fields)
            result.set_aside += [
                Quarantined(file.name, record.line, f.column, f.value, f.reason, f.mend, raw) for f in faults
            ]
        else:
            result.kept.append({**row, "source_file": file.name, "line": record.line})
            if file.kind in _KEYS:
                own[found[_KEYS[file.kind]]] = record.line


def _check_row(
    kind: str, record: Record, found: dict[str, str], dates: dict[str, dt.date | None]
) -> tuple[Row, list[_Fault]]:
    if record.misfit:
        mend = "Give the row one field a column; put a text that holds the delimiter in quotes, and close them."
        return {}, [_Fault("row", "", f"the row has {record.misfit}", mend)]
    row: Row = {}
    faults: list[_Fault] = []
    for column in REFERENCES[kind]:
        text = found.get(column.name, "")
        value = dates.get(text) if column.type == "date" else read_value(column, text)
        if value is None and (text or column.required):
            faults.append(_Fault(column.name, text, f"expected {column.expected()}", "Correct the value."))
        row[column.name] = column.default if value is None else value
    row = {**row, "name": row["name"] or row[_KEYS[kind]]} if "name" in row else row
    return row, faults


def _check_ids(kind: str, found: dict[str, str], own: dict[str, int], known: set[str]) -> list[_Fault]:
    faults = []
    key = _KEYS.get(kind)
    if key and found.get(key, "") in own:
        first = own[found[key]]
        faults.append(
            _Fault(key, found[key], f"this {key} already stands on line {first}", "Keep one of the two rows.")
        )
    if kind in _LINKS:
        column, kinds = _LINKS[kind]
        value = found.get(column, "")
        if value and value not in known:
            mend = f"Add it to {kinds}.csv, mend its row there, or correct the id."
            if not known:
                mend = f"There is no usable row in {kinds}.csv: add that file, or mend its rows."
            faults.append(_Fault(column, value, f"unknown {column}", mend))
    return faults


def read_value(column: Column, text: str) -> object:
    """A value of one column, or None where the text is empty or is none; dates are read elsewhere."""
    if not text:
        return None
    if column.type == "text":
        return text
    if column.type == "flag":
        return _FLAGS.get(text.lower())
    if column.type == "choice":
        word = " ".join(text.lower().replace("_", " ").split())
        return next((choice for choice in column.choices if word in {choice, choice.replace("-", " ")}), None)
    return _read_number(column, text)


def _read_number(column: Column, text: str) -> float | int | None:
    word = text.removesuffix(":1").strip() if column.name == "ratio" else text
    if not _NUMBER.fullmatch(word) or len(word) > 30:
        return None
    number = float(word.replace(",", "."))
    if not column.low <= number <= column.high or not math.isfinite(number):
        return None
    if column.type == "whole":
        return int(number) if number == int(number) else None
    return number
