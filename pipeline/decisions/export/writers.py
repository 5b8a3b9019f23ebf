"""Decisions for other programs: one JSON file, or one CSV per kind of record, and a guide to every field."""

from __future__ import annotations

import csv
import datetime as dt
import types
import typing
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
from pydantic import BaseModel

from pipeline.decisions import records
from pipeline.decisions.export.field_notes import LEDGER_FILE, NOTES
from pipeline.decisions.records import Decisions, Estimate
from pipeline.output_files import replacing
from pipeline.spreadsheet import as_text

CsvValue = str | int | float | bool | None
CsvFields = dict[str, CsvValue]
_LEDGER_FILE_HEAD = (
    "Written by `decide --ledger FILE`: one row per part of each delivery's change of the expected final score."
)
GUIDE = Path(__file__).parent / "FIELDS.md"


def write_key(key: pd.DataFrame, path: Path) -> Path:
    """Write who is who as CSV (kind, real, alias); returns ``path``."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with replacing(path) as file:
        writer = csv.writer(file)
        writer.writerow(key.columns)
        writer.writerows([as_text(str(cell)) for cell in row] for row in key.itertuples(index=False))
    return path


def to_json(decisions: Decisions, path: Path) -> Path:
    """Write everything as one JSON file, UTF-8, indented; returns ``path``."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with replacing(path) as file:
        file.write(decisions.model_dump_json(indent=1) + "\n")
    return path


def to_csv(decisions: Decisions, folder: Path) -> list[Path]:
    """Write one CSV per kind of record into ``folder``; returns the files written.

    An estimate becomes seven columns (``worth_mean``, ``worth_lo50``, ...). A list inside a record becomes a
    separate file, ``<kind>_<field>.csv``, that repeats the record's own columns up to its first estimate. Text that a
    spreadsheet would run as a formula is led by an apostrophe. Kinds without records still get a header.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, rows in _tables(decisions).items():
        path = folder / f"{name}.csv"
        with replacing(path) as file:
            writer = csv.DictWriter(file, _header(name, rows), restval="")
            writer.writeheader()
            writer.writerows({key: _safe(value) for key, value in row.items()} for row in rows)
        written.append(path)
    return written


def _tables(decisions: Decisions) -> dict[str, list[CsvFields]]:
    tables: dict[str, list[CsvFields]] = {name: [] for name in headers()}
    for field in Decisions.model_fields:
        value = getattr(decisions, field)
        if isinstance(value, str):
            continue
        records = value if isinstance(value, list) else [value]
        for record in records:
            row, inner = _split(record)
            if field == "summary":
                row = {"title": decisions.title, **row}
            tables[field].append(row)
            for name, rows in inner.items():
                tables[f"{field}_{name}"].extend(rows)
    return tables


def _split(record: BaseModel) -> tuple[CsvFields, dict[str, list[CsvFields]]]:
    """A record's flat columns, and the rows of the lists inside it."""
    row: CsvFields = {}
    keys: CsvFields = {}
    inner: dict[str, list[CsvFields]] = {}
    leading = True
    for name in type(record).model_fields:
        value = getattr(record, name)
        if isinstance(value, list):
            inner[name] = [{**keys, **_item(i, item)} for i, item in enumerate(value)]
            continue
        if value is None and _records_in(type(record).model_fields[name].annotation):
            leading = False
            continue
        flat = dict(_flat(name, value))
        leading = leading and not isinstance(value, BaseModel | dict)
        if leading:
            keys |= flat
        row |= flat
    return row, inner


def _item(index: int, item: object) -> CsvFields:
    if isinstance(item, BaseModel):
        return {k: v for name in type(item).model_fields for k, v in _flat(name, getattr(item, name))}
    return {"index": index, "value": typing.cast(CsvValue, item)}


def _flat(name: str, value: object) -> Iterator[tuple[str, CsvValue]]:
    if isinstance(value, BaseModel):
        for inner in type(value).model_fields:
            yield from _flat(f"{name}_{inner}", getattr(value, inner))
    elif isinstance(value, dict):
        for key, inner_value in value.items():
            yield from _flat(f"{name}_{key}".replace(" ", "_"), inner_value)
    elif isinstance(value, dt.date):
        yield name, value.isoformat()
    else:
        yield name, typing.cast(CsvValue, value)


