"""The result of each file of a folder: reported to the user and stored in the table ``sources``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import duckdb

import queries
from pipeline.intake import readings
from pipeline.intake.checks.other_spellings import unused
from pipeline.intake.files.columns import columns_of
from pipeline.intake.files.sniff import CsvFile
from pipeline.intake.report import FileReport, LeftBehind
from pipeline.intake.sources import new_name, written_path
from pipeline.intake.stored_files import FROM_FILES, Stored
from pipeline.store.database import transaction


class FileReports:
    """The reports of one load.

    Attributes:
        so_far: the reports made; those on unreadable files come first.
        paths: name -> path of every file of the folder.
    """

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        home: Path,
        stored: Stored,
        paths: dict[str, Path],
        unread: Sequence[FileReport],
    ) -> None:
        self._connection = connection
        self._home = home
        self._stored = stored
        self.paths = paths
        self.so_far = list(unread)

    def note(self, report: FileReport, sha256: str) -> None:
        """Report on a file, and store the report in the database."""
        self.so_far.append(report)
        self._write_source(report, sha256)

    def _write_refused(self, report: FileReport) -> None:
        known = self._stored.sources.get(report.name)
        sha256, before = (
            ("", FileReport(report.name, report.kind, "loaded")) if known is None else (known.sha256, known.report)
        )
        kept = FileReport(
            report.name,
            report.kind,
            "refused",
            before.read,
            before.kept,
            before.quarantined,
            before.repaired,
            report.refused,
        )
        self._write_source(kept, sha256)

    def _write_source(self, report: FileReport, sha256: str) -> None:
        parameters = {
            "name": report.name,
            "path": written_path(self.paths[report.name], self._home),
            "kind": report.kind,
            "sha256": sha256,
            "read": report.read,
            "kept": report.kept,
            "quarantined": report.quarantined,
            "repaired": report.repaired,
            "refused": report.refused,
        }
        self._connection.execute(queries.sql("load/store_source"), parameters)

    def refuse(self, files: Iterable[tuple[str, str, str | None]]) -> None:
        """Report on the files (name, kind, why) that cannot be used; ``why`` is None for the others."""
        self.so_far += [FileReport(name, kind, "refused", refused=why) for name, kind, why in files if why]

    def write_refused(self) -> None:
        """Store every refused file; rows of its earlier version stay."""
        for report in self.so_far:
            self._write_refused(report)

    def set_more_aside(self, name: str, number: int) -> None:
        """Count ``number`` kept rows of a file as set aside after all."""
        self.so_far = [
            replace(r, kept=r.kept - number, quarantined=r.quarantined + number) if r.name == name else r
            for r in self.so_far
        ]

    def report_unchanged(self, files: Iterable[CsvFile]) -> None:
        """Report the last load's result of files that were not read again."""
        reported = {report.name for report in self.so_far}
        for file in files:
            if file.name not in reported:
                self.so_far.append(self._stored.sources[file.name].report)

    def follow_moves(self) -> None:
        """Store the new place and name of files that were moved or renamed since they were loaded."""
        for old, path in list(self.paths.items()):
            known = self._stored.sources.get(old)
            if known is None or known.path == str(path):
                continue
            same = Path(known.path).name == path.name
            new = old if same else new_name(path, {*self._stored.sources, *self.paths})
            with transaction(self._connection):
                for table in FROM_FILES if new != old else ():
                    self._connection.execute(f"UPDATE {table} SET source_file = ? WHERE source_file = ?", [new, old])
                self._connection.execute(
                    queries.sql("load/move_source"), {"old": old, "new": new, "path": written_path(path, self._home)}
                )
            self.paths[new] = self.paths.pop(old)
            self.so_far = [replace(r, name=new) if r.name == old else r for r in self.so_far]
            self._stored.sources.pop(old)

    def with_readings(self, files: Iterable[CsvFile]) -> list[FileReport]:
        """The reports with the columns not read, and the values read otherwise than written."""
        nobody_reads = {file.name: _nobody_reads(file) for file in files}
        by_file = readings.by_file(self._connection)
        return [
            replace(r, unused=nobody_reads.get(r.name, ""), readings=by_file.get(r.name, ()))
            if r.status != "refused"
            else r
            for r in self.so_far
        ]

    def left_behind(self) -> list[LeftBehind]:
        """Stored files with rows that are no longer at their place."""
        others = [(name, source) for name, source in self._stored.sources.items() if name not in self.paths]
        return [
            LeftBehind(name, source.path, source.report.kept)
            for name, source in others
            if source.gone and source.report.kept + source.report.quarantined
        ]


def _nobody_reads(file: CsvFile) -> str:
    ours = [column.name for column in columns_of(file.kind)]
    return unused(file.unused, ours, [name for name in ours if name not in file.places])
