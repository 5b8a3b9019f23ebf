"""The leave model: what it recovers, how it pools, and what it does with the rare and the unseen."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.special import expit

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.inference.multinomial import contrast_precision, fit_multinomial, log_shares, root_mean_square
from pipeline.models.spares.leave import dirichlet_strength, fit_leave_cells

LEAVES = {"10": "corner pin", "7": "corner pin", "4": "other single pin", "3-10": "split, two pins", "2-8": "cluster"}
TYPES = ["corner pin", "other single pin", "split, two pins", "cluster"]
CLASSES = ["polyester", "urethane", "symmetric solid", "asymmetric pearl"]


def made_cells(
    rng: np.random.Generator, bowlers: int = 6, shots: int = 60, sd: float = 0.4
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Leave cells of invented bowlers, and the true shares of the types behind each combination of predictors."""
    own = rng.normal(0, sd, (bowlers, 4))
    by_class = {name: rng.normal(0, 0.3, 4) for name in CLASSES}
    cells, truth = [], []
    for b in range(bowlers):
        for name in CLASSES:
            for pattern in ("short", "long"):
                eta = np.array([0.8, 0.5, -0.2, 0.0]) + own[b] + by_class[name]
                eta = eta + (np.array([0.0, 0.3, 0.0, -0.3]) if pattern == "long" else 0)
                share = np.exp(eta) / np.exp(eta).sum()
                key = {"bowler": f"b{b}", "pattern_class": pattern, "ball_class": name, "phase": "fresh"}
                truth.append({**key, **dict(zip(TYPES, share, strict=True))})
                counts = rng.multinomial(shots, share)
                ten = rng.binomial(counts[0], 0.7)
                for leave, count in zip(LEAVES, [ten, counts[0] - ten, *counts[1:]], strict=True):
                    if count:
                        cells.append({**key, "leave": leave, "leave_type": LEAVES[leave], "shots": count})
    return pd.DataFrame(cells), pd.DataFrame(truth)


def test_unpenalised_fit_is_the_multinomial_logit_of_statsmodels() -> None:
    rng = np.random.default_rng(5)
    design = np.column_stack([np.ones(300), rng.normal(size=(300, 2))])
    eta = design @ np.array([[0.2, -0.4, 0.1], [0.5, 0.0, -0.5], [-0.3, 0.6, 0.2]])
    counts = np.array([rng.multinomial(1, np.exp(row)) for row in log_shares(eta)])
    theirs = sm.MNLogit(counts.argmax(axis=1), design).fit(disp=0, tol=1e-12)
    ours = fit_multinomial(design, counts)
    np.testing.assert_allclose(ours.beta, theirs.params, atol=1e-7)
    np.testing.assert_allclose(np.sqrt(np.diag(ours.covariance)).reshape(3, 3), theirs.bse, atol=1e-6)
    assert ours.loglik == pytest.approx(theirs.llf, abs=1e-8)


def test_counts_and_rows_give_the_same_fit() -> None:
    rng = np.random.default_rng(6)
    design = np.column_stack([np.ones(4), [0.0, 0, 1, 1], [0.0, 1, 0, 1]])
    counts = rng.integers(3, 40, (4, 3))
    rows = np.repeat(design, counts.sum(axis=1), axis=0)
    single = np.concatenate([np.repeat(np.eye(3), row, axis=0) for row in counts])
    groups = np.repeat([0, 1, 0, 1], counts.sum(axis=1))
    by_count = fit_multinomial(design, counts, np.array([0, 1, 0, 1]), 2, 0.5)
    by_row = fit_multinomial(rows, single, groups, 2, 0.5)
    np.testing.assert_allclose(by_count.beta, by_row.beta, atol=1e-8)
    np.testing.assert_allclose(by_count.effects, by_row.effects, atol=1e-8)


def test_the_penalty_does_not_care_which_category_is_the_base() -> None:
    rng = np.random.default_rng(7)
    design = np.column_stack([np.ones(12), rng.normal(size=12)])
    counts = rng.integers(0, 9, (12, 4))
    groups = np.arange(12) % 3
    order = np.array([2, 0, 3, 1])
    first = fit_multinomial(design, counts, groups, 3, np.array([0.1, 2.0]))
    second = fit_multinomial(design, counts[:, order], groups, 3, np.array([0.1, 2.0]))
    shares = np.exp(log_shares(design @ first.beta + first.effects[groups]))
    moved = np.exp(log_shares(design @ second.beta + second.effects[groups]))
    np.testing.assert_allclose(shares[:, order], moved, atol=2e-5)
    assert first.sd == pytest.approx(second.sd, rel=1e-3)


