"""Effects kept of a fit: drawn from the same joint posterior, the same whatever else is kept, the rest let go."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import sparse

from pipeline.inference.mixed_logit import arrowhead
from pipeline.inference.mixed_logit.arrowhead import ArrowheadFactor, factor_arrowhead
from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.inference.mixed_logit.subset_factor import SubsetFactor
from pipeline.models.spares.leave import fit_leave_cells
from pipeline.models.spares.spare import fit_conversion_cells
from pipeline.models.strikes.strike_worth import WorthFit, fit_worth_cells
from pipeline.models.subsample import Subsample
from tests.inference.mixed_logit.test_arrowhead import _precision
from tests.models.made_cells import balance, listed, made_cells
from tests.models.spares import test_leave, test_spare

EVERY = np.arange(40)
SOME = np.array([0, 7, 31])
FEW = Subsample(frozenset({"b1", "b2"}), frozenset({"b1-0", "b1-1", "b1-2", "b2-0", "b2-1", "b2-2"}))


@pytest.fixture(params=["scipy's order", "our order"])
def factor(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> ArrowheadFactor:
    monkeypatch.setattr(arrowhead, "HUGE", 1 if request.param == "our order" else 1_000)
    whole = _precision(np.random.default_rng(4))
    return factor_arrowhead(sparse.csc_array(whole[:40, :40]), whole[:40, 40:], whole[40:, 40:])


def test_draws_kept_have_the_covariance_of_the_dense_inverse(factor: ArrowheadFactor) -> None:
    inverse = np.linalg.inv(_precision(np.random.default_rng(4)))
    joint = np.r_[SOME, 40:44]
    random, fixed = SubsetFactor.of(factor, SOME).draw(60_000, np.random.default_rng(5))
    assert (random.shape, fixed.shape) == ((60_000, 3), (60_000, 4))
    wanted = inverse[np.ix_(joint, joint)]
    assert np.abs(np.cov(np.hstack([random, fixed]).T) - wanted).max() < 5 * np.diag(wanted).max() / np.sqrt(60_000)


def test_draws_of_some_are_the_columns_of_the_draws_of_all(factor: ArrowheadFactor) -> None:
    every, fixed = SubsetFactor.of(factor, EVERY).draw(50, np.random.default_rng(6))
    some, same = SubsetFactor.of(factor, SOME).draw(50, np.random.default_rng(6))
    np.testing.assert_array_equal(same, fixed)
    np.testing.assert_allclose(some, every[:, SOME], rtol=1e-12, atol=1e-14)


def test_effects_that_touch_no_other_are_drawn_alone() -> None:
    factor = factor_arrowhead(
        sparse.csc_array(sparse.block_diag([2 * np.eye(2) + 1] * 20)), np.ones((40, 1)), 60 * np.eye(1)
    )
    assert len(SubsetFactor.of(factor, SOME).places) <= 6


def test_a_fit_kept_has_the_modes_and_draws_of_the_whole() -> None:
    rng = np.random.default_rng(7)
    bowler, ball = rng.integers(0, 8, 900), rng.integers(0, 30, 900)
    X = np.column_stack([np.ones(900), rng.standard_normal(900)])
    made = rng.binomial(6, 0.4, 900).astype(float)
    terms = [Term("bowler", bowler, 8), Term("ball", ball, 30)]
    fit = fit_mixed_logit(X, terms, made, np.full(900, 6.0), nodes=4)
    subset = fit.subset({"bowler": np.array([2, 5]), "ball": np.array([0, 11, 29])})
    np.testing.assert_array_equal(subset.random["ball"], fit.random["ball"][[0, 11, 29]])
    one, other = fit.draw(4_000, np.random.default_rng(8)), subset.draw(4_000, np.random.default_rng(8))
    np.testing.assert_array_equal(np.sort(other.sd["ball"]), np.sort(one.sd["ball"]))
    for name, columns in (("bowler", [2, 5]), ("ball", [0, 11, 29])):
        whole = one.random[name][:, columns]
        assert other.random[name].mean(axis=0) == pytest.approx(whole.mean(axis=0), abs=0.02)
        assert other.random[name].std(axis=0) == pytest.approx(whole.std(axis=0), rel=0.08)


@pytest.fixture(scope="module")
def cells() -> pd.DataFrame:
    return made_cells(np.random.default_rng(9))


def _worth(cells: pd.DataFrame, subset: Subsample | None) -> WorthFit:
    return fit_worth_cells(cells, balance(), listed(cells), subset)


def _grid(bowler: str) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "bowler": bowler,
            "pattern_class": "medium",
            "game": [1, 1, 4],
            "ball": [f"{bowler}-0", f"{bowler}-1", "borrowed"],
            "line": ["second arrow", "third arrow", "third arrow"],
        }
    )


@pytest.fixture(scope="module")
def subset(cells: pd.DataFrame) -> WorthFit:
    return _worth(cells, FEW)


def test_the_worth_model_of_a_few_says_of_them_what_that_of_all_says(cells: pd.DataFrame, subset: WorthFit) -> None:
    everybody = _worth(cells, None)
    one = everybody.logit_draws(_grid("b2"), 4_000, np.random.default_rng(1))
    other = subset.logit_draws(_grid("b2"), 4_000, np.random.default_rng(1))
    assert other.mean(axis=0) == pytest.approx(one.mean(axis=0), abs=0.02)
    assert np.cov(other.T) == pytest.approx(np.cov(one.T), abs=0.01)
    assert set(subset.model.levels["bowler"]) == {"b1", "b2"}
    assert not subset.model.levels["bowler:block"]


def test_draws_of_one_bowler_do_not_depend_on_who_else_is_kept(cells: pd.DataFrame, subset: WorthFit) -> None:
    alone = _worth(cells, Subsample(frozenset({"b2"}), frozenset({"b2-0", "b2-1", "b2-2"})))
    one, other = (fit.logit_draws(_grid("b2"), 100, np.random.default_rng(1)) for fit in (subset, alone))
    np.testing.assert_allclose(one, other, rtol=1e-9)


def test_a_bowler_let_go_is_refused(subset: WorthFit) -> None:
    with pytest.raises(ValueError, match="left out"):
        subset.logit_draws(_grid("b3"), 10, np.random.default_rng(1))


def test_the_leave_model_of_a_few_says_of_them_what_that_of_all_says() -> None:
    cells, grid = test_leave.made_cells(np.random.default_rng(10))
    fit = fit_leave_cells(cells)
    cut = fit.subset(FEW)
    mine = grid[grid["bowler"] == "b2"]
    one, other = (model.type_draws(mine, 3_000, np.random.default_rng(2)) for model in (fit, cut))
    assert other.mean(axis=0) == pytest.approx(one.mean(axis=0), abs=0.005)
    assert other.std(axis=0) == pytest.approx(one.std(axis=0), abs=0.004)
    leaves = [model.leave_draws("b1", 3_000, np.random.default_rng(2)).mean(axis=0) for model in (fit, cut)]
    assert leaves[1] == pytest.approx(leaves[0], abs=0.01)


def test_the_spares_of_a_few_are_those_of_the_model_of_all() -> None:
    cells, _ = test_spare.made_season(11)
    fit = fit_conversion_cells(cells)
    cut = fit.subset(FEW)
    leaves = list(test_spare.LEAVES)
    one, other = (model.bowler_draws("b2", leaves, 4_000, np.random.default_rng(3)) for model in (fit, cut))
    assert other.mean(axis=0) == pytest.approx(one.mean(axis=0), abs=0.01)
    assert other.std(axis=0) == pytest.approx(one.std(axis=0), abs=0.006)
    assert set(cut.bowler_leaves["bowler"]) == {"b1", "b2"}
