"""Blank CSVs to start from, each with one worked example that loads as it stands."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from pipeline.intake.errors import IntakeError
from pipeline.intake.files.columns import REFERENCES, Column, columns_of
from pipeline.intake.files.log_sheet import log_sheet_html
from pipeline.intake.log_page import log_page_html

_EXAMPLES: dict[str, Sequence[dict[str, str]]] = {
    "bowlers": (
        {"bowler": "example", "name": "Example Bowler", "hand": "right", "style": "one-handed", "birth_year": "1990"},
    ),
    "balls": (
        {
            "ball": "example-1", "bowler": "example", "name": "my first ball out", "cover": "solid",
            "core": "asymmetric", "rg_in": "2.50", "diff_in": "0.050", "int_diff_in": "0.015",
            "surface_grit": "2000", "benchmark": "yes", "spare_ball": "no", "games_before": "30",
        },
        {
            "ball": "example-2", "bowler": "example", "name": "my spare ball", "cover": "polyester",
            "core": "symmetric", "benchmark": "no", "spare_ball": "yes", "games_before": "0",
        },
    ),
    "patterns": ({"pattern": "house", "name": "House pattern", "length_ft": "41", "volume_ml": "25", "ratio": "8"},),
    "blocks": ({"block": "b1", "date": "2026-10-07", "pattern": "house", "event": "practice", "centre": "my centre"},),
    "maintenance": (
        {"date": "2026-10-08", "ball": "example-1", "action": "resurface", "grit": "2000", "note": "by hand"},
    ),
    "shots": (
        {
            "frame": "1", "delivery": "1", "ball": "example-1", "laydown_board": "20", "arrow_board": "12",
            "breakpoint_board": "8", "breakpoint_ft": "42", "entry_board": "17.5", "entry_angle_deg": "5",
            "speed_mph": "17.2", "rev_rpm": "350", "leave": "3-10", "note": "3 and 10 left standing",
        },
        {"frame": "1", "delivery": "2", "ball": "example-2", "leave": "/", "note": "spare made"},
        {
            "frame": "2", "delivery": "1", "ball": "example-1", "arrow_board": "12.5", "entry_board": "17",
            "leave": "X", "note": "strike",
        },
    ),
}  # fmt: skip
_SPECIAL_CASES = """Special cases
  Practice without games: number it as games of ten frames, each delivery at a full rack as the first of its frame.
  A ball that several bowlers share: list it in balls.csv once for each of them, under ids of their own.
  A bowler who uses both hands: list the bowler twice in bowlers.csv, once for each hand, under ids of their own.
  Baker games (one game bowled by a team in turn): log each bowler's frames under that bowler and the same game number;
  such a game counts for strikes, leaves and spares, and has no score of any one bowler.
  Team games: log every bowler's own game as usual; all on one pair share its block and lanes.
  Speeds in km/h: name the column speed_kmh, or write the unit behind each speed. If nine in ten speeds of a file exceed
  21, they are read as km/h; the load says so.
  Also understood: R and L, asym and sym, plastic, solid reactive; #10, 10.0, s6-10, 6/10, strike and spare as a leave;
  a unit behind a number (41 ft); n/a, ? and - in a column that may be empty. The load lists what it read so.
  Before you load: rackledger check FOLDER says what would be kept, what not, and the nearest mend; it stores nothing.
"""
_SAME_SHOT = {"date": "2026-10-07", "block": "b1", "bowler": "example", "lane": "11", "game": "1"}


def write_template(folder: Path) -> list[Path]:
    """Write one CSV per kind of file into ``folder``, which is made if it is missing.

    Returns:
        The files written.

    Raises:
        IntakeError: the folder cannot be written, or already holds one of the files.
    """
    return [_write(folder / f"{kind}.csv", _csv_text(kind)) for kind in (*REFERENCES, "shots")]


def write_log_sheet(folder: Path) -> Path:
    """Write ``log_sheet.html`` into ``folder``: one A4 page per game, to print and fill in on the approach.

    Raises:
        IntakeError: as :func:`write_template`.
    """
    return _write(folder / "log_sheet.html", log_sheet_html())


def write_log_page(folder: Path) -> Path:
    """Write ``log_page.html`` into ``folder``: an offline page for a phone, to enter deliveries as they are bowled.

    Raises:
        IntakeError: as :func:`write_template`.
    """
    return _write(folder / "log_page.html", log_page_html())


def write_guide(folder: Path) -> Path:
    """Write ``what_to_write.txt`` into ``folder``: what every column of every file may hold, for whoever types it.

    Raises:
        IntakeError: as :func:`write_template`.
    """
    parts = [*map(_guide_to, (*REFERENCES, "shots")), _SPECIAL_CASES]
    return _write(folder / "what_to_write.txt", "\n".join(parts))


def _guide_to(kind: str) -> str:
    columns = columns_of(kind)
    width = max(len(column.name) for column in columns)
    lines = [f"{column.name:<{width}}  {_held(column)}" for column in columns]
    return "\n".join([f"{kind}.csv", *(f"  {line}" for line in lines)]) + "\n"


def _held(column: Column) -> str:
    held = "the pins still standing, such as 3-10; X or / for none" if column.name == "leave" else column.expected()
    return held if column.required else f"{held}; may be empty"


def _csv_text(kind: str) -> str:
    names = [column.name for column in columns_of(kind)]
    rows = _EXAMPLES[kind]
    if kind == "shots":
        rows = [{**_SAME_SHOT, **row} for row in rows]
    text = io.StringIO()
    writer = csv.DictWriter(text, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _write(path: Path, text: str) -> Path:
    try:
        _make_folder(path.parent)
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError as error:
        raise IntakeError(f"{path}: is there already; name an empty folder, so that no log is overwritten.") from error
    except OSError as error:
        raise IntakeError(f"{path}: cannot be written ({error.strerror}); choose another folder.") from error
    return path


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        raise IntakeError(f"{folder}: is a file; name a folder.") from error
