"""Check where files may be written before the work of making them, and write them whole or not at all."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from pipeline.errors import IntakeError, RackledgerError, printable

_MOUNTS = Path("/proc/self/mountinfo")
_NEW_FILE, _NEW_FOLDER = 0o666, 0o777


class PlaceError(RackledgerError):
    """A file or folder that may not be written where it was asked for; the message names the place and the way out."""


def why_not_writable(folder: Path) -> str | None:
    """Why a file or folder cannot be written into ``folder``, in words that follow "cannot be"; None if it can.

    A folder that does not exist yet is judged by the nearest parent that does.
    """
    whole = folder.absolute()
    nearest = next(place for place in (whole, *whole.parents) if place.exists())
    if not nearest.is_dir():
        return f"made ({nearest} is a file)"
    return None if os.access(nearest, os.W_OK) else f"written (no permission in {nearest})"


def refuse_undecodable(path: Path) -> None:
    """Refuse a name that is not UTF-8 text, which the database can neither open nor store."""
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError as error:
        raise IntakeError(f"{printable(str(path))}: its name is not UTF-8 text; rename it.") from error


def refuse_inputs(output: Path, inputs: Iterable[Path | None]) -> None:
    """Refuse an output that is one of the files the run reads, under whatever name, or a folder that would take one.

    Raises:
        PlaceError: with the file that would be lost.
    """
    for given in inputs:
        if given is None:
            continue
        if same_place(output, given):
            raise PlaceError(f"{output}: is read by this run ({given}) and would be overwritten; choose another place.")


def same_place(one: Path, other: Path) -> bool:
    """Whether two paths mean the same file or folder, also through a link or before either exists."""
    try:
        if one.exists() and other.exists():
            return one.samefile(other)
    except OSError:
        return False
    return one.resolve() == other.resolve()


def is_mount_point(path: Path) -> bool:
    """Whether another file system begins at ``path``, so that it cannot be renamed."""
    if path.is_mount():
        return True
    try:
        lines = _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return False  # not Linux: what is_mount says has to do
    points = {re.sub(r"\\(\d{3})", lambda match: chr(int(match[1], 8)), line.split(" ")[4]) for line in lines}
    return str(path.resolve()) in points


def usual_mode(path: Path, *, folder: bool = False) -> int:
    """The permissions of what stands at ``path``, or those that new files and folders get here."""
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except OSError:
        mask = os.umask(0o077)
        os.umask(mask)
        return (_NEW_FOLDER if folder else _NEW_FILE) & ~mask


@contextmanager
def replacing(path: Path, encoding: str = "utf-8") -> Iterator[TextIO]:
    """A text file that takes the place of ``path`` when it is whole, with the permissions of the earlier one.

    A link stays, and what it leads to is replaced. A pipe, a device or a mounted file is written as it is.
    """
    real = path.resolve()
    if real.exists() and (not real.is_file() or is_mount_point(real)):
        with real.open("w", encoding=encoding, newline="") as file:
            yield file
        return
    draft = real.with_name(real.name + ".part")
    try:
        with draft.open("w", encoding=encoding, newline="") as file:
            yield file
        draft.chmod(usual_mode(real))
        draft.replace(real)
    finally:
        draft.unlink(missing_ok=True)
