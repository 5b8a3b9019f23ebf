"""What the method page and the README say of simulated seasons is what the study measured."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from pipeline.validation.ledger_record import FILE as LEDGER_FILE
from pipeline.validation.ledger_record import PartRecord, ledger_record
from pipeline.validation.track_record import FILE, track_record
from reports.views import method
from reports.views.ledger_words import PART_LABELS, roughness
from tests.recovery import ledger_study
from tests.recovery.track_record import TABLE, readme_rows, summarise
from tests.recovery.worlds import WORLDS

README = Path(__file__).parents[2] / "README.md"


def test_the_file_beside_the_code_is_the_study_s_table_in_short() -> None:
    pd.testing.assert_frame_equal(summarise(pd.read_csv(TABLE)), pd.read_csv(FILE))
    assert {item.world for item in track_record()} <= set(WORLDS)


def test_the_readme_shows_every_world() -> None:
    lines = README.read_text(encoding="utf-8").splitlines()
    for row in readme_rows(track_record()):
        assert row in lines


def test_the_method_page_shows_every_world_as_measured() -> None:
    table = method.simulated()
    for row, item in zip(table.rows, track_record(), strict=True):
        said = [cell.value for cell in row.cells]
        kept = f"kept {100 * item.kept_80:.0f} %, lead {100 * item.margins_80:.0f} %"
        assert row.cells[1].note.replace("\u202f", " ").replace("\xa0", " ") == kept
        assert said[1:3] == [item.held_80, item.gain_true]
        assert said[3:6] == [item.items_true, item.best_right, item.settled_right]


def test_a_summary_takes_the_measures_by_name() -> None:
    long = pd.DataFrame(
        [
            ("w", "settled right", 0.9),
            ("w", "P(best) said", 0.7),
            ("w", "P(best) right", 0.6),
            ("w", "worth following as now, ranked: in 80 %", 0.8),
            ("w", "worth, ranked: in 80 %", 0.75),
            ("w", "margin of first over each other: in 80 %", 0.7),
            ("w", "gain of advice, stated", 3.0),
            ("w", "gain of advice, true", 2.0),
            ("w", "first three items, pins per season, stated", 400.0),
            ("w", "first three items, pins per season, true", 300.0),
            ("w", "gain possible, line following", 5.0),
        ],
        columns=["world", "measure", "value"],
    ).assign(seasons=6)
    (row,) = summarise(long).to_dict("records")
    assert row == pytest.approx(
        {
            "world": "w",
            "seasons": 6,
            "held_80": 0.8,
            "kept_80": 0.75,
            "margins_80": 0.7,
            "gain_stated": 3.0,
            "gain_true": 2.0,
            "gain_possible": 5.0,
            "items_true": 0.75,
            "best_said": 0.7,
            "best_right": 0.6,
            "settled_right": 0.9,
        }
    )


def test_what_pages_say_of_the_ledger_s_intervals_is_what_was_measured() -> None:
    table = pd.read_csv(TABLE.with_name("ledger_table.csv"))
    pd.testing.assert_frame_equal(ledger_study.summarise(table), pd.read_csv(LEDGER_FILE))
    assert set(ledger_record()) == {*PART_LABELS, "level"} - {"foul", "order"}  # which are known for sure
    for row, (part, item) in zip(method.ledger_held().rows, ledger_record().items(), strict=True):
        assert [row.cells[1].value, row.cells[3].value] == [item.block_low, "rough" if item.rough else ""]
        assert roughness(part) == row.cells[3].value
    limits = ((0.7, 0.65), (0.69, 0.9), (0.9, 0.64))
    assert [PartRecord("x", low, 0.9, of, 0.9, 0.03, 0.03).rough for low, of in limits] == [False, True, True]