def headers() -> dict[str, list[str]]:
    """Table -> columns, as the record types give them; a dictionary's keys are not known here."""
    columns: dict[str, list[str]] = {}
    for field, info in Decisions.model_fields.items():
        kinds = _records_in(info.annotation)
        if not kinds:
            continue
        title = ["title"] if field == "summary" else []
        columns[field] = [*title, *_columns_of(kinds[0], "")]
        keys = list(_leading_columns(kinds[0]))
        for name, inner in kinds[0].model_fields.items():
            if typing.get_origin(inner.annotation) is list:
                items = _records_in(inner.annotation)
                columns[f"{field}_{name}"] = [*keys, *(_columns_of(items[0], "") if items else ("index", "value"))]
    return columns


def _header(name: str, rows: list[CsvFields]) -> list[str]:
    """Columns in the order of the model, then any a row adds (a dictionary's keys)."""
    columns = dict.fromkeys(headers()[name])
    for row in rows:
        columns |= dict.fromkeys(row)
    return list(columns)


def _leading_columns(kind: type[BaseModel]) -> Iterator[str]:
    """Columns of a record up to the first that is a record or a dictionary: they are repeated for its lists."""
    for name, field in kind.model_fields.items():
        origin = typing.get_origin(field.annotation)
        if origin is list:
            continue
        if origin is dict or _records_in(field.annotation):
            return
        yield name


def _columns_of(kind: type[BaseModel], prefix: str) -> Iterator[str]:
    for name, field in kind.model_fields.items():
        if typing.get_origin(field.annotation) in (list, dict):
            continue
        inner = _records_in(field.annotation)
        if inner:
            yield from _columns_of(inner[0], f"{prefix}{name}_")
        else:
            yield prefix + name


def _safe(value: CsvValue) -> CsvValue:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return as_text(value) if isinstance(value, str) else value


def _records_in(annotation: object) -> list[type[BaseModel]]:
    """The record kinds named in a type, e.g. ``list[ComboWorth]`` -> [ComboWorth]."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [kind for inner in typing.get_args(annotation) for kind in _records_in(inner)]


def field_guide() -> str:
    """Markdown that describes every field of every record, from the records' own descriptions."""
    lines = [
        "# Fields of the decisions",
        "",
        "Written by `python -m pipeline.decisions.export.writers` from the record types; do not edit by hand.",
        "",
        "Pins are pins per game. In CSV an estimate is seven columns, `<field>_mean` to `<field>_hi95`; a list inside",
        "a record is a file of its own; text a spreadsheet would run as a formula is led by an apostrophe.",
    ]
    for kind in _kinds(Decisions, []):
        lines += ["", f"## {kind.__name__}", "", (kind.__doc__ or "").strip(), "", "| field | type | meaning |"]
        lines.append("| --- | --- | --- |")
        for name, field in kind.model_fields.items():
            meaning = field.description or NOTES.get(f"{kind.__name__}.{name}") or NOTES.get(name, "")
            if not meaning:
                raise ValueError(f"{kind.__name__}.{name} has no description")
            lines.append(f"| `{name}` | {_type_name(field.annotation)} | {meaning} |")
    lines += ["", "## The ledger file", "", _LEDGER_FILE_HEAD, "", "| column | type | meaning |", "| --- | --- | --- |"]
    lines += [f"| `{name}` | {kind} | {meaning} |" for name, (kind, meaning) in LEDGER_FILE.items()]
    return "\n".join(lines) + "\n"


def _kinds(kind: type[BaseModel], seen: list[type[BaseModel]]) -> list[type[BaseModel]]:
    if kind not in seen:
        seen.append(kind)
        for field in kind.model_fields.values():
            for inner in _records_in(field.annotation):
                _kinds(inner, seen)
    if kind is Decisions and Estimate in seen:
        seen.remove(Estimate)
        seen.insert(1, Estimate)
    return seen


def _type_name(annotation: object) -> str:
    if annotation is type(None):
        return "nothing"
    origin, arguments = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Literal:
        return "one of " + ", ".join(f"`{value}`" for value in arguments)
    if origin in (typing.Union, types.UnionType):
        return " or ".join(_type_name(inner) for inner in arguments)
    if origin is list:
        return f"list of {_type_name(arguments[0])}"
    if origin is dict:
        return f"{_type_name(arguments[0])} -> {_type_name(arguments[1])}"
    simple = {str: "text", int: "whole number", float: "number", bool: "true or false", dt.date: "date"}
    if isinstance(annotation, type):
        return simple.get(annotation, annotation.__name__)
    return str(annotation)


if __name__ == "__main__":
    GUIDE.write_text(field_guide(), encoding="utf-8")
    print(f"wrote {GUIDE.name} for {len(_kinds(Decisions, []))} kinds of {records.__name__}")
