"""The ledger as one file, CSV or JSON: one row per part of each delivery's change of the expected score.

Rows are made by the database one bowler at a time, bowlers in order, and written as they come, so a long log needs no
more memory than a short one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TextIO

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv

from pipeline.decisions.export.field_notes import LEDGER_FILE
from pipeline.output_files import replacing
from pipeline.pricing.ledger.deliveries import Ledger, ValuedDeliveries
from pipeline.spreadsheet import FORMULA, LED
from queries import sql

Valued = Ledger | ValuedDeliveries
_AT_ONCE = 100_000  # rows
_ALIASED = {"bowler": "person", "ball": "ball", "block": "block"}
_NOT_NAMED = "not named"
"""Stands for a name that no decision mentions, and that so has no alias."""


def write_ledger(ledgers: Valued | Iterable[Valued], path: Path, key: pd.DataFrame | None = None) -> Path:
    """Write every delivery's parts; returns ``path``.

    Args:
        ledgers: the season's, or those of some bowlers and then of others; each is read before the next is asked for.
        path: a file that ends in ``.json``, an array of objects; anything else is CSV.
        key: as ``alias`` gives it; with it names are replaced and bowlers come in the order of their aliases.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    several = [ledgers] if isinstance(ledgers, Ledger | ValuedDeliveries) else ledgers
    labels = _labels(key)
    with replacing(path) as file:
        batches = (batch for ledger in several for batch in _batches(ledger, labels))
        if path.suffix.lower() == ".json":
            _to_json(batches, file)
        else:
            _to_csv(batches, file)
    return path


def _labels(key: pd.DataFrame | None) -> dict[str, dict[str, str]] | None:
    if key is None:
        return None
    return {
        column: dict(key.loc[key["kind"] == kind, ["real", "alias"]].itertuples(index=False))
        for column, kind in _ALIASED.items()
    }


def _batches(ledger: Ledger | ValuedDeliveries, labels: dict[str, dict[str, str]] | None) -> Iterator[pa.RecordBatch]:
    accounts = sorted(ledger.accounts, key=lambda account: (account[1], account[0]))
    if labels is not None:
        accounts = sorted(accounts, key=lambda account: (labels["bowler"].get(account[1], _NOT_NAMED), account[0]))
    for reference, bowler in accounts:
        of = {"reference": reference, "bowler": bowler}
        for batch in ledger.season.connection.sql(sql("ledger/part_rows"), params=of).to_arrow_reader(_AT_ONCE):
            yield batch if labels is None else _hidden(batch, labels)


def _hidden(batch: pa.RecordBatch, labels: dict[str, dict[str, str]]) -> pa.RecordBatch:
    for column, names in labels.items():
        place = batch.schema.get_field_index(column)
        shown = [None if name is None else names.get(name, _NOT_NAMED) for name in batch.column(place).to_pylist()]
        batch = batch.set_column(place, column, pa.array(shown, pa.string()))
    return batch


def _to_csv(batches: Iterator[pa.RecordBatch], file: TextIO) -> None:
    file.write(",".join(LEDGER_FILE) + "\n")
    file.flush()
    options = csv.WriteOptions(include_header=False, quoting_style="needed")
    for batch in batches:
        csv.write_csv(_without_formulas(batch), file.buffer, options)


def _without_formulas(batch: pa.RecordBatch) -> pa.RecordBatch:
    """Text that a spreadsheet would run as a formula led by an apostrophe."""
    for place, field in enumerate(batch.schema):
        if pa.types.is_string(field.type):
            safe = pc.replace_substring_regex(batch.column(place), pattern=FORMULA, replacement=LED)
            batch = batch.set_column(place, field.name, safe)
    return batch


def _to_json(batches: Iterator[pa.RecordBatch], file: TextIO) -> None:
    file.write("[")
    first = True
    for batch in batches:
        if batch.num_rows:
            rows = batch.to_pandas(date_as_object=True)
            rows["date"] = rows["date"].astype(str)
            lines = rows.to_json(orient="records", lines=True, double_precision=15, force_ascii=False)
            file.write(("\n" if first else ",\n") + lines.strip("\n").replace("\n", ",\n"))
            first = False
    file.write("\n]\n")
