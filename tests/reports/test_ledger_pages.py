"""Where the pins went, as pages show it: what stands in rows and bars adds up to the scores."""

from __future__ import annotations

import re
from datetime import date
from typing import cast

import pytest

from reports.charts import worker
from reports.charts.ledger_specs import _month_starts
from reports.charts.queue import Pen
from reports.context import ReportContext
from reports.html import waterfall
from reports.html.components import Cell, Table
from reports.views import ledger_season, ledger_students
from tests.reports.factory import season


@pytest.fixture(scope="module")
def context() -> ReportContext:
    return ReportContext(season(), cast(Pen, None))  # tables need no pen


def values(cells: list[Cell]) -> list[float]:
    return [float(cast(float, cell.value)) for cell in cells]


def accounts(context: ReportContext, bowler: str) -> Table:
    mine = [item for item in context.decisions.ledger if item.bowler == bowler]
    return ledger_season._account(context, bowler, mine)


def test_columns_of_a_bowler_add_up_to_the_score(context: ReportContext) -> None:
    for bowler in context.bowlers:
        table = accounts(context, bowler)
        for column in (1, 2):
            *added, scored = values([row.cells[column] for row in table.rows])
            assert sum(added) == pytest.approx(scored)


def test_rows_of_students_add_up(context: ReportContext) -> None:
    table = ledger_students.table(context)
    assert len(table.rows) == len(context.bowlers)
    together = []
    for row in table.rows:
        *parts, total = values(list(row.cells[1:]))
        assert sum(parts) == pytest.approx(total)
        together.append(total)
    assert together == sorted(together, reverse=True)


def test_every_bar_begins_where_the_one_before_ended(context: ReportContext) -> None:
    account = context.decisions.ledger[0]
    steps = [part.pins for part in account.parts]
    scale = waterfall.scale_of(account.expected.mean, steps)
    at = account.expected.mean
    for step in steps:
        drawn = str(waterfall.bar(at, step, scale, "tip"))
        x, width = map(float, re.findall(r'class="i50" x="([\d.]+)".*?width="([\d.]+)"', drawn)[0])
        begun, ended = scale.place(at), scale.place(at + step.mean)
        assert x == pytest.approx(min(begun, ended), abs=0.06)
        assert x + width == pytest.approx(max(begun, ended), abs=0.9)
        at += step.mean
    assert at == pytest.approx(account.scored)


def test_the_axis_of_a_season_names_months_and_not_too_many() -> None:
    days = [(date(2023, month, 1) - date(1970, 1, 1)).days for month in (9, 10, 11)]
    assert _month_starts(days[0] - 1, days[2] + 28) == days
    assert len(_month_starts(days[0], days[0] + 700)) <= 12


def test_the_season_chart_is_described_as_asked() -> None:
    result = worker.work("describe", {"kind": "season", "given": [19_600, 19_900, 150, 250]})
    names = {layer["data"]["name"] for layer in result["layer"]}
    assert names == {"level", "expected", "scores", "marks"}
