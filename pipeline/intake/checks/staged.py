"""A shots file between being read and being stored."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.intake.files.sniff import CsvFile


@dataclass
class StagedFile:
    """A shots file on its way: its number in this load, rows read, and whether each line is one row."""

    file: CsvFile
    number: int
    read: int = 0
    plain: bool = False
    refused: str | None = None
    kmh: bool = False  # all its speeds turned out to be in km/h
