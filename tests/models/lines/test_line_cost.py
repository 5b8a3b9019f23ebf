"""What lies off the line costs: against integrals worked out by scipy for a known strike rate by entry board."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.special import expit, logit
from scipy.stats import norm

from pipeline.models.lines.entry_slope import EntrySlope
from pipeline.models.lines.line_cost import SQUARE, LineCost, cost_by_entry
from queries import sql

SLOPE = EntrySlope(np.array([-0.301, -0.3, -0.299]), np.array([0.25, 0.5, 0.25]))


def _rate(entry: np.ndarray | float) -> np.ndarray | float:
    return expit(0.6 - 0.4 * (np.asarray(entry) - 17.5) ** 2)


def _counts() -> pd.DataFrame:
    boards = np.arange(11.0, 24.5, 0.5)
    shots = np.round(40_000 * norm.pdf(boards, 17.5, 1.4) * 0.5)
    return pd.DataFrame({"entry_board": boards, "shots": shots, "strikes": shots * _rate(boards)})


def test_it_is_the_integral_over_everybodys_entry_boards() -> None:
    """Boards read to about half a board are further apart than balls are, which makes a move that much larger."""
    cost = cost_by_entry(_counts(), SLOPE)
    real = 1 - 0.2 / 1.4**2

    def mean(moved: float) -> float:
        return quad(lambda e: float(_rate(e + moved)) * norm.pdf(e, 17.5, 1.4), 8, 27)[0]

    for off in (0.5, 1.0, 1.5):
        expected = logit(mean(0.0)) - logit(mean(5 * 0.3 / real * off))
        assert float(cost(np.array([off]))[0]) == pytest.approx(expected, rel=0.08)
    grown = cost(np.linspace(0, 3, 50))
    assert (np.diff(grown) >= 0).all() and grown[0] == 0
    assert cost(np.array([-1.0])) == pytest.approx(cost(np.array([1.0])), rel=0.02)


def test_either_side_costs_what_its_entry_boards_strike() -> None:
    """A ball far on the high side strikes three times in ten here, and one far on the light side never.

    So a line inside of the one asked for costs more than one outside.
    """

    def rate(entry: np.ndarray | float) -> np.ndarray | float:
        off = np.asarray(entry) - 17.5
        return np.maximum(expit(0.6 - 0.5 * off**2), np.where(off > 0, 0.3, 0.0))

    boards = np.arange(11.0, 24.5, 0.5)
    shots = np.round(40_000 * norm.pdf(boards, 17.5, 1.4) * 0.5)
    counts = pd.DataFrame({"entry_board": boards, "shots": shots, "strikes": shots * rate(boards)})
    cost = cost_by_entry(counts, SLOPE)

    def mean(moved: float) -> float:
        return quad(lambda e: float(rate(e + moved)) * norm.pdf(e, 17.5, 1.4), 8, 27)[0]

    board = 5 * 0.3 / (1 - 0.2 / 1.4**2)
    for off in (-1.5, -0.8, 0.8, 1.5):
        expected = logit(mean(0.0)) - logit(mean(-board * off))
        assert float(cost(np.array([off]))[0]) == pytest.approx(expected, rel=0.1)
    assert cost(np.array([1.5])) > 1.5 * cost(np.array([-1.5]))


def test_a_lighter_ball_never_strikes_more() -> None:
    """The few shots at the light end that happened to strike do not make the cost of lines inside level off."""
    lucky = _counts()
    light = lucky["entry_board"] < 14
    lucky.loc[light, "strikes"] = 0.3 * lucky.loc[light, "shots"]
    fair, lucky_cost = cost_by_entry(_counts(), SLOPE), cost_by_entry(lucky, SLOPE)
    at = np.array([2.0, 2.5])
    assert (lucky_cost(at) > 0.8 * fair(at)).all()


def test_the_mean_over_an_uncertain_distance_is_the_integral() -> None:
    for off, sd in ((0.0, 0.3), (0.8, 0.5)):
        x = np.linspace(-4, 4, 4001)
        expected = np.trapezoid(SQUARE(x) * norm.pdf(x, off, sd), x)
        cost = SQUARE.expected(np.array([off]), np.array([sd**2]))[0]
        assert cost == pytest.approx(expected, rel=0.01, abs=1e-4)


def test_few_entry_boards_or_only_those_of_strikes_say_nothing() -> None:
    assert cost_by_entry(_counts().assign(shots=1.0, strikes=0.0), SLOPE) is SQUARE
    alike = _counts()
    assert cost_by_entry(alike.assign(strikes=0.5 * alike["shots"]), SLOPE) is SQUARE, "every board strikes alike"
    rng = np.random.default_rng(0)
    strike = rng.random(2000) < 0.5
    first = pd.DataFrame({"bowler": "ann", "strike": strike, "entry_board": np.where(strike, 17.5, np.nan)})
    with duckdb.connect() as connection:
        connection.register("first_balls", first)
        assert connection.execute(sql("cells/entry_strikes")).df().empty
        connection.register("first_balls", first.assign(entry_board=rng.normal(17.5, 1, 2000)))
        counts = connection.execute(sql("cells/entry_strikes")).df()
    assert counts["shots"].sum() == 2000 and counts["strikes"].sum() == strike.sum()


def test_a_line_tuned_by_a_board_costs_what_the_rest_of_the_distance_costs() -> None:
    cost = LineCost(np.random.default_rng(4).random(101))
    off = np.random.default_rng(5).uniform(-3, 3, 500)
    assert cost.tuned(off) == pytest.approx(cost(off - np.clip(off, -0.2, 0.2)), abs=1e-12)
