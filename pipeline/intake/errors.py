"""The one error intake lets out."""

from __future__ import annotations


class IntakeError(Exception):
    """A load that could not be done; the message is one clear sentence or two with the way out."""
