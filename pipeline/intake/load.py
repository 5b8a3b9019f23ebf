"""The load: look at a folder, check what changed, store it in one transaction."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain
from pathlib import Path

import duckdb

import queries
from pipeline.intake import quarantine, readings
from pipeline.intake.checks.oddities import oddities
from pipeline.intake.checks.reference import CheckedFile, check_references
from pipeline.intake.checks.shots import ShotCheck
from pipeline.intake.checks.staged import StagedFile
from pipeline.intake.dangling import set_aside_dangling
from pipeline.intake.errors import IntakeError
from pipeline.intake.file_reports import FileReports
from pipeline.intake.files.column_map import ColumnMap, read_column_map
from pipeline.intake.files.find import find_logs
from pipeline.intake.files.sniff import CsvFile
from pipeline.intake.report import FileReport, LoadReport
from pipeline.intake.sources import moved_notice, stored_names
from pipeline.intake.stored_files import (
    Stored,
    create_known_ids,
    current_keys,
    files_to_read_again,
    read_stored,
    store_references,
)
from pipeline.output_files import refuse_undecodable
from pipeline.progress import Progress
from pipeline.store.database import ensure_schema, explained, open_for_writing, transaction
from pipeline.store.interrupts import stoppable
from pipeline.store.scratch import scratch, scratch_folder


def load_folder(
    folder: Path,
    database: Path,
    column_map: Path | None = None,
    progress: Progress = lambda text, fraction: None,
) -> LoadReport:
    """Load the logs of ``folder`` into ``database``: good rows into their tables, the others into quarantine.

    A file loaded before with the same content is left alone; a changed file replaces its own rows; a file that
    cannot be used is refused, and what an earlier version of it gave stays. Several folders may be loaded into one
    database. All of it is one transaction. A list beside the database, named after it, holds every row now set aside.

    Args:
        folder: holds ``shots*.csv`` and one file each of bowlers, balls, patterns, blocks and maintenance.
        database: the DuckDB file; made if it is missing.
        column_map: TOML file that maps column names to ours.
        progress: called with the stage and the share done (0 to 1).

    Raises:
        IntakeError: nothing could be loaded; the database is as before.
    """
    columns = read_column_map(column_map)
    refuse_undecodable(database)
    quarantine.refuse_foreign(database)
    progress("looking at the logs", 0.0)
    files, refused = find_logs(folder, columns)
    with (
        explained(database),
        open_for_writing(database, (folder, scratch_folder(database))) as connection,
        scratch(database) as place,
        stoppable(connection),
    ):
        load = _Load(connection, database, folder, files, refused, columns, place, progress)
        reports = load.run()
        target = quarantine.write_csv(connection, database)
        reasons, faults = quarantine.commonest(connection), quarantine.reference_faults(connection)
        notes = (*load.moves, *oddities(connection))
    progress("loaded", 1.0)
    in_order = sorted(reports, key=lambda report: (report.kind == "shots", report.name))
    return LoadReport(tuple(in_order), reasons, faults, target, tuple(load.file_reports.left_behind()), notes)


class _Load:
    """One load, with what its steps share."""

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        database: Path,
        folder: Path,
        files: Sequence[CsvFile],
        refused: Sequence[FileReport],
        columns: ColumnMap,
        scratch: Path,
        progress: Progress,
    ) -> None:
        self._connection = connection
        home = database.absolute().parent
        self._columns = columns
        self._scratch = scratch
        self._progress = progress
        self._stored: Stored = read_stored(connection, home)
        looked_at = [(file.path, file.kind, file.sha256) for file in files]
        looked_at += [(folder / report.name, report.kind, "") for report in refused]
        names, taken_for = stored_names(looked_at, self._stored.sources)
        paths = {name: path.absolute() for path, name in names.items()}
        unread = [replace(report, name=names[folder / report.name]) for report in refused]
        self.file_reports = FileReports(connection, home, self._stored, paths, unread)
        self._files = [replace(file, name=names[file.path]) for file in files]
        self._affected: set[str] = set()
        self.moves = [moved_notice(name, self._stored.sources[name].path, paths[name]) for name in taken_for]

    def run(self) -> list[FileReport]:
        """Check and store; returns a report on every file of the folder."""
        references = [file for file in self._files if file.kind != "shots"]
        read = {file.name for file in references}
        elsewhere = {kind: self._stored.elsewhere(kind, read) for kind in self._stored.rows}
        checked = check_references(references, self._columns, elsewhere, self._stored.rows)
        changed = [file for file in checked.values() if file.refused is None and self._references_changed(references)]
        now = current_keys(self._stored, {file.kind: file for file in changed})
        create_known_ids(self._connection, now)
        check = ShotCheck(self._connection, self._columns, self._scratch)
        staged = self._stage(check, now)
        self._refuse(checked.values(), staged)
        usable = [file for file in staged if file.refused is None]
        if changed or staged or self.file_reports.so_far:
            with transaction(self._connection):
                self._store(check, changed, usable)
        self.file_reports.report_unchanged(self._files)
        self.file_reports.follow_moves()
        return self.file_reports.with_readings(self._files)

    def _references_changed(self, references: Sequence[CsvFile]) -> bool:
        """Whether a reference file changed; they are checked against each other, so then all are stored anew."""
        return any(self._is_new(file) for file in references)

    def _is_new(self, file: CsvFile) -> bool:
        known = self._stored.sources.get(file.name)
        return known is None or known.again or self._differs(file)

    def _differs(self, file: CsvFile) -> bool:
        known = self._stored.sources.get(file.name)
        return known is None or known.sha256 != file.sha256 or known.report.status == "refused"

    def _stage(self, check: ShotCheck, now: dict[str, dict[str, object]]) -> list[StagedFile]:
        shots = [file for file in self._files if file.kind == "shots"]
        new = {file.name for file in shots if self._is_new(file)}
        self._affected = files_to_read_again(self._connection, self._stored, now, shots_changed=bool(new))
        wanted = [file for file in shots if file.name in new | self._affected]
        staged = []
        for number, file in enumerate(wanted):
            self._progress(f"reading {file.name}", 0.05 + 0.5 * number / len(wanted))
            staged.append(check.stage(file, number))
        return staged

    def _refuse(self, checked: Iterable[CheckedFile], staged: Sequence[StagedFile]) -> None:
        read = [(file.name, file.kind, file.refused) for file in checked]
        read += [(file.file.name, "shots", file.refused) for file in staged]
        self.file_reports.refuse(read)
        usable = [file for file in self._files if file.kind == "shots"]
        reasons = [f"{file.file.name} {file.refused}" for file in staged if file.refused]
        if len(reasons) == len(usable):
            raise IntakeError(f"no shots file can be used: {'; '.join(reasons)}.")

    def _store(self, check: ShotCheck, changed: Sequence[CheckedFile], staged: Sequence[StagedFile]) -> None:
        ensure_schema(self._connection)
        self.file_reports.write_refused()
        self._progress("storing what the logs refer to", 0.56)
        self._remove([file.name for file in changed], "quarantine")
        self._remove([file.name for file in changed], "readings")
        store_references(self._connection, changed)
        quarantine.store(self._connection, chain.from_iterable(file.set_aside for file in changed))
        readings.store(self._connection, chain.from_iterable(file.readings for file in changed))
        for file in changed:
            kept = len(file.kept) + file.shared
            self.file_reports.note(
                FileReport(file.name, file.kind, "loaded", file.read, kept, file.read - kept), file.sha256
            )
        if staged:
            self._store_shots(check, staged)
        if changed:
            self._set_aside_dangling()
        if any(map(self._differs, self._files)):
            self._have_others_read_again(changed)

    def _have_others_read_again(self, changed: Sequence[CheckedFile]) -> None:
        lost = any(self._stored.loses(file) for file in changed if file.kind in self._stored.rows)
        parameters = {"files": list(self.file_reports.paths), "affected": sorted(self._affected), "lost": lost}
        self._connection.execute(queries.sql("load/read_others_again"), parameters)

    def _set_aside_dangling(self) -> None:
        """Set aside stored rows of other files that name what is no longer defined, and have them read again."""
        self._progress("checking that all references are there", 0.95)
        for name, number in set_aside_dangling(self._connection).items():
            self.file_reports.set_more_aside(name, number)

    def _store_shots(self, check: ShotCheck, staged: Sequence[StagedFile]) -> None:
        names = [file.file.name for file in staged]
        self._remove(names, "quarantine")
        self._remove(names, "deliveries")
        self._remove(names, "readings")
        self._progress("checking frames", 0.6)
        check.check(staged)
        self._progress("storing deliveries", 0.75)
        kept = check.keep()
        counts, rows = check.set_aside(staged)
        read = sum(file.read for file in staged)
        if kept + sum(counts.values()) != read:
            raise IntakeError(
                f"{read} rows were read, but {kept} kept and {sum(counts.values())} set aside; please report it."
            )
        self._progress("writing down what was set aside", 0.9)
        quarantine.store(self._connection, rows)
        check.store_readings(staged)
        repaired = dict(self._connection.execute(queries.sql("load/repaired"), [names]).fetchall())
        for file in staged:
            aside = counts[file.number]
            report = FileReport(
                file.file.name, "shots", "loaded", file.read, file.read - aside, aside, repaired.get(file.file.name, 0)
            )
            self.file_reports.note(report, file.file.sha256)

    def _remove(self, names: Sequence[str], table: str) -> None:
        known = [name for name in names if name in self._stored.sources]
        if known:
            self._connection.execute(f"DELETE FROM {table} WHERE source_file IN (SELECT unnest(?::VARCHAR[]))", [known])
