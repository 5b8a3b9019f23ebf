"""The one error intake lets out, and the two ways input can be at fault."""

from __future__ import annotations

from pipeline.errors import RackledgerError


class IntakeError(RackledgerError):
    """A load that could not be done; the message is one clear sentence or two with the way out."""


class FileRefused(Exception):  # noqa: N818 - told in the report, not an error of the program
    """One file that cannot be used at all, while the others still load; the message says why and how to mend it."""
