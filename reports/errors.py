"""Failures of the reports stage."""

from pipeline.errors import RackledgerError


class ReportError(RackledgerError):
    """Reports cannot be written where they were asked for; the sentence says why and what to do."""
