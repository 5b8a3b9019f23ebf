"""The ledger adds up: in any legal game its parts are the score less what was expected at the first ball.

Scores come from the playing rules (``tests/scoring.py``), which the ledger does not use.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.sport.state_values import state_values
from tests.pricing.ledger_games import BY, FULL, Row, deliveries, games, season_of, value_at_random
from tests.scoring import Delivery, score_game


def score(game: list[Row]) -> int | None:
    return score_game([Delivery(int(f).bit_count() - int(s).bit_count(), foul) for _, _, f, s, _, foul in game]).total


@settings(deadline=None, max_examples=20)
@given(st.lists(games(), min_size=3, max_size=8), st.integers(0, 2**32), st.booleans())
def test_any_legal_game_adds_up(each: list[list[Row]], seed: int, boards: bool) -> None:
    rows = deliveries(each)
    rows["entry_board"] = np.where(rows.index % 3 > 0, 17.5, np.nan) if boards else np.nan
    season = season_of(rows)
    base = value_at_random(season, seed)
    valued = season.connection.table("valued_deliveries").df()
    assert len(valued) == len(rows)
    assert not valued[["change", "expected", *BY]].isna().any(axis=None)
    expected = float(state_values(base).before[0, 0])
    for number, game in enumerate(each, start=1):
        mine = valued[valued["game"] == number]
        assert mine["pins"].sum() == score(game)
        assert expected + mine["change"].sum() == pytest.approx(score(game), abs=1e-8)
        assert expected + mine[BY].to_numpy().sum() == pytest.approx(score(game), abs=1e-8)
        assert mine["complete"].all()
    with_board = valued["rack_ball"] & ~valued["foul"] & valued["entry_half"].notna()
    assert (valued.loc[with_board, "by_entry_and_carry"] == 0).all()
    assert (valued.loc[~with_board, ["by_entry", "by_carry"]] == 0).all(axis=None)
    assert (valued.loc[~valued["foul"], "by_foul"] == 0).all()


@settings(deadline=None, max_examples=15)
@given(games(), st.integers(0, 2**32), st.data())
def test_a_game_with_a_gap_counts_up_to_it_with_what_is_then_expected(
    game: list[Row], seed: int, data: st.DataObject
) -> None:
    gap = data.draw(st.integers(1, len(game) - 1))
    rows = deliveries([game]).drop(index=gap).reset_index(drop=True)
    tables = []
    for table in (rows, deliveries([game])):
        season = season_of(table)
        base = value_at_random(season, seed)
        tables.append(season.connection.sql("FROM valued_deliveries ORDER BY frame, delivery").df())
    result, full = tables
    assert len(result) == gap and not result["complete"].any()
    credited = full["pins"].iloc[:gap].sum()
    still_expected = full["expected"].iloc[gap]
    start = float(state_values(base).before[0, 0])
    assert start + result["change"].sum() == pytest.approx(credited + still_expected, abs=1e-8)


def test_a_game_without_its_first_ball_has_no_ledger() -> None:
    rows = deliveries([[(1, 1, FULL, 0, True, False), (2, 1, FULL, 0, True, False)]]).drop(index=0)
    season = season_of(rows)
    value_at_random(season, 1)
    assert season.connection.table("valued_deliveries").df().empty


def test_the_parts_of_a_strike_by_hand() -> None:
    # One strike in frame 1, board unknown. Stages are chances of a mix, so each part is a difference of two lines.
    rows = deliveries([[(1, 1, FULL, 0, True, False)]])
    season = season_of(rows)
    base = value_at_random(season, 5)
    (valued,) = season.connection.table("valued_deliveries").df().to_dict("records")
    stage = season.table("ledger_stages").iloc[0]
    values = state_values(base)
    worth = {k: float(getattr(values, k)[0, 0]) for k in ("after_strike", "after_spare", "after_open")}
    struck = 10 + worth["after_strike"]

    def at(name: str) -> float:
        p, s, f, t = (float(stage[f"{name}_{field}"]) for field in ("strike", "spare", "first_pins", "second_pins"))
        return p * struck + (1 - p) * (f + t + s * worth["after_spare"] + (1 - s) * worth["after_open"])

    assert valued["by_lane"] == pytest.approx(at("lane") - float(values.before[0, 0]))
    assert valued["by_ball"] == pytest.approx(at("ball") - at("lane"))
    assert valued["by_line"] == pytest.approx(at("line") - at("ball"))
    assert valued["by_entry_and_carry"] == pytest.approx(struck - at("line"))
    assert valued["by_leave"] == 0 and valued["by_order"] == pytest.approx(0)  # no bonus can be owed in frame 1


def test_a_foul_at_a_spare_is_a_foul_and_no_miss() -> None:
    game = [(1, 1, FULL, 512, True, False), (1, 2, 512, 512, False, True)]
    season = season_of(deliveries([game]))
    value_at_random(season, 3)
    rows = season.connection.sql("FROM valued_deliveries ORDER BY delivery").df()
    assert rows["by_spare"].eq(0).all() and rows["by_foul"].iloc[1] < 0
