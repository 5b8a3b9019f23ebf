"""The one error intake lets out, and the two ways input can be at fault."""

from __future__ import annotations

from pathlib import Path

from pipeline.errors import RackledgerError, printable


class IntakeError(RackledgerError):
    """A load that could not be done; the message is one clear sentence or two with the way out."""


class FileRefused(Exception):  # noqa: N818 - told in the report, not an error of the program
    """One file that cannot be used at all, while the others still load; the message says why and how to mend it."""


def refuse_undecodable(path: Path) -> None:
    """Refuse a name that is not UTF-8 text, which the database can neither open nor store."""
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError as error:
        raise IntakeError(f"{printable(str(path))}: its name is not UTF-8 text; rename it.") from error
