"""The conversion model: coverage, borrowing, abilities, and what a miss leaves."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit

from pipeline.inference.beta_binomial import log_likelihood, slopes
from pipeline.inference.normal_pooling import pool_normal
from pipeline.models.notes import Note
from pipeline.models.spares import spare_pooling as sp
from pipeline.models.spares.spare import ConversionFit, fit_conversion_cells
from pipeline.sport.leaves import leave_type, parse_leave

# Leave, share of all leaves in hundredths, and what is usual on it; invented.
LEAVES = {
    "10": (30, 1.8),
    "7": (12, 1.8),
    "4": (12, 2.3),
    "6": (8, 2.3),
    "9": (6, 2.3),
    "2-8": (8, 1.2),
    "3-6-10": (8, 1.2),
    "3-10": (6, -0.8),
    "5-7": (5, -0.8),
    "7-10": (2, -0.8),
    "1-2-4": (3, 0.7),
}


def made_season(
    seed: int, bowlers: int = 5, spares: int = 120, loosely: float = 0.0
) -> tuple[pd.DataFrame, np.ndarray]:
    """Spare cells, and the true rates (bowlers, leaves), drawn from a world of the model's own form.

    ``loosely``: how far sds and precision stray from the prior medians, in widths of its belief.
    """
    rng = np.random.default_rng(seed)
    names = list(LEAVES)
    kind = np.array([int("-" in name) for name in names])
    usual = np.array([ease for _, ease in LEAVES.values()])
    single, several, bowler, precision = np.exp(rng.normal(sp.HYPER_CENTRE, loosely * sp.HYPER_WIDTH))
    leave = rng.normal(0, np.where(kind == 1, several, single))
    r = sp.KIND_CORRELATION
    ability = rng.multivariate_normal([0, 0], bowler**2 * np.array([[1, r], [r, 1]]), bowlers)
    mean = np.clip(expit(usual + leave + ability[:, kind]), 1e-6, 1 - 1e-6)
    rates = rng.beta(precision * mean, precision * (1 - mean))
    weight = np.array([share for share, _ in LEAVES.values()], dtype=float)
    attempts = rng.multinomial(spares, weight / weight.sum(), bowlers)
    made = rng.binomial(attempts, rates)
    rows = [
        (f"b{b}", name, leave_type(parse_leave(name)), attempts[b, i], made[b, i], attempts[b, i] - made[b, i])
        for b in range(bowlers)
        for i, name in enumerate(names)
        if attempts[b, i]
    ]
    columns = ["bowler", "leave", "leave_type", "attempts", "made", "pins_left"]
    return pd.DataFrame(rows, columns=columns), rates


def drawn(fit: ConversionFit, bowlers: int = 5, n: int = 480) -> np.ndarray:
    rng = np.random.default_rng(1)
    return np.stack([fit.bowler_draws(f"b{b}", list(LEAVES), n, rng) for b in range(bowlers)], axis=1)


@pytest.mark.slow
def test_intervals_cover_over_60_seasons() -> None:
    weight = np.array([share for share, _ in LEAVES.values()], dtype=float)
    weight /= weight.sum()
    each, overall, misses = [], [], []
    for seed in range(60):
        cells, rates = made_season(seed, loosely=1.0)
        draws = drawn(fit_conversion_cells(cells))
        rank = (draws < rates).mean(axis=0)
        total = ((draws @ weight) < rates @ weight).mean(axis=0)
        each.append([(np.abs(rank - 0.5) < half).mean() for half in (0.25, 0.4, 0.475)])
        overall.append([(np.abs(total - 0.5) < half).mean() for half in (0.25, 0.4, 0.475)])
        misses.append((draws.mean(axis=0) - rates).mean())
    for value in (np.array(each), np.array(overall)):
        error = value.std(axis=0) / np.sqrt(len(value))
        np.testing.assert_array_less(np.abs(value.mean(axis=0) - [0.5, 0.8, 0.95]), 3 * error + 0.005)
    assert abs(np.mean(misses)) < 4 * np.std(misses) / np.sqrt(60) + 0.004


def test_pooled_rates_are_nearer_the_truth_than_raw_ones() -> None:
    pooled, raw = 0.0, 0.0
    for seed in range(8):
        cells, rates = made_season(seed)
        mean = drawn(fit_conversion_cells(cells)).mean(axis=0)
        shown = cells.pivot(index="bowler", columns="leave", values=["attempts", "made"]).fillna(0)
        attempts, made = (shown[name][list(LEAVES)].to_numpy(float) for name in ("attempts", "made"))
        seen = attempts > 0
        pooled += ((mean - rates)[seen] ** 2).sum()
        raw += ((made[seen] / attempts[seen] - rates[seen]) ** 2).sum()
    assert pooled < 0.5 * raw


def test_a_rare_leave_borrows_from_its_type_and_bowler() -> None:
    cells, _ = made_season(3)
    fit = fit_conversion_cells(cells)
    rng = np.random.default_rng(0)
    # Never attempted by anybody: a single pin stays easy, a split with more pins hard, and bands are wide.
    single, known = fit.bowler_draws("b0", ["8", "10"], 960, rng).T
    assert 0.7 < single.mean() < 0.97
    assert single.std() > known.std()
    assert fit.bowler_draws("b0", ["4-9"], 960, rng).mean() < 0.65
    # A perfect record of two tries is not believed.
    twice = pd.DataFrame(
        [("b0", "5-10", leave_type(parse_leave("5-10")), 2, 2, 0)],
        columns=["bowler", "leave", "leave_type", "attempts", "made", "pins_left"],
    )
    lucky = fit_conversion_cells(pd.concat([cells, twice], ignore_index=True))
    assert lucky.bowler_draws("b0", ["5-10"], 960, rng).mean() < 0.75


def test_a_better_bowler_is_better_on_leaves_not_yet_met() -> None:
    kinds = {leave: leave_type(parse_leave(leave)) for leave in LEAVES}
    rows = [
        (f"b{b}", leave, kinds[leave], 40, round(40 * expit(ease + shift)), 0)
        for b, shift in enumerate((-0.8, 0.0, 0.8))
        for leave, (_, ease) in LEAVES.items()
        if not (b == 2 and leave == "9")
    ]
    cells = pd.DataFrame(rows, columns=["bowler", "leave", "leave_type", "attempts", "made", "pins_left"])
    fit = fit_conversion_cells(cells)
    nine = [fit.bowler_draws(f"b{b}", ["9"], 960, np.random.default_rng(0)).mean() for b in range(3)]
    assert nine[0] < nine[1] < nine[2]
    newcomer = fit.bowler_draws("nobody", ["9"], 960, np.random.default_rng(0))
    assert nine[0] < newcomer.mean() < nine[2]
    assert newcomer.std() > fit.bowler_draws("b1", ["9"], 960, np.random.default_rng(0)).std()


def test_draws_repeat_whatever_is_asked_with_them() -> None:
    cells, _ = made_season(4)
    fit = fit_conversion_cells(cells)
    alone = fit.bowler_draws("b1", ["3-10"], 100, np.random.default_rng(0))
    among = fit.bowler_draws("b1", ["7", "4-6-7", "3-10"], 100, np.random.default_rng(5))
    np.testing.assert_array_equal(alone[:, 0], among[:, 2])
    again = fit.bowler_draws("b1", ["4-6-7"], 100, np.random.default_rng(6))
    np.testing.assert_array_equal(again[:, 0], among[:, 1])


def test_what_a_miss_leaves() -> None:
    kinds = {leave: leave_type(parse_leave(leave)) for leave in ("10", "2-4-5-8", "2-4-5", "7-10")}
    rows = [
        ("b0", "10", kinds["10"], 50, 40, 10),
        ("b0", "2-4-5-8", kinds["2-4-5-8"], 300, 100, 300),
        ("b0", "2-4-5", kinds["2-4-5"], 2, 1, 3),
        ("b0", "7-10", kinds["7-10"], 60, 0, 70),
    ]
    fit = fit_conversion_cells(
        pd.DataFrame(rows, columns=["bowler", "leave", "leave_type", "attempts", "made", "pins_left"])
    )
    assert fit.pins_left_on_miss("10") == 1.0
    assert fit.pins_left_on_miss("2-4-5-8") == pytest.approx(1.5, abs=0.02)
    # One miss that left all three says little: the leave stays near its type's share.
    assert 1.0 <= fit.pins_left_on_miss("2-4-5") < 2.0
    assert fit.pins_left_on_miss("7-10") == pytest.approx(70 / 60, abs=0.03)
    assert fit.pins_left_on_miss("8") == 1.0
    assert 1.0 <= fit.pins_left_on_miss("4-6-7-10") <= 4.0


def test_no_attempt_at_all_leaves_the_priors() -> None:
    cells, _ = made_season(0)
    fit = fit_conversion_cells(cells.iloc[:0])
    assert fit.notes == (Note("no_spare_attempt"),)
    draws = fit.bowler_draws("b0", ["10", "7-10"], 960, np.random.default_rng(0))
    assert draws.shape == (960, 2)
    assert (draws.std(axis=0) > 0.2).all()


def test_slopes_are_derivatives_of_the_likelihood() -> None:
    made, attempts = np.array([0.0, 1, 3, 5, 2]), np.array([3.0, 3, 3, 5, 9])
    eta, step = np.linspace(-2, 2, 5), 1e-4

    def value(at: np.ndarray) -> np.ndarray:
        return log_likelihood(made, attempts, 7 * expit(at), 7 * expit(-at))

    first, curve = slopes(made, attempts, eta, 7.0)
    np.testing.assert_allclose(first, (value(eta + step) - value(eta - step)) / (2 * step), atol=1e-6)
    np.testing.assert_allclose(-curve, (value(eta + step) - 2 * value(eta) + value(eta - step)) / step**2, atol=1e-5)


def test_the_mode_has_no_slope() -> None:
    cells, _ = made_season(9)
    names = list(LEAVES)
    kind = np.array([int("-" in name) for name in names])
    coded = sp.SpareCells(
        bowler=cells["bowler"].str[1:].astype(int).to_numpy(),
        leave=cells["leave"].map({name: i for i, name in enumerate(names)}).to_numpy(int),
        stretch=np.zeros(len(cells), dtype=int),
        made=cells["made"].to_numpy(float),
        attempts=cells["attempts"].to_numpy(float),
        leave_type=kind,
        kind=kind,
        n_bowlers=5,
        n_types=2,
        n_stretches=1,
    )
    post = sp.posteriors(coded, sp.HYPER_CENTRE[None])[0]
    eta = post.common[:2][kind[coded.leave]] + post.common[2 + coded.leave]
    eta = eta + post.ability[coded.bowler, kind[coded.leave]]
    first, _ = slopes(coded.made, coded.attempts, eta, float(np.exp(sp.HYPER_CENTRE[3])))
    by_type = np.bincount(kind[coded.leave], first, 2) - (post.common[:2] - sp.TYPE_CENTRE) / sp.TYPE_SD**2
    np.testing.assert_allclose(by_type, 0.0, atol=1e-3)
    sds = np.exp(sp.HYPER_CENTRE[kind])
    by_leave = np.bincount(coded.leave, first, len(names)) - post.common[2:] / sds**2
    np.testing.assert_allclose(by_leave, 0.0, atol=1e-3)


def test_pooling_two_averages_and_equal_ones() -> None:
    same = pool_normal(np.full(6, 0.3), np.full(6, 0.01))
    assert same.sd == 0.0
    np.testing.assert_allclose(same.value, 0.3)
    far = pool_normal(np.array([0.0, 10.0]), np.full(2, 0.01))
    np.testing.assert_allclose(far.value, [0.0, 10.0], atol=0.01)
    with pytest.raises(ValueError, match="positive variance"):
        pool_normal(np.array([]), np.array([]))
