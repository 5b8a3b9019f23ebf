"""Whether something could be put where it was asked for, found out before the work of making it."""

from __future__ import annotations

import os
from pathlib import Path


def hindrance(folder: Path) -> str | None:
    """What keeps a file or folder from being put into ``folder``, in words that follow "cannot be"; None if nothing.

    A folder that is not there yet is looked at through the nearest place above it that is.
    """
    whole = folder.absolute()
    nearest = next(place for place in (whole, *whole.parents) if place.exists())
    if not nearest.is_dir():
        return f"made ({nearest} is a file)"
    return None if os.access(nearest, os.W_OK) else f"written (no permission in {nearest})"
