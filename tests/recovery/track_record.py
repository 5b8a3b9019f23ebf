"""From the table of worlds to what the method page and the README say of it.

    python -m tests.recovery.track_record

writes ``pipeline/validation/track_record.csv`` from ``worlds_table.csv`` and prints the README's table.
"""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pandas as pd

from pipeline.validation.track_record import FILE, TrackRecord, track_record
from reports.views.method import world_in_words

TABLE = Path(__file__).with_name("worlds_table.csv")
MEASURES = {
    "held_80": "worth following, ranked: in 80 %",
    "gain_stated": "gain of first following, stated",
    "gain_true": "gain of first following, true",
    "gain_possible": "gain possible, line following",
    "best_said": "P(best) said",
    "best_right": "P(best) right",
    "settled_right": "settled right",
}
README_HEAD = [
    "| simulated lanes | 80 % interval of a ball's worth holds | gain of the advised ball | first-ranked line is best "
    "| settled |",
    "| --- | --- | --- | --- | --- |",
]


def summarise(table: pd.DataFrame) -> pd.DataFrame:
    """One row per world, columns as in ``TrackRecord``, from the long table of ``worlds_study``."""
    worlds = table["world"].drop_duplicates().tolist()
    wide = table.pivot(index="world", columns="measure", values="value").loc[worlds]
    seasons = table.groupby("world")["seasons"].max().loc[worlds]
    found = pd.DataFrame({name: wide[measure].round(3) for name, measure in MEASURES.items()})
    found.insert(0, "seasons", seasons)
    return found.reset_index()[[item.name for item in fields(TrackRecord)]]


def readme_rows(records: list[TrackRecord]) -> list[str]:
    """The rows of the README's table."""
    return [
        f"| {world_in_words(item.world)} | {100 * item.held_80:.0f} % | stated {item.gain_stated:.1f} pins, true "
        f"{item.gain_true:.1f} of {item.gain_possible:.1f} possible | stated {100 * item.best_said:.0f} %, true "
        f"{100 * item.best_right:.0f} % | right {100 * item.settled_right:.0f} % |"
        for item in records
    ]


def main() -> None:
    summarise(pd.read_csv(TABLE)).to_csv(FILE, index=False)
    print("\n".join([*README_HEAD, *readme_rows(track_record())]))


if __name__ == "__main__":
    main()
