"""The mixed logistic engine: against other engines, and where data are few or separated."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import sparse
from scipy.special import expit

from pipeline.inference.mixed_logit.arrowhead import factor_arrowhead
from pipeline.inference.mixed_logit.conditional_mode import MixedLogitProblem, Term
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.inference.mixed_logit.sd_priors import LogNormal, Shared
from pipeline.inference.mixed_logit.variances import evidence_slopes, exact_block_layout
from tests.inference.mixed_logit.maximum_likelihood import fit_maximum_likelihood


def _crossed(rng, cells=1500, bowlers=12, balls=20, sd=(0.6, 0.4)):
    bowler, ball = rng.integers(0, bowlers, cells), rng.integers(0, balls, cells)
    X = np.column_stack([np.ones(cells), rng.standard_normal((cells, 2))])
    u, v = rng.normal(0, sd[0], bowlers), rng.normal(0, sd[1], balls)
    trials = rng.integers(1, 6, cells).astype(float)
    chance = expit(X @ [-0.2, 0.4, -0.3] + u[bowler] + v[ball])
    return X, bowler, ball, rng.binomial(trials.astype(int), chance).astype(float), trials, (u, v)


def test_without_groups_it_is_the_plain_logistic_fit():
    X, _, _, y, m, _ = _crossed(np.random.default_rng(1))
    ours = fit_mixed_logit(X, [], y, m)
    theirs = sm.GLM(np.column_stack([y, m - y]), X, family=sm.families.Binomial()).fit(tol=1e-14)
    assert ours.fixed == pytest.approx(theirs.params, abs=1e-8)
    assert np.sqrt(np.diag(ours.fixed_covariance)) == pytest.approx(theirs.bse, abs=1e-7)


def test_rows_and_counts_agree():
    X, bowler, ball, y, m, _ = _crossed(np.random.default_rng(2), cells=400)
    sds = [0.5, 0.3]
    counts = fit_mixed_logit(X, [Term("bowler", bowler, 12), Term("ball", ball, 20)], y, m, sds=sds)
    each = np.repeat(np.arange(len(y)), m.astype(int))
    place = np.concatenate([np.arange(int(k)) for k in m])
    hit = (place < y[each]).astype(float)
    rows = fit_mixed_logit(
        X[each], [Term("bowler", bowler[each], 12), Term("ball", ball[each], 20)], hit, np.ones(len(each)), sds=sds
    )
    assert rows.fixed == pytest.approx(counts.fixed, abs=1e-8)
    assert rows.random["ball"] == pytest.approx(counts.random["ball"], abs=1e-8)


def test_gpboost_agrees_on_crossed_effects():
    gpboost = pytest.importorskip("gpboost", reason="gpboost is an optional engine to compare with")
    X, bowler, ball, y, m, _ = _crossed(np.random.default_rng(3), cells=400)
    each = np.repeat(np.arange(len(y)), m.astype(int))
    place = np.concatenate([np.arange(int(k)) for k in m])
    hit = (place < y[each]).astype(float)
    theirs = gpboost.GPModel(
        group_data=np.column_stack([bowler, ball])[each],
        likelihood="bernoulli_logit",
        num_parallel_threads=1,
        matrix_inversion_method="cholesky",
    )
    exact = {"optimizer_cov": "lbfgs", "optimizer_coef": "lbfgs", "delta_rel_conv": 1e-12, "maxit": 5000}
    theirs.fit(y=hit, X=X[each], params=exact)
    variances = np.asarray(theirs.get_cov_pars()).ravel()
    ours = fit_maximum_likelihood(X, [Term("bowler", bowler, 12), Term("ball", ball, 20)], y, m)
    assert ours.fixed == pytest.approx(np.asarray(theirs.get_coef()).ravel(), abs=1e-3)
    assert [ours.sd["bowler"], ours.sd["ball"]] == pytest.approx(np.sqrt(variances), abs=1e-3)


def test_separated_counts_stay_finite_with_the_weak_prior_and_are_refused_without():
    X = np.column_stack([np.ones(40), np.repeat([0.0, 1.0], 20)])
    y, m = np.repeat([0.0, 1.0], 20), np.ones(40)
    fit = fit_mixed_logit(X, [Term("bowler", np.arange(40) % 4, 4)], y, m, fixed_precision=np.array([1 / 9, 1 / 4]))
    assert 1 < fit.fixed[1] < 8
    with pytest.raises(ArithmeticError, match="separated"):
        fit_mixed_logit(X, [], y, m)


@pytest.mark.parametrize("levels", [1, 40])
def test_one_group_or_only_tiny_groups(levels):
    rng = np.random.default_rng(4)
    codes = np.arange(40) % levels
    y = rng.binomial(1, 0.4, 40).astype(float)
    fit = fit_mixed_logit(
        np.ones((40, 1)), [Term("bowler", codes, levels)], y, np.ones(40), fixed_precision=np.array([1 / 9])
    )
    draws = fit.draw(2000, rng)
    chance = expit(draws.fixed[:, 0] + draws.random["bowler"][:, 0])
    assert np.isfinite(chance).all()
    assert 0.1 < np.median(chance) < 0.8


def test_draws_have_the_covariance_of_the_dense_inverse():
    X, bowler, ball, y, m, _ = _crossed(np.random.default_rng(5), cells=300, bowlers=4, balls=6)
    fit = fit_mixed_logit(X, [Term("bowler", bowler, 4), Term("ball", ball, 6)], y, m, sds=[0.6, 0.4])
    Z = np.column_stack([np.eye(4)[bowler], np.eye(6)[ball]])
    every = np.column_stack([Z, X])
    effects = np.concatenate([fit.random["bowler"], fit.random["ball"], fit.fixed])
    chance = expit(every @ effects)
    prior = np.concatenate([np.full(4, 0.6**-2), np.full(6, 0.4**-2), np.zeros(3)])
    inverse = np.linalg.inv((every * (m * chance * (1 - chance))[:, None]).T @ every + np.diag(prior))
    draws = fit.draw(60_000, np.random.default_rng(6))
    joint = np.column_stack([draws.random["bowler"], draws.random["ball"], draws.fixed])
    assert np.cov(joint.T) == pytest.approx(inverse, abs=0.006)


def test_a_factor_solves_its_own_matrix():
    rng = np.random.default_rng(7)
    root = rng.standard_normal((9, 9))
    whole = root @ root.T + 9 * np.eye(9)
    factor = factor_arrowhead(sparse.csc_array(whole[:6, :6]), whole[:6, 6:], whole[6:, 6:])
    right = rng.standard_normal(9)
    assert np.concatenate(factor.solve(right[:6], right[6:])) == pytest.approx(np.linalg.solve(whole, right))
    assert factor.log_det == pytest.approx(np.linalg.slogdet(whole)[1])


def test_intervals_of_simulated_effects_cover_as_they_say():
    """40 seasons of 12 + 20 effects: 80 % intervals must hold the truth within Monte Carlo error of 80 %."""
    inside, total, per_season = 0, 0, []
    for seed in range(40):
        rng = np.random.default_rng([8, seed])
        X, bowler, ball, y, m, (u, v) = _crossed(rng, cells=250, sd=(0.5, 0.3))
        fit = fit_mixed_logit(
            X, [Term("bowler", bowler, 12), Term("ball", ball, 20)], y, m, fixed_precision=np.full(3, 1 / 9), nodes=8
        )
        draws = fit.draw(800, rng)
        guess = draws.fixed[:, :1] + draws.random["bowler"]
        contrast = draws.random["ball"] - draws.random["ball"].mean(axis=1, keepdims=True)
        low, high = np.quantile(np.column_stack([guess, contrast]), [0.1, 0.9], axis=0)
        truth = np.concatenate([-0.2 + u, v - v.mean()])
        hits = (truth >= low) & (truth <= high)
        inside, total = inside + hits.sum(), total + len(hits)
        per_season.append(hits.mean())
    error = np.std(per_season) / np.sqrt(len(per_season))
    assert inside / total == pytest.approx(0.80, abs=3 * error)


def test_random_slopes_are_recovered():
    rng = np.random.default_rng(9)
    codes, x = rng.integers(0, 60, 6000), rng.standard_normal(6000)
    slope = rng.normal(0, 0.5, 60)
    y = rng.binomial(1, expit(0.3 + slope[codes] * x)).astype(float)
    fit = fit_mixed_logit(np.ones((6000, 1)), [Term("slope", codes, 60, x)], y, np.ones(6000))
    assert np.corrcoef(fit.random["slope"], slope)[0, 1] > 0.9
    assert fit.sd["slope"] == pytest.approx(slope.std(), abs=0.1)


def _columns_of_balls(X, ball, levels=20):
    return np.column_stack([X, ball[:, None] == np.arange(levels)]).astype(float), np.arange(3 + levels) >= 3


def test_a_factor_in_common_is_the_sd_of_random_effects_by_another_way():
    """Columns of 0 and 1 with prior sd 1 times a factor of 0.3 are random effects with sd 0.3: all numbers agree."""
    X, bowler, ball, y, m, _ = _crossed(np.random.default_rng(11), cells=400)
    terms = [Term("bowler", bowler, 12), Term("ball", ball, 20)]
    grouped = fit_mixed_logit(X, terms, y, m, sds=[0.5, 0.3], fixed_precision=np.full(3, 0.1))
    columns, shared = _columns_of_balls(X, ball)
    precision = np.where(shared, 1.0, 0.1)
    factored = fit_mixed_logit(
        columns, terms[:1], y, m, sds=[0.5, 0.3], fixed_precision=precision, shared=Shared(shared, LogNormal(0.3, 1.0))
    )
    assert factored.fixed == pytest.approx(np.append(grouped.fixed, grouped.random["ball"]), abs=1e-9)
    assert factored.random["bowler"] == pytest.approx(grouped.random["bowler"], abs=1e-9)
    assert factored.log_likelihood == pytest.approx(grouped.log_likelihood, abs=1e-9)
    assert (factored.draw(4, np.random.default_rng(1)).scale_multiplier == 0.3).all()


def test_exact_slopes_along_sds_and_a_factor_are_those_of_small_steps():
    X, bowler, ball, y, m, _ = _crossed(np.random.default_rng(12), cells=400)
    columns, shared = _columns_of_balls(X, ball)
    problem = MixedLogitProblem(columns, (Term("bowler", bowler, 12),), y, m, np.where(shared, 1.0, 0.1), None, shared)
    at = np.log([0.4, 0.25])
    mode = problem.mode(at, problem.start())
    slopes = evidence_slopes(exact_block_layout(problem), mode).slope
    steps = np.eye(2) * 1e-4
    ends = [[problem.mode(at + sign * step, mode).integrated for sign in (1, -1)] for step in steps]
    assert slopes == pytest.approx([(up - down) / 2e-4 for up, down in ends], rel=1e-5)


def test_a_drawn_factor_is_neither_larger_nor_smaller_than_the_one_the_data_came_from():
    """Factors from their prior have even places among the draws of the fit, as in ``test_log_sds``."""
    places, belief = [], LogNormal(0.3, 0.6)
    for seed in range(60):
        rng = np.random.default_rng([13, seed])
        factor = belief.median * np.exp(belief.log_sd * rng.standard_normal())
        X = np.column_stack([np.ones(300), rng.standard_normal((300, 25))])
        linear = X @ np.append(0.2, rng.normal(0, 0.5 * factor, 25))
        fit = fit_mixed_logit(
            X, [Term("bowler", rng.integers(0, 10, 300), 10)], rng.binomial(4, expit(linear)).astype(float),
            np.full(300, 4.0), fixed_precision=np.append(1.0, np.full(25, 4.0)), sd_prior=0.05,
            shared=Shared(np.arange(26) > 0, belief), nodes=16,
        )  # fmt: skip
        places.append((fit.draw(1000, rng).scale_multiplier < factor).mean())
    assert np.mean(places) == pytest.approx(0.5, abs=3 * np.sqrt(1 / 12 / 60))
    assert np.std(places) == pytest.approx(np.sqrt(1 / 12), abs=0.06)


def test_a_sparse_design_and_many_pairs_give_the_same_fit(monkeypatch):
    X, bowler, ball, y, m, _ = _crossed(np.random.default_rng(10), cells=500)
    terms = [Term("bowler", bowler, 12), Term("ball", ball, 20)]
    dense = fit_mixed_logit(X, terms, y, m, sds=[0.5, 0.3])
    monkeypatch.setattr("pipeline.inference.mixed_logit.conditional_mode._MOST_PRODUCTS", 0)
    wide = fit_mixed_logit(sparse.csr_array(X), terms, y, m, sds=[0.5, 0.3])
    assert wide.fixed == pytest.approx(dense.fixed, abs=1e-10)
    assert wide.random["ball"] == pytest.approx(dense.random["ball"], abs=1e-10)
    assert wide.log_likelihood == pytest.approx(dense.log_likelihood, abs=1e-8)


def test_eight_points_take_sds_the_data_say_little_of_for_what_a_hundred_and_twenty_eight_do():
    few, many = [], []
    for seed in range(4):
        rng = np.random.default_rng(seed)
        codes = [rng.integers(0, 30, 800) for _ in range(9)]
        trials = np.full(800, 3.0)
        made = rng.binomial(3, expit(rng.normal(0, 0.05, 30)[codes[0]] - 0.2)).astype(float)
        terms = [Term(f"group {k}", code, 30) for k, code in enumerate(codes)]
        for nodes, out in ((8, few), (128, many)):
            fit = fit_mixed_logit(np.ones((800, 1)), terms, made, trials, fixed_precision=np.ones(1), nodes=nodes,
                                  sd_prior=0.05)  # fmt: skip
            sds = fit.draw(4000, np.random.default_rng(1)).sd
            out.append(np.mean([(sd**2).mean() for sd in sds.values()]))
    assert np.mean(few) == pytest.approx(np.mean(many), rel=0.1)
