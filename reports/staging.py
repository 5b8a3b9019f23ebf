"""The working folders of a run beside the reports, and the removal of those that killed runs left.

A run holds a lock on its folder for as long as it lives, and the kernel takes the lock away from a run that is
killed. So a folder of ours that can be locked belongs to no living run. If the system has no such locks, nothing is
removed.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # not a POSIX system
    fcntl = None  # type: ignore[assignment]

from reports import files

_UNFINISHED, _REPLACED = "unfinished", "replaced"


@contextmanager
def unfinished(out: Path) -> Iterator[Path]:
    """A new folder beside ``out`` for reports in the making; whatever is at its place afterwards is removed."""
    with _held(out, _UNFINISHED) as folder:
        yield folder


@contextmanager
def replaced(out: Path) -> Iterator[Path]:
    """A new folder beside ``out`` to keep the earlier reports in while the new ones take their place."""
    with _held(out, _REPLACED) as folder:
        yield folder


def sweep(out: Path) -> None:
    """Remove what runs for ``out`` left when they were killed; never a living run's folder, nor one with other files.

    Earlier reports that a killed run had moved aside are kept as long as nothing is in their place.
    """
    kinds = (_UNFINISHED, _REPLACED) if out.exists() else (_UNFINISHED,)
    starts = tuple(_start(out, kind) for kind in kinds)
    with suppress(OSError):
        for folder in [path for path in out.parent.iterdir() if path.name.startswith(starts)]:
            with suppress(OSError):
                _sweep_one(folder)


def _start(out: Path, kind: str) -> str:
    return f".{out.name}-{kind}-"


@contextmanager
def _held(out: Path, kind: str) -> Iterator[Path]:
    while True:
        folder = Path(tempfile.mkdtemp(prefix=_start(out, kind), dir=out.parent))
        lock = _lock(folder)
        if lock is not None or fcntl is None:
            break  # else another run took the new folder for a leftover in the moment before it was locked
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _lock(folder: Path) -> int | None:
    """An open lock on ``folder``, or None if another process has it or the folder is gone."""
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if os.path.samestat(os.fstat(handle), folder.stat()):
            return handle
    except (BlockingIOError, FileNotFoundError):
        pass
    os.close(handle)
    return None


def _sweep_one(folder: Path) -> None:
    lock = _lock(folder)
    if lock is None:
        return
    try:
        if _holds_reports_only(folder):
            shutil.rmtree(folder)
    finally:
        os.close(lock)


def _holds_reports_only(folder: Path) -> bool:
    ours = {report.file for report in files.ALL} | {"reports"}
    return all(path.name in ours for path in folder.rglob("*"))
