"""Check that decisions can be written to the places asked for, before the work of making them."""

from __future__ import annotations

import os
import re
from pathlib import Path

from pipeline.decisions.export.writers import headers
from pipeline.errors import RackledgerError
from pipeline.output_files import same_place, why_not_writable

_JSON_STARTS = ('{ "title"', '{"title"')
_LEDGER_STARTS = ("against,bowler,", '[{"against"', "[]")
_KEY_STARTS = "kind,real,alias"
_LOGS = re.compile(r"(shots.*|bowlers|balls|patterns|blocks|maintenance)\.(csv|tsv|txt)")


class ExportError(RackledgerError):
    """Decisions that cannot be written where they were asked for; the message names the place and the mend."""


def check_json(path: Path) -> None:
    """Refuse a place where the JSON file cannot be written, or that holds a file of another kind.

    Raises:
        ExportError: as said.
    """
    _check_file(path, _JSON_STARTS, "a file of decisions")


def check_key(path: Path) -> None:
    """The same for the key to aliases."""
    _check_file(path, (_KEY_STARTS,), "a key to aliases")


def check_ledger(path: Path, csv_folder: Path | None = None) -> None:
    """The same for the ledger file, which may not stand among the CSVs of the same run: one of those is ledger.csv."""
    if csv_folder is not None and same_place(path.parent, csv_folder):
        raise ExportError(f"{path}: is in the folder given with --csv; choose another place for --ledger.")
    _check_file(path, _LEDGER_STARTS, "a ledger")


def check_csv(folder: Path) -> None:
    """Refuse a folder that cannot be written, that holds logs, or files of other content under our names.

    Raises:
        ExportError: as said.
    """
    _refuse_hindered(folder, folder if folder.is_dir() else folder.parent)
    if not folder.is_dir():
        return
    logs = sorted(path.name for path in folder.iterdir() if _LOGS.fullmatch(path.name.lower()))
    if logs:
        raise ExportError(f"{folder}: holds logs ({logs[0]}); give a folder of its own for the decisions.")
    for name, header in headers().items():
        path = folder / f"{name}.csv"
        if path.exists() and _first_cell(path) not in {header[0], ""}:
            raise ExportError(
                f"{path}: is there already and was not written by this program; give a new folder for the decisions."
            )
        if path.exists():
            _refuse_locked(path)


def _check_file(path: Path, starts: tuple[str, ...], what: str) -> None:
    if path.is_dir():
        raise ExportError(f"{path}: is a folder; name a file.")
    real = path.resolve()
    _refuse_hindered(path, real.parent)
    if not real.is_file():
        return  # new, a pipe or a device
    _refuse_locked(path)
    start = _start(real)
    if start and not start.startswith(starts):
        raise ExportError(f"{path}: is there already and is not {what}; choose another place.")


def _start(path: Path) -> str:
    """The first characters of a file, line ends left out."""
    with path.open("rb") as file:
        return file.read(200).decode("utf-8", errors="replace").replace("\r", "").replace("\n", "")


def _first_cell(path: Path) -> str:
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        return file.readline(200).strip().partition(",")[0]


def _refuse_hindered(path: Path, folder: Path) -> None:
    hindered = why_not_writable(folder)
    if hindered:
        raise ExportError(f"{path}: cannot be {hindered}; choose another place.")


def _refuse_locked(path: Path) -> None:
    if not os.access(path, os.W_OK):
        raise ExportError(f"{path}: may not be written; choose another place.")
