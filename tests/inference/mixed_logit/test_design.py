"""The feature builder: splines against another library's, names, and levels that were never seen."""

import numpy as np
import pandas as pd
import pytest
from patsy import dmatrix

from pipeline.inference.mixed_logit.codings import named_codes, place_in
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric, Spline, _uncorrelated
from pipeline.inference.mixed_logit.effect_draws import keyed_noise


def test_the_spline_spans_the_same_space_as_patsys_natural_spline():
    x = np.random.default_rng(1).uniform(0, 10, 300)
    spline = Spline.learn(x, np.ones(300), 5)
    theirs = np.asarray(
        dmatrix(
            "cr(x, knots=k, lower_bound=a, upper_bound=b)",
            {"x": x, "k": spline.knots[1:-1], "a": spline.knots[0], "b": spline.knots[-1]},
        )
    )
    ours = np.column_stack([np.ones(300), spline(x)])
    assert ours.shape[1] == 5
    left = ours - theirs @ np.linalg.lstsq(theirs, ours, rcond=None)[0]
    assert np.abs(left).max() < 1e-8


def test_columns_of_the_spline_are_uncorrelated_over_the_fitted_values_and_the_first_is_a_straight_line():
    rng = np.random.default_rng(5)
    games, shots = np.arange(1.0, 9.0), rng.integers(20, 400, 8).astype(float)
    columns = Spline.learn(games, shots, 3)(games)
    assert np.average(columns, axis=0, weights=shots) == pytest.approx([0, 0], abs=1e-12)
    assert np.cov(columns.T, aweights=shots, ddof=0) == pytest.approx(np.eye(2), abs=1e-12)
    assert np.diff(columns[:, 0]) == pytest.approx(np.full(7, np.diff(columns[:, 0])[0]))


def test_columns_that_are_copies_or_do_not_vary_are_only_scaled():
    x = np.random.default_rng(6).normal(size=50)
    columns = np.column_stack([x, 2 * x, np.full(50, 3.0)])
    turned = (columns - columns.mean(axis=0)) @ _uncorrelated(np.cov(columns.T, ddof=0))
    assert turned.std(axis=0) == pytest.approx([1, 1, 0])
    assert turned[:, 0] == pytest.approx(turned[:, 1])


def test_the_spline_is_straight_beyond_its_knots():
    x = np.linspace(0, 10, 50)
    spline = Spline.learn(x, np.ones(50), 4)
    beyond = spline(np.array([11.0, 12.0, 13.0]))
    assert np.diff(beyond, 2, axis=0) == pytest.approx(np.zeros((1, 3)), abs=1e-8)


@pytest.mark.parametrize("values", [[], [3.0], [2.0, 2.0], [1.0, 2.0]])
def test_few_distinct_values_give_a_finite_basis(values):
    x = np.array(values)
    assert np.isfinite(Spline.learn(x, np.ones(len(x)), 4)(np.array([1.0, 5.0]))).all()


def test_the_fit_and_a_prediction_get_the_same_columns():
    frame = pd.DataFrame({"ball": ["a", "b", "a"], "line": ["x", "y", "y"], "game": [1.0, 2.0, 3.0]})
    design = Design(
        [Numeric("game", 1.0), Categorical(("ball", "line"), 0.5), Categorical(("line",), 0.3, "game")]
    ).learn(frame)
    assert design.labels() == ["intercept", "game", "a | x", "a | y", "b | x", "b | y", "x x game", "y x game"]
    assert design.matrix(frame.iloc[::-1]).tolist() == design.matrix(frame)[::-1].tolist()
    assert design.matrix(frame)[2].tolist() == [1, 3, 0, 1, 0, 0, 0, 3]
    assert design.precision() == pytest.approx([1 / 9, 1, 4, 4, 4, 4, 1 / 0.09, 1 / 0.09])


def test_levels_never_seen_have_no_column_but_are_listed():
    frame = pd.DataFrame({"ball": ["a", "b"], "game": [1.0, 2.0]})
    design = Design([Categorical(("ball",), 0.5), Categorical(("ball",), 0.2, "game")]).learn(frame)
    new = pd.DataFrame({"ball": ["c", "a"], "game": [4.0, 1.0]})
    assert design.matrix(new)[0].tolist() == [1, 0, 0, 0, 0]
    main, slope = design.unknown(new)
    assert (main.keys, main.codes.tolist()) == (["ball=c"], [0, -1])
    assert (slope.sd, slope.times[0]) == (0.2, 4.0)


def test_names_are_joined_with_missing_values_as_a_level_of_their_own():
    frame = pd.DataFrame({"bowler": ["a", "a", "b"], "line": ["x", None, None], "game": [1, 1, 2]})
    codes, names = named_codes(frame, ["bowler", "line", "game"])
    assert [names[k] for k in codes] == ["a|x|1", "a|missing|1", "b|missing|2"]
    assert place_in({"b|missing|2": 5}, frame, ["bowler", "line", "game"]).tolist() == [-1, -1, 5]


def test_noise_follows_its_key_and_not_its_place():
    one = keyed_noise(["p", None, "q"], 4000, base=3)
    two = keyed_noise(["q", "p"], 4000, base=3)
    assert np.array_equal(one[:, [2, 0]], two)
    assert not one[:, 1].any()
    assert not np.array_equal(one, keyed_noise(["p", None, "q"], 4000, base=4))
    assert one[:, 0].std() == pytest.approx(1.0, abs=0.05)
    assert abs(np.corrcoef(one[:, 0], one[:, 2])[0, 1]) < 0.06
