"""What a load did, file by file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

Status = Literal["loaded", "unchanged", "refused"]


SKIPPED_ROW = "row"
"""The column of a reading that counts rows which are no records."""

_SHOWN = 6
_LONGEST = 80


@dataclass(frozen=True)
class Reading:
    """A value that was read otherwise than written, with the rows that hold it."""

    file: str
    column: str
    value: str
    read_as: str
    rows: int


@dataclass(frozen=True)
class FileReport:
    """One file: rows read, kept, set aside and repaired (counts), and why it was refused, where it was."""

    name: str
    kind: str
    status: Status
    read: int = 0
    kept: int = 0
    quarantined: int = 0
    repaired: int = 0
    refused: str | None = None
    readings: tuple[Reading, ...] = ()
    unused: str = ""
    """Columns nobody reads, each with the nearest of ours."""

    @property
    def skipped(self) -> int:
        """Rows that are no records: blanks, and totals under a table."""
        return sum(reading.rows for reading in self.readings if reading.column == SKIPPED_ROW)

    def text(self) -> str:
        """The report as one sentence."""
        if self.status == "refused":
            return f"{self.name}: refused, it {self.refused}."
        text = f"{self.name}: {self.kept:,} of {self.read:,} rows kept"
        if not self.read + self.skipped:
            text = f"{self.name}: no rows below its column names"
        if self.repaired:
            leaves = "1 leave" if self.repaired == 1 else f"{self.repaired:,} leaves"
            text += f", {leaves} read back from dates or slashes"
        if self.skipped:
            text += f", {self.skipped:,} blank or total {'row' if self.skipped == 1 else 'rows'} skipped"
        if self.unused:
            text += f"; columns not used: {self.unused}"
        return text + (" (unchanged since it was loaded)." if self.status == "unchanged" else ".")


@dataclass(frozen=True)
class Reason:
    """Why so many rows were set aside, and how to mend it."""

    rows: int
    column: str
    reason: str
    mend: str


@dataclass(frozen=True)
class Fault:
    """What is wrong with one row of a reference file, and how to mend it."""

    file: str
    line: int
    column: str
    value: str | None
    reason: str
    mend: str


@dataclass(frozen=True)
class LeftBehind:
    """A stored file that is at its ``path`` no more, with the rows still stored from it."""

    name: str
    path: str
    rows: int


@dataclass(frozen=True)
class LoadReport:
    """All files of one load. ``read`` always equals ``kept`` plus ``quarantined``, in every file.

    ``reasons``: the commonest of all those for which rows were set aside. ``faults``: of rows in reference files, which
    may set aside every row that names them.
    """

    files: tuple[FileReport, ...]
    reasons: tuple[Reason, ...]
    faults: tuple[Fault, ...]
    quarantine_csv: Path
    left_behind: tuple[LeftBehind, ...] = ()
    notes: tuple[str, ...] = ()
    """What looks odd but was kept, as plain sentences."""

    @property
    def rows_read(self) -> int:
        """Data rows of all files that were not refused."""
        return sum(file.read for file in self.files)

    @property
    def rows_kept(self) -> int:
        """Rows that passed every check."""
        return sum(file.kept for file in self.files)

    @property
    def rows_quarantined(self) -> int:
        """Rows set aside."""
        return sum(file.quarantined for file in self.files)

    @property
    def refused(self) -> tuple[FileReport, ...]:
        """Files that could not be used at all."""
        return tuple(file for file in self.files if file.status == "refused")

    @property
    def incomplete(self) -> bool:
        """Whether anything in the folder was not kept: rows set aside, or a whole file refused."""
        return bool(self.rows_quarantined or self.refused)

    def reading_lines(self) -> list[str]:
        """What was read otherwise than written, one line per column of a file."""
        by_column: dict[tuple[str, str], list[Reading]] = {}
        for reading in (one for file in self.files for one in file.readings if one.column != SKIPPED_ROW):
            by_column.setdefault((reading.file, reading.column), []).append(reading)
        if not by_column:
            return []
        number = sum(reading.rows for readings in by_column.values() for reading in readings)
        head = "1 value was" if number == 1 else f"{number:,} values were"
        return [f"{head} read otherwise than written:", *(_read_as(*key, by_column[key]) for key in by_column)]

    def lines(self) -> list[str]:
        """The report as plain sentences."""
        lines = [file.text() for file in self.files]
        lines.append(f"{self.rows_read:,} rows read, {self.rows_kept:,} kept, {self.rows_quarantined:,} set aside.")
        lines += [*self.reading_lines(), *self.notes]
        if self.refused:
            files, them = ("1 file", "it") if len(self.refused) == 1 else (f"{len(self.refused):,} files", "them")
            lines.append(f"{files} refused: none of what is in {them} now is in the season.")
        if self.left_behind:
            lines.append("Still stored from files that are no longer there (`rackledger forget --missing` drops them):")
            lines += [f"  {file.name}, {_rows(file.rows)} ({file.path})" for file in self.left_behind]
        if self.rows_quarantined:
            if self.faults:
                lines += ["Mend these first, since other rows name them:", *(_fault(fault) for fault in self.faults)]
            lines += [
                "Set aside most often:",
                *(cause_line(r.rows, r.column, None, r.reason, r.mend) for r in self.reasons),
            ]
            lines.append(f"Why each row was set aside, and how to mend it: {self.quarantine_csv}")
        return lines


def _rows(number: int) -> str:
    return "1 row" if number == 1 else f"{number:,} rows"


def _shown(value: str) -> str:
    """A value in quotes, a very long one cut; the list of rows set aside has it whole."""
    return repr(value) if len(value) <= _LONGEST else f"{value[:_LONGEST]!r}... ({len(value):,} characters)"


def cause_line(rows: int, column: str, value: str | None, reason: str, mend: str) -> str:
    """One line on why so many rows were set aside, and how to mend it."""
    return f"  {_rows(rows)}, {column}{f' {_shown(value)}' if value else ''}: {reason}. {mend}"


def _read_as(file: str, column: str, readings: list[Reading]) -> str:
    shown = ", ".join(f"{_shown(r.value)} as {r.read_as} ({r.rows:,})" for r in readings[:_SHOWN])
    more = f", and {len(readings) - _SHOWN:,} more" if len(readings) > _SHOWN else ""
    return f"  {file}, {column}: {shown}{more}"


def _fault(fault: Fault) -> str:
    value = f" {_shown(fault.value)}" if fault.value else ""
    return f"  {fault.file} line {fault.line}, {fault.column}{value}: {fault.reason}. {fault.mend}"
