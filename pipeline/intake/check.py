"""Check a folder of logs without storing anything: what a load would keep, what not, and why."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import queries
from pipeline.intake.load import load_folder
from pipeline.intake.report import LoadReport, cause_line
from pipeline.store.database import open_for_reading

_SHOWN = 40


@dataclass(frozen=True)
class Cause:
    """A reason for rows set aside: the value written, what was expected, the first place, and how many rows."""

    rows: int
    column: str
    value: str | None
    reason: str
    mend: str
    file: str
    line: int

    def text(self) -> str:
        """The cause as one sentence."""
        line = cause_line(self.rows, self.column, self.value, self.reason, self.mend)
        return f"{line} ({self.file} line {self.line})"


@dataclass(frozen=True)
class Checked:
    """The report of a load of the folder, and the causes of rows set aside."""

    report: LoadReport
    causes: tuple[Cause, ...]

    def lines(self) -> list[str]:
        """The answer as plain sentences: refused files, then what would be kept, then causes by number of rows."""
        refused = [f"{file.name}: would be refused, it {file.refused}." for file in self.report.refused]
        read_files = [file.text() for file in self.report.files if file.status != "refused"]
        report = self.report
        counts = (
            f"{report.rows_kept:,} of {report.rows_read:,} rows would be kept, {report.rows_quarantined:,} set aside."
        )
        lines = [*refused, *read_files, counts, *report.reading_lines(), *report.notes]
        if self.causes:
            lines += ["What would be set aside, by cause:", *(cause.text() for cause in self.causes[:_SHOWN])]
        if len(self.causes) > _SHOWN:
            rows = sum(cause.rows for cause in self.causes[_SHOWN:])
            lines.append(f"  {len(self.causes) - _SHOWN:,} more causes, in {rows:,} rows; mend these first")
        return [*lines, "Nothing was stored."]


def check_folder(folder: Path, column_map: Path | None = None) -> Checked:
    """Check ``folder`` as a first load would, in a database that is thrown away.

    Raises:
        IntakeError: nothing in the folder could be loaded.
    """
    with tempfile.TemporaryDirectory(prefix="rackledger-check-") as place:
        database = Path(place) / "check.duckdb"
        report = load_folder(folder, database, column_map=column_map)
        with open_for_reading(database) as connection:
            causes = tuple(Cause(*row) for row in connection.execute(queries.sql("load/causes")).fetchall())
    return Checked(report, causes)
