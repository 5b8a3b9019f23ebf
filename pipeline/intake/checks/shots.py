"""Checking shots files: every row by itself and in its frame, set by set in the database.

Rows are read once into a temporary table. What a delivery may be depends only on how its frame was logged, and a
season holds few different ways of that, so each is checked once in Python and joined back.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path

import duckdb
import pyarrow as pa

import queries
from pipeline.intake import readings
from pipeline.intake.checks.dates import read_dates
from pipeline.intake.checks.faults import (
    BLOCK_DATE,
    DATE,
    DIFFERING_COPY,
    MISFIT,
    NEEDLESS_COPY,
    NO_RECORD,
    OTHER_FILE,
    explain,
    fault_bits,
    limits,
)
from pipeline.intake.checks.frames import Mark, Outcome, RowFault, SetAside, check_frame
from pipeline.intake.checks.other_spellings import NOTHING, TOTALS
from pipeline.intake.checks.shot_readings import find_kmh, shot_readings, store_cells
from pipeline.intake.checks.staged import StagedFile
from pipeline.intake.errors import FileRefused
from pipeline.intake.files.column_map import ColumnMap
from pipeline.intake.files.csv_rows import raw_rows, rewrite
from pipeline.intake.files.delimiters import outside_quotes
from pipeline.intake.files.sniff import KMH_PER_MPH, CsvFile
from pipeline.intake.quarantine import Quarantined

_OUTCOMES = pa.schema(
    [
        ("tenth", pa.bool_()),
        ("left_handed", pa.bool_()),
        ("first_mark", pa.int32()),
        ("second_mark", pa.int32()),
        ("third_mark", pa.int32()),
        ("delivery", pa.int16()),
        ("facing", pa.int16()),
        ("standing", pa.int16()),
        ("first_ball", pa.bool_()),
        ("foul", pa.bool_()),
        ("repaired", pa.bool_()),
        ("problem", pa.int32()),
    ]
)


class ShotCheck:
    """The checks of one load, in the order of its methods.

    The temporary tables and types of ``changes.create_known_ids`` must be there.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection, columns: ColumnMap, scratch: Path) -> None:
        self._connection = connection
        self._columns = columns.of("shots")
        self._scratch = scratch
        self._problems: list[RowFault] = []
        self._blocks = self._count("known_blocks")
        self._bowlers = self._count("known_bowlers")
        self._owners = [
            owner for (owner,) in connection.table("known_balls").order("ball_no").project("owner_no").fetchall()
        ]
        self._skipped: dict[int, int] = {}
        for name in ("load/staged_shots", "load/blank_cell", "load/number_cell", "load/cell_reading", "load/frame_key"):
            connection.execute(queries.sql(name))

    def stage(self, file: CsvFile, number: int) -> StagedFile:
        """Read one file; outside any transaction, because a file may prove less plain than it looked."""
        staged = StagedFile(file, number)
        try:
            if file.plain and not self._columns.rewrites and self._stage_plain(staged):
                return staged
            target = self._scratch / f"{number}.csv"
            names = rewrite(file, self._columns, target)
            staged.read = self._insert(staged, target, ",", dict.fromkeys(names, "VARCHAR"))
            target.unlink()
        except FileRefused as error:
            staged.refused = str(error)
        return staged

    def _stage_plain(self, staged: StagedFile) -> bool:
        file = staged.file
        names = {place or f"ignored {n}": "VARCHAR" for n, place in enumerate(file.places)}
        try:
            staged.read = self._insert(staged, file.path.resolve(), file.delimiter, names)
        except (duckdb.OutOfMemoryException, duckdb.InterruptException):
            raise
        except duckdb.Error:
            staged.read = -1  # a ragged row or an odd quote: the slower way tells which
        delimiters = file.lines * (len(file.places) - 1)
        if staged.read == file.lines - 1 and outside_quotes(file.path, file.delimiter) == delimiters:
            staged.plain = True
            return True
        self._connection.execute(queries.sql("load/unstage_shots"), [staged.number])
        return False

    def _insert(self, staged: StagedFile, path: Path, delimiter: str, names: dict[str, str]) -> int:
        parameters = {
            **limits(),
            **fault_bits(),
            "path": str(path),
            "columns": names,
            "delimiter": delimiter,
            "file_no": staged.number,
            "blocks": self._blocks,
            "owners": self._owners,
            "bowlers": self._bowlers,
            "nothing": NOTHING,
            "totals": TOTALS,
            "underscores": staged.file.underscores,
            "misfit": MISFIT,
            "no_record": NO_RECORD,
            "kmh_per_mph": KMH_PER_MPH,
            "unit_of_speed": KMH_PER_MPH if staged.file.in_kmh else 1.0,
        }
        rows = self._connection.execute(queries.sql("load/stage_shots"), parameters).fetchall()
        return int(rows[0][0])

    def check(self, files: Sequence[StagedFile]) -> None:
        """Check all staged rows; inside the transaction, after the rows of the same files were removed."""
        first = dict(self._connection.execute(queries.sql("load/first_rows")).fetchall())
        numbers, names = [f.number for f in files], [f.file.name for f in files]
        first_rows = [first.get(number, 0) for number in numbers]
        self._give("shot_files", {"file_no": numbers, "source_file": names, "first_row": first_rows})
        self._drop_no_records(files)
        find_kmh(self._connection, files)
        self._check_dates()
        self._connection.execute(queries.sql("load/marks"))
        needless = {"needless": NEEDLESS_COPY}
        self._connection.execute(queries.sql("load/frames"), needless)
        self._connection.execute(queries.sql("load/copies"))
        if self._count("copies"):
            self._connection.execute(queries.sql("load/mark_copies"), {**needless, "differing": DIFFERING_COPY})
            self._connection.execute(queries.sql("load/frames"), needless)
        known = {"blocks": self._blocks, "bowlers": self._bowlers}
        self._connection.execute(queries.sql("load/clashes"), known)
        if self._count("clashes"):
            self._connection.execute(queries.sql("load/mark_clashes"), {"other_file": OTHER_FILE})
        self._check_frames()

    def keep(self) -> int:
        """Store the rows that passed; returns their number."""
        return int(self._connection.execute(queries.sql("load/keep_shots")).fetchall()[0][0])

    def set_aside(self, files: Sequence[StagedFile]) -> tuple[dict[int, int], Iterator[Quarantined]]:
        """Rows that did not pass: their count by file number, and every reason, streamed."""
        rows = self._connection.execute(queries.sql("load/set_aside")).fetchnumpy()
        numbers = rows["file_no"]
        counts = {f.number: int((numbers == f.number).sum()) for f in files}
        table = list(zip(*(rows[name].tolist() for name in ("line", "faults", "problem", "other")), strict=True))
        return counts, self._explained(files, counts, table)

    def _explained(
        self, files: Sequence[StagedFile], counts: dict[int, int], table: list[tuple[int, int, int | None, str | None]]
    ) -> Iterator[Quarantined]:
        start, known = 0, {column: self._ids(column) for column in ("block", "bowler", "ball")}
        for staged in sorted(files, key=lambda f: f.number):
            part = table[start : start + counts[staged.number]]
            start += len(part)
            rows = raw_rows(staged.file, (line for line, *_ in part), plain=staged.plain)
            for (line, faults, problem, other), (_, raw, values, misfit) in zip(part, rows, strict=True):
                values = {**self._columns.constants, **values}
                reasons = (
                    explain(faults, values, misfit or "", other, known) if faults else [self._problems[problem or 0]]
                )
                for reason in reasons:
                    value = values.get(reason.column)
                    yield Quarantined(staged.file.name, line, reason.column, value, reason.reason, reason.mend, raw)

    def store_readings(self, files: Sequence[StagedFile]) -> None:
        """Store what was read otherwise than written; after :meth:`check`."""
        store_cells(self._connection)
        skipped = (readings.skipped(staged.file.name, self._skipped.get(staged.number, 0)) for staged in files)
        readings.store(self._connection, chain(chain.from_iterable(skipped), shot_readings(self._connection, files)))

    def _drop_no_records(self, files: Sequence[StagedFile]) -> None:
        """Drop rows that are no deliveries, blanks and totals under a table, and take them from the rows read."""
        parameters = {"no_record": NO_RECORD}
        self._skipped = dict(self._connection.execute(queries.sql("load/skipped"), parameters).fetchall())
        if self._skipped:
            self._connection.execute(queries.sql("load/drop_no_records"), parameters)
        for staged in files:
            staged.read -= self._skipped.get(staged.number, 0)

    def _ids(self, column: str) -> list[str]:
        table = {"block": "known_blocks", "bowler": "known_bowlers", "ball": "known_balls"}[column]
        return [str(name) for (name,) in self._connection.table(table).project(column).fetchall()]

    def _check_dates(self) -> None:
        rows = self._connection.execute(queries.sql("load/shot_dates"), {"misfit": MISFIT}).fetchall()
        texts: dict[int, set[str]] = {}
        days: dict[int, list[tuple[str, dt.date]]] = {}
        for number, text, _, block_date in rows:
            texts.setdefault(number, set()).add(text)
            if block_date is not None:
                days.setdefault(number, []).append((text, block_date))
        dates = {number: read_dates(values, days.get(number, ())) for number, values in texts.items()}
        good = [(number, text, date) for number, values in dates.items() for text, date in values.items() if date]
        self._give(
            "read_dates", _turned(good, ("file_no", "date_text", "date"), (pa.int32(), pa.string(), pa.date32()))
        )
        bad = []
        for number, text, block, block_date in rows:
            date = dates[number][text]
            if date is None:
                bad.append((number, text, block, DATE))
            elif block_date is not None and abs(date - block_date) > dt.timedelta(days=1):  # play may pass midnight
                bad.append((number, text, block, BLOCK_DATE))
        if bad:
            types = (pa.int32(), pa.string(), pa.int32(), pa.int32())
            self._give("bad_dates", _turned(bad, ("file_no", "date_text", "block_no", "bit"), types))
            self._connection.execute(queries.sql("load/mark_dates"))

    def _check_frames(self) -> None:
        known: list[Mark | SetAside | None] = [None]
        for _, text, foul in self._connection.execute("SELECT * FROM marks ORDER BY mark").fetchall():
            known.append(Mark(text, foul))
        known.append(SetAside())  # found at -1
        numbers: dict[RowFault, int] = {}
        rows = []
        for shape in self._connection.execute(queries.sql("load/frame_shapes")).fetchall():
            tenth, left_handed, *marks = shape
            results = check_frame([known[mark] for mark in marks], tenth=tenth, left_handed=left_handed)
            for delivery, result in enumerate(results, start=1):
                if isinstance(result, Outcome):
                    rows.append((*shape, delivery, *_cells(result), None))
                elif result is not None:
                    number = numbers.setdefault(result, len(numbers))
                    rows.append((*shape, delivery, None, None, None, None, None, number))
        self._problems = list(numbers)
        self._give("outcomes", _turned(rows, _OUTCOMES.names, _OUTCOMES.types))

    def _give(self, name: str, columns: dict[str, list[int] | list[str]] | pa.Table) -> None:
        table = columns if isinstance(columns, pa.Table) else pa.table(columns)
        create_temp_table(self._connection, name, table)

    def _count(self, table: str) -> int:
        return int(self._connection.table(table).aggregate("count(*)").fetchall()[0][0])


def create_temp_table(connection: duckdb.DuckDBPyConnection, name: str, table: pa.Table) -> None:
    """Make ``table`` a temporary table of that name, in place of an earlier one."""
    connection.register("given", table)
    connection.execute(f'CREATE OR REPLACE TEMP TABLE "{name}" AS SELECT * FROM given')
    connection.unregister("given")


def _cells(outcome: Outcome) -> tuple[int, int, bool, bool, bool]:
    return outcome.facing, outcome.standing, outcome.first_ball, outcome.foul, outcome.repaired


def _turned(rows: Sequence[tuple[object, ...]], names: Sequence[str], types: Sequence[pa.DataType]) -> pa.Table:
    columns = zip(*rows, strict=True) if rows else ([] for _ in names)
    return pa.table({n: pa.array(list(c), type=t) for n, c, t in zip(names, columns, types, strict=True)})
