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
    "held_80": "worth following as now, ranked: in 80 %",
    "kept_80": "worth, ranked: in 80 %",
    "margins_80": "margin of first over each other: in 80 %",
    "gain_stated": "gain of advice, stated",
    "gain_true": "gain of advice, true",
    "gain_possible": "gain possible, line following",
    "best_said": "P(best) said",
    "best_right": "P(best) right",
    "settled_right": "settled right",
}
_ITEMS = "first three items, pins per season"
README_HEAD = [
    "| simulated lanes | 80 % interval of a ball's worth holds | of a line kept; of its lead | gain of the advice "
    "| first three items gain | first-ranked line is best | settled |",
    "| --- | --- | --- | --- | --- | --- | --- |",
]


def summarise(table: pd.DataFrame) -> pd.DataFrame:
    """One row per world, columns as in ``TrackRecord``, from the long table of ``worlds_study``."""
    worlds = table["world"].drop_duplicates().tolist()
    wide = table.pivot(index="world", columns="measure", values="value").loc[worlds]
    seasons = table.groupby("world")["seasons"].max().loc[worlds]
    results = pd.DataFrame({name: wide[measure].round(3) for name, measure in MEASURES.items()})
    results["items_true"] = (wide[f"{_ITEMS}, true"] / wide[f"{_ITEMS}, stated"]).round(3)
    results.insert(0, "seasons", seasons)
    return results.reset_index()[[item.name for item in fields(TrackRecord)]]


def readme_rows(records: list[TrackRecord]) -> list[str]:
    """The rows of the README's table."""
    return [
        f"| {world_in_words(item.world)} | {_percent(item.held_80)} "
        f"| {_percent(item.kept_80)}; {_percent(item.margins_80)} | stated {item.gain_stated:.1f} pins, true "
        f"{item.gain_true:.1f} of {item.gain_possible:.1f} possible | {_percent(item.items_true)} of what was stated | "
        f"stated {_percent(item.best_said)}, true {_percent(item.best_right)} | right {_percent(item.settled_right)} |"
        for item in records
    ]


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def main() -> None:
    summarise(pd.read_csv(TABLE)).to_csv(FILE, index=False)
    print("\n".join([*README_HEAD, *readme_rows(track_record())]))


if __name__ == "__main__":
    main()
