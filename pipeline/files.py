"""Whether something could be put where it was asked for, found out before the work of making it."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.errors import IntakeError, printable


def hindrance(folder: Path) -> str | None:
    """What keeps a file or folder from being put into ``folder``, in words that follow "cannot be"; None if nothing.

    A folder that is not there yet is looked at through the nearest place above it that is.
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
