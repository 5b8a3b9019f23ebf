"""Values of kept shots rows that were read otherwise than written, and whether a file's speeds are all in km/h."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import duckdb

import queries
from pipeline.intake.checks.faults import MISFIT, WRONG_SPEED, limits
from pipeline.intake.checks.staged import StagedFile
from pipeline.intake.files.sniff import KMH_PER_MPH
from pipeline.intake.report import Reading
from pipeline.sport.leaves import format_leave, mirror

_AS_THE_GUIDE_HAS_IT = re.compile(
    "(?:x|/|0|f?|b[01]{10}|[-\u2010-\u2015\u2212]+|[0-9]{1,2}(?:[-\u2010-\u2015\u2212,;+\\s]+[0-9]{1,2})*)",
    re.IGNORECASE,
)
_TOO_FAST_MPH = 21.0
"""A speed that adults seldom reach (common practice); in km/h a slow ball, so nine in ten above it are no mph."""
_ENOUGH_SPEEDS = 20


def find_kmh(connection: duckdb.DuckDBPyConnection, files: Sequence[StagedFile]) -> None:
    """Find staged files whose speeds can hardly be mph, mark them in ``kmh``, and convert their speeds."""
    unnamed = [staged.number for staged in files if not staged.file.in_kmh]
    asked = {"files": unnamed, "enough": _ENOUGH_SPEEDS, "too_fast": _TOO_FAST_MPH}
    in_kmh = [number for (number,) in connection.execute(queries.sql("load/speed_check"), asked).fetchall()]
    if not in_kmh:
        return
    for staged in files:
        staged.kmh = staged.number in in_kmh
    parameters = {name: value for name, value in limits().items() if name.startswith("speed_mph")}
    parameters |= {"kmh_per_mph": KMH_PER_MPH, "misfit": MISFIT, "wrong_speed": WRONG_SPEED}
    connection.execute(queries.sql("load/speeds_to_mph"), {**parameters, "files": in_kmh})


def store_cells(connection: duckdb.DuckDBPyConnection) -> None:
    """Store the readings of single cells; after the frames were checked."""
    connection.execute(queries.sql("load/store_cells"))


def shot_readings(connection: duckdb.DuckDBPyConnection, files: Sequence[StagedFile]) -> Iterator[Reading]:
    """Readings of leaves, dates and whole columns of speeds; after the kept rows were stored."""
    yield from _leaves(connection)
    yield from _dates(connection)
    yield from _speeds(connection, files)


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


def _dates(connection: duckdb.DuckDBPyConnection) -> Iterator[Reading]:
    odd = connection.table("read_dates").filter("date::VARCHAR <> date_text").limit(1).fetchall()
    if odd:
        yield from (Reading(*row) for row in connection.execute(queries.sql("load/written_dates")).fetchall())


def _speeds(connection: duckdb.DuckDBPyConnection, files: Sequence[StagedFile]) -> Iterator[Reading]:
    why = {f.file.name: "speeds in km/h, by the column's name" for f in files if f.file.in_kmh}
    why |= {f.file.name: f"speeds nine in ten above {_TOO_FAST_MPH:g}, so in km/h" for f in files if f.kmh}
    if why:
        for file, rows in connection.execute(queries.sql("load/speeds_kept"), [list(why)]).fetchall():
            yield Reading(file, "speed_mph", why[file], "mph", rows)
