"""What of kept rows of shots files was read otherwise than written, and whether a file's speeds are all in km/h."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import duckdb

import queries
from pipeline.intake import readings
from pipeline.intake.checks.faults import limits
from pipeline.intake.files.columns import SHOTS
from pipeline.intake.files.records import raw_rows
from pipeline.intake.files.sniff import KMH_PER_MPH
from pipeline.intake.report import Reading
from pipeline.sport.leaves import format_leave, mirror

if TYPE_CHECKING:
    from pipeline.intake.checks.shots import StagedFile

_AS_THE_GUIDE_HAS_IT = re.compile(
    "(?:x|/|0|f?|b[01]{10}|[-\u2010-\u2015\u2212]+|[0-9]{1,2}(?:[-\u2010-\u2015\u2212,;+\\s]+[0-9]{1,2})*)",
    re.IGNORECASE,
)
_TOO_FAST_MPH = 21.0
"""A speed that adults seldom reach (common practice); in km/h a slow ball, so nine in ten above it are no mph."""
_ENOUGH_SPEEDS = 20


def speeds_are_in_kmh(connection: duckdb.DuckDBPyConnection, file_no: int) -> bool:
    """Whether the speeds of a staged file are hardly in mph, and if so make them mph."""
    ((speeds, slow),) = connection.execute(queries.sql("load/speed_check"), [file_no]).fetchall()
    if speeds < _ENOUGH_SPEEDS or slow <= _TOO_FAST_MPH:
        return False
    bounds = {name: value for name, value in limits().items() if name.startswith("speed_mph")}
    parameters = {**bounds, "file_no": file_no, "kmh_per_mph": KMH_PER_MPH}
    connection.execute(queries.sql("load/speeds_to_mph"), parameters)
    return True


def shot_readings(connection: duckdb.DuckDBPyConnection, files: Sequence[StagedFile]) -> Iterator[Reading]:
    """Readings of all kept rows; after they were stored."""
    yield from _leaves(connection)
    yield from _speeds(connection, files)
    rows = connection.execute(queries.sql("load/mended_rows")).fetchall()
    for staged in files:
        lines = [line for number, line in rows if number == staged.number]
        found = (
            pair
            for _, _, texts, _ in raw_rows(staged.file, lines, plain=staged.plain)
            for pair in readings.of_row(SHOTS, texts)
        )
        yield from readings.counted(staged.file.name, found)


def _leaves(connection: duckdb.DuckDBPyConnection) -> Iterator[Reading]:
    texts = [text for _, text, _ in connection.execute("SELECT * FROM marks").fetchall()]
    odd = [text for text in texts if not _AS_THE_GUIDE_HAS_IT.fullmatch(text)]
    if not odd:
        return
    for file, text, standing, left_handed, rows in connection.execute(
        queries.sql("load/mended_leaves"), {"texts": odd}
    ).fetchall():
        pins = format_leave(mirror(standing) if left_handed else standing)
        yield Reading(file, "leave", text, "none standing" if pins == "X" else pins, rows)


def _speeds(connection: duckdb.DuckDBPyConnection, files: Sequence[StagedFile]) -> Iterator[Reading]:
    why = {f.file.name: "speeds in km/h, by the column's name" for f in files if f.file.in_kmh}
    why |= {f.file.name: f"speeds nine in ten above {_TOO_FAST_MPH:g}, so in km/h" for f in files if f.kmh}
    if why:
        for file, rows in connection.execute(queries.sql("load/speeds_kept"), [list(why)]).fetchall():
            yield Reading(file, "speed_mph", why[file], "mph", rows)
