"""Files that a load writes beside the database while it works, and the removal of those that killed loads left.

A process with the database open for writing is alone with it, so any such file found then belongs to nobody.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_SPILLED = re.compile(r"duckdb_temp_\w+(-\d+)?(\.tmp|\.block)?")


def scratch_folder(database: Path) -> Path:
    """The hidden folder beside ``database`` for files that only the load itself reads."""
    return database.absolute().with_name(f".{database.name}-scratch")


@contextmanager
def scratch(database: Path) -> Iterator[Path]:
    """Make the scratch folder, and remove it afterwards; only while ``database`` is open for writing."""
    folder = scratch_folder(database)
    folder.mkdir(mode=0o700, exist_ok=True)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def sweep(database: Path) -> None:
    """Remove what a killed load left: rewritten logs, and memory the database had moved to the disk.

    Only files of those names go; a folder that holds anything else stays. Call while ``database`` is open for writing
    and before its first query.
    """
    _sweep(scratch_folder(database), re.compile(r"\d+\.csv"))
    _sweep(database.absolute().with_name(database.name + ".tmp"), _SPILLED)


def _sweep(folder: Path, name: re.Pattern[str]) -> None:
    if folder.is_symlink() or not folder.is_dir():
        return
    with suppress(OSError):  # a file that cannot be removed only takes room
        for path in list(folder.iterdir()):
            if name.fullmatch(path.name):
                path.unlink()
        folder.rmdir()
