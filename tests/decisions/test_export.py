"""Exports read back by other programs: JSON by the standard library, CSV by the csv module."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from pipeline.decisions.export.writers import GUIDE, field_guide, to_csv, to_json
from pipeline.decisions.records import Decisions
from tests.reports.factory import season
from tests.reports.invented_names import FORMULA


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("csv")
    to_csv(season(), where)
    return where


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_json_reads_back_equal(tmp_path: Path) -> None:
    path = to_json(season(), tmp_path / "deep" / "decisions.json")
    assert Decisions.model_validate_json(path.read_text(encoding="utf-8")) == season()


def test_json_is_strict(tmp_path: Path) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    json.loads(to_json(season(), tmp_path / "d.json").read_text(encoding="utf-8"), parse_constant=refuse)


def test_every_kind_has_its_csv_with_a_row_for_each_record(folder: Path) -> None:
    decisions = season()
    for field in Decisions.model_fields:
        value = getattr(decisions, field)
        if isinstance(value, list):
            assert len(rows(folder, field)) == len(value), field


def test_an_estimate_becomes_seven_numbers(folder: Path) -> None:
    first, combo = rows(folder, "combos")[0], season().combos[0]
    assert float(first["worth_mean"]) == combo.worth.mean
    assert float(first["worth_lo95"]) == combo.worth.lo95
    names = [name for name in first if name.startswith("worth_") and "following" not in name]
    assert names == [f"worth_{part}" for part in ("mean", "lo50", "hi50", "lo80", "hi80", "lo95", "hi95")]


def test_inner_lists_have_their_own_file_and_carry_their_keys(folder: Path) -> None:
    decisions = season()
    points = rows(folder, "curves_points")
    assert len(points) == sum(len(curve.points) for curve in decisions.curves)
    assert points[0]["bowler"] == decisions.curves[0].bowler
    histogram = rows(folder, "plans_score_histogram")
    assert len(histogram) == 301 * len(decisions.plans)
    assert histogram[300]["index"] == "300"


def test_tables_without_rows_have_their_header(folder: Path, tmp_path: Path) -> None:
    whole = season()
    empty = {name: [] for name in Decisions.model_fields if isinstance(getattr(whole, name), list)}
    to_csv(whole.model_copy(update=empty), tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in folder.iterdir()}
    for path in tmp_path.iterdir():
        header = path.read_text(encoding="utf-8").splitlines()[0]
        full = (folder / path.name).read_text(encoding="utf-8").splitlines()[0]
        assert header and full.startswith(header), path.name  # a dictionary's keys come last


def test_a_missing_record_leaves_its_columns_empty(folder: Path) -> None:
    table = rows(folder, "playbook")
    assert "best" not in table[0] and "margin" not in table[0]
    without = [row for row, advice in zip(table, season().playbook, strict=True) if advice.best is None]
    assert all(row["best_ball"] == "" for row in without)


def test_no_cell_starts_a_formula(folder: Path) -> None:
    # Spreadsheets run text that starts with one of these: advice of an application-security guide, from memory.
    for path in folder.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.reader(file):
                for cell in row:
                    if cell.lstrip()[:1] in ("=", "+", "-", "@", "\t", "\r"):
                        float(cell)  # only a number may start with a sign
    assert f"'{FORMULA}" in [row["name"] for row in rows(folder, "summary_bowlers")]


def test_the_field_guide_is_current() -> None:
    assert GUIDE.read_text(encoding="utf-8") == field_guide(), "run python -m pipeline.decisions.export.writers"


def test_the_field_guide_covers_every_field_of_every_record() -> None:
    guide = field_guide()
    for section in guide.split("\n## ")[1:]:
        for line in section.splitlines():
            if line.startswith("| `"):
                assert len(line.split("|")[3].strip()) > 3, line
    assert guide.count("\n## ") == 53
