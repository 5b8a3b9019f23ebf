"""Which files of a folder are logs, and of which kind."""

from __future__ import annotations

from pathlib import Path

from pipeline.errors import printable
from pipeline.intake.errors import FileRefused, IntakeError
from pipeline.intake.files.column_map import ColumnMap
from pipeline.intake.files.columns import REFERENCES
from pipeline.intake.files.sniff import CsvFile, sniff
from pipeline.intake.report import FileReport
from pipeline.output_files import refuse_undecodable

_ENDINGS = {".csv", ".tsv", ".txt"}
_SPREADSHEETS = {".xlsx", ".xls", ".xlsm", ".ods"}


def find_logs(folder: Path, columns: ColumnMap) -> tuple[list[CsvFile], list[FileReport]]:
    """Look at every log of ``folder``: ``shots*.csv`` and one file per kind of reference, by name.

    Returns:
        The files that can be read, by name, and reports on those that cannot.

    Raises:
        IntakeError: no such folder, or no shots file in it that can be read.
    """
    refuse_undecodable(folder)
    if folder.is_file():
        raise IntakeError(f"{folder}: is a file; give the folder that holds it and the other logs.")
    if not folder.is_dir():
        raise IntakeError(f"{folder}: there is no such folder; give the folder that holds shots.csv.")
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in _ENDINGS)
    except OSError as error:
        raise IntakeError(f"{folder}: cannot be read ({error.strerror}); check its permissions.") from error
    files: list[CsvFile] = []
    refused: list[FileReport] = []
    for path in paths:
        kind, name = _kind(path), printable(path.name)
        if kind is None:
            continue
        try:
            if name != path.name:
                raise FileRefused("has signs in its name that cannot be shown; rename it")
            if not path.is_file():
                raise FileRefused("is not a file; put the CSV in its place")
            if kind != "shots" and (other := next((f for f in files if f.kind == kind), None)):
                raise FileRefused(f"is a second file of {kind} beside {other.name}; keep one")
            files.append(sniff(path, kind, columns.of(kind), columns.digest))
        except FileRefused as error:
            refused.append(FileReport(name, kind, "refused", refused=str(error)))
    _need_shots(folder, files, refused)
    return files, refused


def _kind(path: Path) -> str | None:
    stem = path.stem.lower()
    if stem.startswith("shots"):
        return "shots"
    return stem if stem in REFERENCES else None


def _need_shots(folder: Path, files: list[CsvFile], refused: list[FileReport]) -> None:
    if any(file.kind == "shots" for file in files):
        return
    reasons = [f"{file.name} {file.refused}" for file in refused if file.kind == "shots"]
    if reasons:
        raise IntakeError(f"{folder}: no shots file can be used: {'; '.join(reasons)}.")
    sheets = sorted(printable(path.name) for path in folder.iterdir() if path.suffix.lower() in _SPREADSHEETS)
    if sheets:
        raise IntakeError(f"{folder}: holds no shots*.csv, but {sheets[0]}; save each sheet of it as CSV.")
    raise IntakeError(f"{folder}: holds no shots*.csv; give the folder that holds your logs.")
