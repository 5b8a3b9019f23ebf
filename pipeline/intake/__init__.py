"""Intake: read a folder of logs, check every row, store the good ones and explain the others."""

from pipeline.intake.errors import IntakeError
from pipeline.intake.load import load_folder
from pipeline.intake.report import FileReport, LoadReport

__all__ = ["FileReport", "IntakeError", "LoadReport", "load_folder"]
