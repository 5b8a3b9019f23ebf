"""Where reports may be put: checked before the work of making them, without reading what makes them."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.output_files import is_mount_point, why_not_writable
from reports import files
from reports.errors import ReportError


def check_place(out: Path) -> None:
    """Refuse a place where the reports could not be put, before the work of making them.

    Raises:
        ReportError: ``out`` is a file, the working folder, a mount point, holds files that are not these reports, or
            may not be written.
    """
    shown, out = out, real_place(out)
    if out == Path.cwd() or out in Path.cwd().parents:
        raise ReportError(
            f"{shown}: you are working in that folder, which is swapped for a new one; give another "
            "with --out, such as reports_out."
        )
    refuse_foreign(out)
    if is_mount_point(out):
        raise ReportError(f"{shown}: is a mount point, which cannot be swapped for new reports; name a folder in it.")
    if out.exists() and not os.access(out, os.W_OK):
        raise ReportError(f"{shown}: cannot be written (no permission); choose another folder with --out.")
    hindered = why_not_writable(out.parent)  # the folder itself is swapped for a new one
    if hindered:
        raise ReportError(f"{out}: cannot be {hindered}; choose another folder with --out.")


def real_place(out: Path) -> Path:
    """The whole path of ``out``; of a link, its target."""
    return out.resolve() if out.is_symlink() else out.absolute()


def refuse_foreign(out: Path) -> None:
    """Refuse a place that holds anything but these reports."""
    if not out.exists():
        return
    if not out.is_dir():
        raise ReportError(f"{out}: is not a folder; give another place with --out.")
    ours = {report.file for report in files.ALL}
    foreign = sorted(item.name for item in out.iterdir() if item.name not in ours)
    if foreign:
        raise ReportError(f"{out}: holds {foreign[0]}, which is not a report; give an empty or new folder with --out.")
