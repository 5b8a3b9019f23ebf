"""How much an earlier season says of this one's spares: by as much as bowlers are seen to move between them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.models.spares import spare_pooling as sp
from pipeline.models.spares.spare import ConversionFit, fit_conversion_cells
from tests.models.spares.two_seasons import NAMES, SHARE, two_seasons, ways_to_learn


def _levels(fit: ConversionFit, bowlers: int) -> np.ndarray:
    """Draws (n, bowlers) of the rate over the usual leaves."""
    draws = [fit.bowler_draws(f"b{b}", NAMES, 400, np.random.default_rng(1)) @ SHARE for b in range(bowlers)]
    return np.column_stack(draws)


def _learned_move(fit: ConversionFit) -> float:
    return float(np.exp(fit._hypers[:, 4]).mean())


@pytest.fixture(scope="module")
def moved() -> tuple[pd.DataFrame, np.ndarray]:
    return two_seasons(np.random.default_rng(4), move=0.7, bowlers=10, spares=250)


@pytest.fixture(scope="module")
def steady() -> tuple[pd.DataFrame, np.ndarray]:
    return two_seasons(np.random.default_rng(4), move=0.0, bowlers=10, spares=250)


@pytest.fixture(scope="module")
def moved_fit(moved: tuple[pd.DataFrame, np.ndarray]) -> ConversionFit:
    return fit_conversion_cells(moved[0])


@pytest.fixture(scope="module")
def steady_fit(steady: tuple[pd.DataFrame, np.ndarray]) -> ConversionFit:
    return fit_conversion_cells(steady[0])


def test_the_sd_of_moves_is_learned_from_how_bowlers_moved(moved_fit: ConversionFit, steady_fit: ConversionFit) -> None:
    """Simulated truth: 0.7 and 0 log odds; 10 bowlers tell the first to about a third."""
    assert 0.3 < _learned_move(moved_fit) < 1.1
    assert _learned_move(steady_fit) < 0.2


def test_an_earlier_season_counts_where_nobody_moves_and_hardly_where_they_do(
    moved: tuple[pd.DataFrame, np.ndarray],
    steady: tuple[pd.DataFrame, np.ndarray],
    moved_fit: ConversionFit,
    steady_fit: ConversionFit,
) -> None:
    ratios = []
    for (cells, _), both in ((moved, moved_fit), (steady, steady_fit)):
        alone = fit_conversion_cells(ways_to_learn(cells)["second season alone"])
        ratios.append(_levels(both, 10).std(axis=0).mean() / _levels(alone, 10).std(axis=0).mean())
    assert ratios[1] < 0.9
    assert 0.85 < ratios[0] < 1.05


def test_rates_are_of_the_last_season_and_of_another_if_asked(
    moved: tuple[pd.DataFrame, np.ndarray], moved_fit: ConversionFit
) -> None:
    fit, truth = moved_fit, moved[1]
    assert (fit.stretches, fit.now) == (("1", "2"), "2")
    last, first = _levels(fit, 10).mean(axis=0), _levels(fit.at("1"), 10).mean(axis=0)
    true_first, true_last = truth @ SHARE
    assert np.abs(last - true_last).mean() < np.abs(last - true_first).mean() - 0.02
    assert np.abs(first - true_first).mean() < np.abs(first - true_last).mean() - 0.02
    assert fit.at("none such") is fit and fit.at("2") is fit


def test_a_log_of_one_stretch_has_no_moves(steady: tuple[pd.DataFrame, np.ndarray]) -> None:
    second = ways_to_learn(steady[0])["second season alone"]
    plain, named = (fit_conversion_cells(used) for used in (second, second.assign(stretch="2026-09-01")))
    assert plain._hypers.shape[1] == 4
    np.testing.assert_array_equal(_levels(plain, 10), _levels(named, 10))


def test_a_new_bowler_is_as_uncertain_as_bowlers_differ_within_a_season() -> None:
    """Base and move are independent, so their variances add."""
    hyper = np.log([[0.4, 1.0, 0.3, 150.0, 0.4]])
    np.testing.assert_allclose(sp.ability_sd(hyper), 0.5)
    np.testing.assert_allclose(sp.ability_sd(hyper[:, :4]), 0.3)
