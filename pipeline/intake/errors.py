"""The two ways input can be at fault: a load that cannot be done, and one file that cannot be used."""

from __future__ import annotations

from pipeline.errors import IntakeError

__all__ = ["FileRefused", "IntakeError"]


class FileRefused(Exception):  # noqa: N818 - reported, not an error of the program
    """One file that cannot be used at all, while the others still load; the message says why and how to mend it."""
