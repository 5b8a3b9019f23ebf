"""A small invented club whose logs the tests damage in many ways."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import duckdb

from pipeline.intake import FileReport, LoadReport, load_folder

HEADER = (
    "date,block,bowler,lane,game,frame,delivery,ball,laydown_board,arrow_board,breakpoint_board,breakpoint_ft,"
    "entry_board,entry_angle_deg,speed_mph,rev_rpm,leave,foul,note"
)
REFERENCES = {
    "bowlers.csv": "bowler,name,hand,style,coach,birth_year\nwren,Wren,right,one-handed,,1990\n"
    "tarn,Tarn,left,two-handed,wren,2001\n",
    "balls.csv": "ball,bowler,name,cover,core,rg_in,diff_in,int_diff_in,layout,surface_grit,benchmark,spare_ball,"
    "games_before\nw1,wren,first,solid,asymmetric,2.48,0.052,0.016,,2000,yes,no,40\n"
    "w2,wren,spare,polyester,symmetric,,,,,,no,yes,0\nt1,tarn,only,pearl,symmetric,2.55,0.04,,,4000,yes,no,10\n",
    "patterns.csv": "pattern,name,length_ft,volume_ml,ratio\nlow,Low Road,39,24,5\n",
    "blocks.csv": "block,date,pattern,event,centre\nb1,2026-03-05,low,practice,Mill Lanes\nb2,2026-03-12,,,\n",
    "maintenance.csv": "date,ball,action,grit,note\n2026-03-06,w1,surface,2000,\n",
}


def shot(
    frame: int, delivery: int, leave: str, *, bowler: str = "wren", ball: str = "", game: int = 1, **other: object
) -> str:
    """One good row, with whatever ``other`` columns changed."""
    row: dict[str, object] = dict.fromkeys(HEADER.split(","), "")
    row |= {"date": "2026-03-05", "block": "b1", "bowler": bowler, "lane": 7, "game": game, "frame": frame}
    row |= {"delivery": delivery, "ball": ball or ("w1" if bowler == "wren" else "t1"), "leave": leave}
    return ",".join(str(value) for value in (row | other).values())


def write_logs(folder: Path, rows: Iterable[str], name: str = "shots.csv", **references: str) -> Path:
    """Write the club's files and one shots file; ``references`` replaces some by kind."""
    folder.mkdir(parents=True, exist_ok=True)
    for file, text in REFERENCES.items():
        (folder / file).write_text(references.get(file.removesuffix(".csv"), text), encoding="utf-8")
    (folder / name).write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    return folder


def load(folder: Path, database: Path | None = None, column_map: Path | None = None) -> LoadReport:
    """Load into ``database``, or into one beside the folder, and see that no row was lost."""
    report = load_folder(folder, database or folder.parent / "season.duckdb", column_map=column_map)
    for file in report.files:
        assert file.read == file.kept + file.quarantined, file
    return report


def file_report(report: LoadReport, name: str = "shots.csv") -> FileReport:
    """The report on one file."""
    return next(file for file in report.files if file.name == name)


def ask(folder: Path, query: str, database: Path | None = None) -> list[tuple[object, ...]]:
    """Rows of a query on the loaded database."""
    path = database or folder.parent / "season.duckdb"
    with duckdb.connect(str(path), read_only=True) as connection:
        return connection.execute(query).fetchall()


def reasons(folder: Path) -> dict[tuple[int, str], tuple[str, str]]:
    """Of shots.csv: (line, column) -> (value, reason) of everything set aside."""
    rows = ask(
        folder, "SELECT line, column_name, value, reason FROM quarantine WHERE starts_with(source_file, 'shots')"
    )
    return {(int(str(line)), str(column)): (str(value), str(why)) for line, column, value, why in rows}


def kept_lines(folder: Path) -> Sequence[int]:
    """Lines of the deliveries that were kept, ascending."""
    return [int(str(line)) for (line,) in ask(folder, "SELECT line FROM deliveries ORDER BY line")]
