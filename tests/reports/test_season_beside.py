"""This season beside the last, as the season review shows it."""

from __future__ import annotations

from typing import cast

import pytest

from reports.charts.queue import Pen
from reports.context import ReportContext
from reports.html.components import Row
from reports.views import season_beside
from tests.reports.factory import season


@pytest.fixture(scope="module")
def context() -> ReportContext:
    return ReportContext(season(), cast(Pen, None))  # tables need no pen


def test_rows_hold_both_seasons_and_parts_add_up(context: ReportContext) -> None:
    people = season_beside.people(context)
    assert {person.bowler for person in people} == {item.bowler for item in context.decisions.season_beside}
    for person in people:
        average, *clear = person.changed.rows
        rows = [*clear, *person.rest.rows]
        assert len(rows) == len([item for item in context.decisions.season_beside if item.bowler == person.bowler]) - 1
        by = [_moved(row) for row in rows if row.cells[0].note == "61, 88 games"]
        assert sum(by) == pytest.approx(_moved(average), abs=0.5)  # of ten roundings
        assert len(clear) <= 3 and all(_sure(row) >= 0.8 for row in clear)
        assert max(map(_sure, person.rest.rows)) <= min(map(_sure, clear), default=0.8)


def _sure(row: Row) -> float:
    return float(cast(float, row.cells[3].value))


def _moved(row: Row) -> float:
    last, this = (float(part.replace("\N{MINUS SIGN}", "-")) for part in row.cells[1].text.split(" → "))
    return this - last


def test_a_change_that_is_not_clear_is_left_out(context: ReportContext) -> None:
    person = season_beside.people(context)[0]
    average = next(item for item in context.decisions.season_beside if item.bowler == person.bowler)
    for probability, words in ((0.79, "no clear change"), (0.81, "likely ")):
        result = season_beside._digest([average.model_copy(update={"probability": probability})])
        assert words in result and len(result.split()) <= 25


def test_less_spread_is_better(context: ReportContext) -> None:
    boards = next(item for item in context.decisions.season_beside if item.unit == "boards")
    down = boards.model_copy(update={"change": boards.change.model_copy(update={"lo80": -0.2, "hi80": -0.1})})
    scale = season_beside.strips.scale_for([down.change])
    assert "better" in str(season_beside._change(down, scale).drawing)


def test_without_a_season_before_nothing_is_shown(context: ReportContext) -> None:
    both = season_beside.seasons(context)
    assert both is not None and (both.last, both.this) == ("2025-26", "2026-27")
    assert both.days.replace("\N{NON-BREAKING HYPHEN}", "-") == "2025-09-01 to 2026-05-31"
    alone = context.decisions.model_copy(
        update={"summary": context.decisions.summary.model_copy(update={"beside": None}), "season_beside": []}
    )
    assert season_beside.seasons(ReportContext(alone, cast(Pen, None))) is None
    assert season_beside.people(ReportContext(alone, cast(Pen, None))) == []