def test_the_sd_of_groups_is_the_root_mean_square_of_its_posterior() -> None:
    # densities 1, 1/2 and 1/4 at sds 1, 2 and 4: (1 + 2 + 4) / 1.75 = 4
    assert root_mean_square(np.log([1.0, 2.0, 4.0]), np.log([1.0, 2.0, 4.0])) == pytest.approx(2.0)
    for made, missed in (([30, 30, 33], [30, 30, 27]), ([30] * 4, [30] * 4)):
        groups = np.arange(len(made))
        fit = fit_multinomial(np.ones((len(made), 1)), np.column_stack([missed, made]), groups, len(made), 1e-4)
        sds, density = _posterior_of_sd(np.array(made), np.array(missed))
        assert fit.sd == pytest.approx(np.sqrt((density * sds**2).sum()), rel=0.15)
        assert fit.sd > 1.25 * sds[density.argmax()]


def _posterior_of_sd(made: np.ndarray, missed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Density (k,) of the sd of an effect at sds (k,) evenly spaced by their log, by integrals without Laplace's."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    sds, log_odds = np.geomspace(0.01, 3, 120), np.linspace(-3, 3, 121)[:, None]
    logs = []
    for sd in sds:
        eta = log_odds + np.sqrt(2) * sd * nodes  # a contrast of two effects
        each = [(expit(eta) ** a * expit(-eta) ** b) @ weights for a, b in zip(made, missed, strict=True)]
        logs.append(np.log(np.prod(each, axis=0).sum()) + np.log(sd) - 2 * sd**2)
    density = np.exp(np.array(logs) - max(logs))
    return sds, density / density.sum()


def test_contrast_precision_is_the_inverse_of_its_covariance() -> None:
    np.testing.assert_allclose(contrast_precision(4) @ (np.eye(4) + np.ones((4, 4))), np.eye(4), atol=1e-12)


def test_draws_have_the_laplace_covariance() -> None:
    rng = np.random.default_rng(8)
    design = np.column_stack([np.ones(30), rng.normal(size=30)])
    counts = rng.integers(1, 20, (30, 3))
    groups = np.arange(30) % 5
    fit = fit_multinomial(design, counts, groups, 5, 0.2)
    beta, effects = fit.draw(40000, rng)
    np.testing.assert_allclose(np.cov(beta.reshape(len(beta), -1).T), fit.covariance, rtol=0.08, atol=2e-4)
    # The same covariance from the whole Hessian, formed here without the arrow.
    p = np.exp(log_shares(design @ fit.beta + fit.effects[groups]))[:, 1:]
    n = counts.sum(axis=1)
    whole = np.column_stack([design, np.eye(5)[groups]])
    hessian = np.zeros((14, 14))
    for row, share, total in zip(whole, p, n, strict=True):
        hessian += np.kron(np.outer(row, row), total * (np.diag(share) - np.outer(share, share)))
    prior = np.kron(np.diag([0.2] * 2 + [fit.sd**-2] * 5), contrast_precision(2))
    covariance = np.linalg.inv(hessian + prior)
    np.testing.assert_allclose(fit.covariance, covariance[:4, :4], rtol=1e-6)
    np.testing.assert_allclose(np.cov(effects.reshape(len(effects), -1).T), covariance[4:, 4:], rtol=0.1, atol=1e-3)


def test_types_are_recovered_and_their_intervals_cover() -> None:
    inside, error = [], []
    for seed in range(40):
        cells, truth = made_cells(np.random.default_rng(seed))
        draws = fit_leave_cells(cells)
        names = list(draws.types)
        shares = draws.type_draws(truth, 400, np.random.default_rng(seed))
        rank = (shares < truth[names].to_numpy()).mean(axis=0)
        inside.append((np.abs(rank - 0.5) < 0.4).mean())
        error.append(np.abs(shares.mean(axis=0) - truth[names].to_numpy()).mean())
    # 80 % intervals: the mean over 40 seasons, within four of its own standard errors.
    assert abs(np.mean(inside) - 0.8) < max(4 * np.std(inside) / np.sqrt(40), 0.02)
    assert np.mean(error) < 0.035  # a raw cell of 60 shots is off by 0.045 on average: 0.8 sqrt(.19 / 60)


def test_draws_of_types_are_about_the_shares_that_were_logged() -> None:
    counts = {"10": 250, "4": 60, "3-10": 32, "2-8": 33}
    keys = [(f"b{b}", pattern) for b in range(4) for pattern in ("short", "long")]
    cells = [(*key, leave, LEAVES[leave], shots / 8) for key in keys for leave, shots in counts.items()]
    table = pd.DataFrame(cells, columns=["bowler", "pattern_class", "leave", "leave_type", "shots"])
    fit = fit_leave_cells(table.assign(ball_class="polyester", phase="fresh"))
    whose = pd.DataFrame({"bowler": ["b0", AVERAGE], "pattern_class": "long", "ball_class": "polyester"})
    shares = fit.type_draws(whose.assign(phase="fresh"), 4_000, np.random.default_rng(0)).mean(axis=0)
    logged = {LEAVES[leave]: shots / 375 for leave, shots in counts.items()}
    np.testing.assert_allclose(shares, [[logged[kind] for kind in fit.types]] * 2, rtol=0.004)


def test_draws_are_probabilities_and_repeat() -> None:
    cells, truth = made_cells(np.random.default_rng(1))
    fit = fit_leave_cells(cells)
    first = fit.type_draws(truth, 50, np.random.default_rng(0))
    np.testing.assert_allclose(first.sum(axis=2), 1.0, atol=1e-12)
    again = fit.type_draws(truth.iloc[::-1], 50, np.random.default_rng(99))
    np.testing.assert_array_equal(first[:, ::-1], again)
    within = fit.leave_draws("b0", 50, np.random.default_rng(7))
    corner = (fit.leaves["leave_type"] == "corner pin").to_numpy()
    np.testing.assert_allclose(within[:, corner].sum(axis=1), 1.0, atol=1e-12)
    np.testing.assert_array_equal(within, fit.leave_draws("b0", 50, np.random.default_rng(8)))


def test_rare_types_are_merged_and_said_to_be() -> None:
    cells, truth = made_cells(np.random.default_rng(2))
    key = {"bowler": "b0", "pattern_class": "long", "ball_class": "polyester", "phase": "fresh"}
    rare = pd.DataFrame(
        [
            {**key, "leave": "1-2-10", "leave_type": "washout", "shots": 6},
            {**key, "leave": "1-2-4", "leave_type": "head pin", "shots": 2},
        ]
    )
    fit = fit_leave_cells(pd.concat([cells, rare], ignore_index=True))
    (note,) = fit.notes
    assert note.kind == "rare_leaves_merged" and {"washout (6)", "head pin (2)"} <= set(note.names)
    shares = fit.type_draws(truth, 200, np.random.default_rng(0)).mean(axis=0)
    washout, head = fit.types.index("washout"), fit.types.index("head pin")
    np.testing.assert_allclose(shares[:, washout] / shares[:, head], 6.5 / 2.5, rtol=1e-9)
    assert 0 < shares[:, washout].mean() < 0.01


def test_a_bowler_never_logged_is_the_average_with_wider_bands() -> None:
    cells, truth = made_cells(np.random.default_rng(3), sd=0.8)
    fit = fit_leave_cells(cells)
    known = truth.iloc[[0]]
    unknown = known.assign(bowler="nobody")
    own, other = (fit.type_draws(row, 2000, np.random.default_rng(0))[:, 0] for row in (known, unknown))
    assert (other.std(axis=0) > own.std(axis=0)).all()
    missing = known.assign(ball_class=None, phase=None, pattern_class=None)
    assert np.isfinite(fit.type_draws(missing, 10, np.random.default_rng(0))).all()


def test_one_type_only_and_none_at_all() -> None:
    cells = pd.DataFrame([{"bowler": "b0", "pattern_class": "long", "ball_class": "urethane", "phase": "late"}]).assign(
        leave="10", leave_type="corner pin", shots=12
    )
    grid = cells.drop(columns=["leave", "leave_type", "shots"])
    np.testing.assert_array_equal(fit_leave_cells(cells).type_draws(grid, 5, np.random.default_rng(0)), 1.0)
    empty = fit_leave_cells(cells.iloc[:0])
    assert empty.shots == 0
    np.testing.assert_array_equal(empty.type_draws(grid, 5, np.random.default_rng(0)), 1.0)


def test_strength_of_pooling_is_recovered() -> None:
    rng = np.random.default_rng(4)
    base = np.array([0.5, 0.3, 0.2])
    counts = np.array([rng.multinomial(200, rng.dirichlet(30 * base)) for _ in range(300)])
    assert dirichlet_strength(counts, base) == pytest.approx(30, rel=0.15)
    same = np.array([rng.multinomial(200, base) for _ in range(300)])
    assert dirichlet_strength(same, base) > 300


@pytest.mark.parametrize("strength", [10_000.0, 20.0])
def test_shares_within_a_type_have_the_uncertainty_of_their_shots(strength: float) -> None:
    # Bowlers all alike, then bowlers who differ; the truth is simulated. Everyone's shares were once taken as known.
    base, bowlers, inside, average = np.array([0.5, 0.3, 0.15, 0.05]), 6, [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        true = rng.dirichlet(strength * base, size=bowlers)
        counts = np.array([rng.multinomial(60, shares) for shares in true])
        cells = pd.DataFrame(
            [
                (f"b{b}", leave, counts[b, k])
                for b in range(bowlers)
                for k, leave in enumerate(("2-4", "2-5", "2-8", "3-9"))
            ],
            columns=["bowler", "leave", "shots"],
        ).assign(leave_type="cluster", pattern_class="long", ball_class="urethane", phase="late")
        fit = fit_leave_cells(cells)
        ranks = [
            (fit.leave_draws(who, 300, np.random.default_rng(seed)) < shares).mean(axis=0)
            for who, shares in (*((f"b{b}", true[b]) for b in range(bowlers)), (AVERAGE, base))
        ]
        held = np.abs(np.array(ranks) - 0.5) < 0.4
        inside.append(held[:-1].mean())
        average.append(held[-1].mean())
    for value in (inside, average):
        assert abs(np.mean(value) - 0.8) < max(4 * np.std(value) / np.sqrt(60), 0.02)
