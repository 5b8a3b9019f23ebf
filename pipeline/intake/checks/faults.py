"""The bits of ``staged_shots.faults``, and the sentence behind each."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from pipeline.intake.checks.frames import RowFault
from pipeline.intake.checks.other_spellings import offer
from pipeline.intake.files.columns import SHOTS

MISFIT = 1 << 0
DATE = 1 << 1
OWNER = 1 << 20
BLOCK_DATE = 1 << 21
NEEDLESS_COPY = 1 << 22
DIFFERING_COPY = 1 << 23
OTHER_FILE = 1 << 24
NO_RECORD = 1 << 25
"""A row of blanks, or of totals under a table: no delivery, so it is dropped and counted, not set aside."""

MEND_MISFIT = (
    "Give the row one field per column; put a text or number that holds the delimiter in quotes, and close them."
)
CLASH = "this frame was already read from "

_COLUMN_BITS = {
    1 << bit: column
    for bit, column in enumerate((None, *SHOTS))
    if column is not None and column.name not in {"leave", "note"}
}
WRONG_SPEED = next(bit for bit, column in _COLUMN_BITS.items() if column.name == "speed_mph")
_LINKED = {"block": "blocks.csv", "bowler": "bowlers.csv", "ball": "balls.csv"}
_UNNUMBERED = (
    "Fill it in; number practice as games of ten frames, each delivery at a full rack as the first of its frame."
)
_SPECIAL = {
    OWNER: RowFault(
        "ball",
        "this ball belongs to another bowler",
        "Correct the ball or the bowler; list a shared ball once for each bowler, under ids of their own.",
    ),
    BLOCK_DATE: RowFault("date", "the block took place on another day", "Correct the date here or in blocks.csv."),
    NEEDLESS_COPY: RowFault("delivery", "duplicate of an earlier row; the first is kept", "Remove this row."),
    DIFFERING_COPY: RowFault(
        "delivery",
        "this delivery is logged twice and the rows differ, so neither is kept",
        "Keep the one that is right.",
    ),
}


def limits() -> dict[str, float]:
    """Bounds of every number in a shots file, as parameters of ``queries/load/stage_shots``."""
    bounds: dict[str, float] = {}
    for column in SHOTS:
        if column.type in {"whole", "number"}:
            bounds |= {f"{column.name}_low": column.low, f"{column.name}_high": column.high}
    return bounds


def fault_bits() -> dict[str, int]:
    """The bit of every fault that ``queries/load/stage_shots`` finds, as its parameters; dates are read elsewhere."""
    of_column = {f"{column.name}_fault": bit for bit, column in _COLUMN_BITS.items() if bit != DATE}
    return {**of_column, "owner_fault": OWNER}


def explain(
    faults: int, values: dict[str, str], fields: str, other: str | None, known: Mapping[str, Collection[str]]
) -> list[RowFault]:
    """Every reason in ``faults``.

    Args:
        faults: the bits.
        values: the row by our columns.
        fields: what is wrong with the number of its fields, if bit 0 is set.
        other: the file that holds the same frame, if bit 24 is set.
        known: ids of blocks, bowlers and balls, by column.
    """
    if faults & MISFIT:
        return [RowFault("row", f"the row has {fields}", MEND_MISFIT)]
    problems = [_of_column(column.name, values, known) for bit, column in _COLUMN_BITS.items() if faults & bit]
    problems += [problem for bit, problem in _SPECIAL.items() if faults & bit]
    if faults & OTHER_FILE:
        problems.append(RowFault("frame", f"{CLASH}{other}", "Keep the frame in one of the two files."))
    return problems


def _of_column(name: str, values: dict[str, str], known: Mapping[str, Collection[str]]) -> RowFault:
    column = next(column for column in SHOTS if column.name == name)
    if column.required and not values.get(name):
        return RowFault(
            name, f"{name} is empty", _UNNUMBERED if name in {"game", "frame", "delivery"} else "Fill it in."
        )
    if name in _LINKED:
        return RowFault(
            name,
            f"unknown {name}",
            f"{offer(values.get(name, ''), known.get(name, ()))}Add it to {_LINKED[name]}, mend its row there, or "
            "correct the id here.",
        )
    mend = column.mend()
    if name == "speed_mph":
        mend = f"{mend} Speeds in km/h are read from a column named speed_kmh."
    if name == "date":
        mend = "Write year, month and day, such as 2026-10-07."
    return RowFault(name, f"expected {column.expected()}", mend)
