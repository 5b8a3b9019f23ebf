"""Oddities of a loaded season, each of whose rows may be right."""

from __future__ import annotations

import duckdb

import queries
from pipeline.intake.checks.other_spellings import nearest

_MOST_SINGLE = 0.95  # of leaves: a season in which more were single pins has hardly been seen (common practice)
_ENOUGH_LEAVES = 40
_SHOWN = 5


def oddities(connection: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """Plain sentences about the stored season; empty if nothing is odd."""
    return tuple(sentence for sentence in (_patterns(connection), *_pin_counts(connection)) if sentence)


def _patterns(connection: duckdb.DuckDBPyConnection) -> str:
    rows = connection.execute(queries.sql("load/undefined_patterns")).fetchall()
    if not rows:
        return ""
    blocks = sum(number for _, number in rows)
    lengths = connection.table("patterns").filter("length_ft IS NOT NULL").project("pattern").fetchall()
    posted = [str(name) for (name,) in lengths]
    names = ", ".join(_with_nearest(str(name), posted) for name, _ in rows[:_SHOWN])
    names += " and others" if len(rows) > _SHOWN else ""
    return (
        f"{blocks:,} {'block names' if blocks == 1 else 'blocks name'} a pattern without a length ({names}): taken as "
        "unposted. Give its length in patterns.csv."
    )


def _with_nearest(name: str, posted: list[str]) -> str:
    near = nearest(name, posted)
    return f"{name}: did you mean {near}?" if near else name


def _pin_counts(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Bowlers, or single files of theirs, whose leaves are hardly pins."""
    rows = connection.execute(queries.sql("load/single_pins")).fetchall()
    odd = [row for row in rows if row[2] >= _ENOUGH_LEAVES and row[3] > _MOST_SINGLE * row[2]]
    throughout = {bowler for bowler, file, *_ in odd if file is None}
    return [
        f"{f'{bowler} in {file}' if file else bowler}: {single:,} of {leaves:,} leaves are a single pin, which is "
        "hardly possible: were numbers of pins typed instead of the pins still standing? The column leave takes the "
        "pins, such as 3-10."
        for bowler, file, leaves, single in odd
        if file is None or bowler not in throughout
    ]
