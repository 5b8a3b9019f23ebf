"""A season of a few shots, cheap to review, and what is left of it after something went wrong."""

from __future__ import annotations

from pathlib import Path

from pipeline.intake import load_folder
from pipeline.intake.files.templates import write_template

EARLIER = {"index.html": "<p>the earlier report</p>", "season.html": "<p>the earlier season</p>"}


def loaded(place: Path) -> Path:
    """The folder ``place`` with logs, a database they are loaded into, and earlier reports."""
    place.mkdir(parents=True, exist_ok=True)
    write_template(place / "logs")
    load_folder(place / "logs", place / "season.duckdb")
    (place / "reports").mkdir()
    for name, text in EARLIER.items():
        (place / "reports" / name).write_text(text, encoding="utf-8")
    return place


def with_another_shot(place: Path) -> Path:
    """Change the logs, so that a load has something to do."""
    shots = place / "logs" / "shots.csv"
    lines = shots.read_text(encoding="utf-8").splitlines()
    third = dict(zip(lines[0].split(","), lines[3].split(","), strict=True)) | {"frame": "3"}
    shots.write_text("\n".join([*lines, ",".join(third.values())]) + "\n", encoding="utf-8")
    return place


def earlier_reports_are_whole(place: Path) -> bool:
    """Whether ``place`` holds the earlier reports, nothing more and nothing less."""
    by_key = {path.name: path.read_text(encoding="utf-8") for path in (place / "reports").iterdir()}
    return by_key == EARLIER
