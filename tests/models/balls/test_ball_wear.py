"""Ageing: ages by hand, and slopes and hook against known truths."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.inference.normal_pooling import pool_draws
from pipeline.models.balls.ball_wear import WEAR_SPREAD, AgeingFit, fit_ageing_cells
from pipeline.models.balls.board_fit import measure
from pipeline.models.balls.entry_drift import fit_drift
from tests.decisions.aged_cells import aged_cells
from tests.decisions.made_season import MadeBall, MadeSeason, make

# Efron & Morris, J. Am. Stat. Assoc. 70 (1975) 311-319, table 1: hits in the first 45 at bats, and the average over
# the rest of the season, in the published order.
HITS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
LATER = [0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256, 0.303, 0.264, 0.226,
         0.285, 0.316, 0.200]  # fmt: skip


def test_pooling_predicts_the_rest_of_the_season_better_than_raw_averages() -> None:
    raw = np.array(HITS) / 45
    mean = raw.mean()
    V = np.eye(18) * mean * (1 - mean) / 45
    draws = pool_draws(raw - mean, V, 4000, np.random.default_rng(1), mean_sd=0.1, spread_scale=0.05) + mean
    raw_error = float(((raw - LATER) ** 2).sum())
    pooled_error = float(((draws.mean(axis=0) - LATER) ** 2).sum())
    assert raw_error == pytest.approx(0.0755, abs=0.002)  # the published comparison: about .077, against .022 pooled
    assert 3.0 < raw_error / pooled_error < 4.0  # published ratio about 3.5


def test_pooling_leaves_precise_measurements_alone_and_moves_vague_ones() -> None:
    y = np.array([1.0, -1.0, 0.5])
    exact = pool_draws(y, np.eye(3) * 1e-6, 2000, np.random.default_rng(2), mean_sd=1, spread_scale=1)
    assert exact.mean(axis=0) == pytest.approx(y, abs=0.005)
    vague = pool_draws(y, np.eye(3) * 25.0, 2000, np.random.default_rng(2), mean_sd=1, spread_scale=0.3)
    assert np.abs(vague.mean(axis=0)).max() < 0.25


def test_pooling_refuses_what_does_not_fit() -> None:
    rng = np.random.default_rng(3)
    with pytest.raises(ValueError, match="expected shapes"):
        pool_draws([1.0, 2.0], np.eye(3), 10, rng, mean_sd=1, spread_scale=1)
    with pytest.raises(ValueError, match="not finite"):
        pool_draws([np.nan], np.eye(1), 10, rng, mean_sd=1, spread_scale=1)
    assert pool_draws([], np.empty((0, 0)), 10, rng, mean_sd=1, spread_scale=1).shape == (10, 0)


def test_a_two_group_fit_is_the_difference_of_weighted_means() -> None:
    y, w = np.array([1.0, 3.0, 2.0, 8.0, 6.0, 7.0]), np.array([1.0, 3.0, 1.0, 2.0, 1.0, 1.0])
    columns = pd.DataFrame({"late": [0.0, 0, 0, 1, 1, 1], "again": [0.0, 0, 0, 2, 2, 2]})
    measured = measure(y, w, columns, pd.Series(list("aabbcc")), ["late", "again"])
    assert measured is not None and measured.names == ("late",)  # the copy of a column says nothing more
    assert measured.value[0] == pytest.approx((16 + 6 + 7) / 4 - (1 + 9 + 2) / 5)
    assert measure(y[:2], w[:2], columns[:2], pd.Series(["a", "b"]), ["late"]) is None


def test_ages_follow_the_games_and_begin_again_at_a_resurfacing() -> None:
    # Two balls take turns by frame, so each is on for half of every game; three games a block.
    plan = MadeSeason(
        [MadeBall("aa", games_before=20), MadeBall("bb", games_before=300), MadeBall("sp", spare_ball=True)],
        blocks=6,
        resurfaced=[(4, "aa")],
        cared=[(2, "bb", "clean")],
    )
    season = make(plan)
    cells = season.frame("cells/ball_age_cells", usual=60.0)
    states = season.frame("cells/ball_states", usual=60.0).set_index("ball")
    care = season.frame("cells/ball_care", usual=60.0).set_index("ball")
    assert set(cells["ball"]) == {"aa", "bb"} == set(states.index)
    first = cells[cells["block"] == "b000"].groupby("ball")["games_since_resurface"].min()
    assert 20 < first["aa"] < 20.5 and 60 < first["bb"] < 60.5  # unknown care before: no older than is usual
    total = states["games_total"] - pd.Series({"aa": 20, "bb": 300})
    assert total.sum() == pytest.approx(18)  # every game is shared out, nothing twice
    assert states.loc["aa", "games_since_resurface"] == pytest.approx(total["aa"] / 3, rel=0.1)
    assert care.loc["aa", "games_at"] == pytest.approx(20 + total["aa"] * 2 / 3, rel=0.05)
    assert states.loc["bb", "games_since_care"] == pytest.approx(total["bb"] * 4 / 6, rel=0.1)
    assert states.loc["bb", "games_since_resurface"] == pytest.approx(60 + total["bb"])
    renewed = cells[(cells["ball"] == "aa") & (cells["block"] >= "b004")]
    assert renewed["surface_number"].eq(1).all() and renewed["games_since_resurface"].min() < 0.5
    assert int(care.loc["aa", "shots_before"]) + int(care.loc["aa", "shots_after"]) == int(states.loc["aa", "shots"])


def test_several_acts_of_care_on_one_day_count_once() -> None:
    bag = [MadeBall("aa", games_before=20), MadeBall("bb")]
    once = make(MadeSeason(bag, blocks=6, resurfaced=[(4, "aa")], cared=[(2, "bb", "clean")]))
    twice = make(
        MadeSeason(
            bag,
            blocks=6,
            resurfaced=[(4, "aa"), (4, "aa")],
            cared=[(4, "aa", "clean"), (2, "bb", "clean"), (2, "bb", "oil extraction")],
        )
    )
    for query in ("cells/ball_age_cells", "cells/ball_wear", "cells/ball_states"):
        pd.testing.assert_frame_equal(once.frame(query, usual=60.0), twice.frame(query, usual=60.0))


def test_a_block_that_passes_midnight_ages_a_ball_as_any_other() -> None:
    season = make(MadeSeason([MadeBall("aa", games_before=12)], blocks=6, games=4))
    before = season.frame("cells/ball_wear", usual=60.0).set_index("block")["games_since_resurface"]
    assert before.to_numpy() == pytest.approx(12 + 2 + 4 * np.arange(6))  # half-way through each block
    season.connection.execute("UPDATE deliveries SET date = date + 1 WHERE block = 'b003' AND game > 2")
    season.connection.execute(
        "INSERT INTO maintenance BY NAME SELECT max(date) AS date, 'aa' AS ball, 'resurface' AS action, "
        "'made' AS source_file, 1 AS line FROM deliveries WHERE block = 'b003'"
    )
    season.held.clear()
    after = season.frame("cells/ball_wear", usual=60.0).set_index("block")["games_since_resurface"]
    assert after.loc[:"b003"].to_numpy() == pytest.approx(before.loc[:"b003"].to_numpy())
    assert after.loc["b004":].to_numpy() == pytest.approx([2, 6])


def test_wear_is_recovered_and_its_intervals_cover() -> None:
    inside, number = 0, 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        # Balls differ as the prior takes them to, half-t with 4 degrees of freedom: intervals cover on average over it.
        spread = WEAR_SPREAD * abs(rng.standard_t(4))
        made = aged_cells(rng, wear=rng.normal(rng.normal(-0.06, 0.03), spread, 18))
        fit = fit_ageing_cells(made.cells, made.states, 800, rng)
        assert fit is not None
        low, high = np.quantile(fit.wear, (0.1, 0.9), axis=0)
        true = made.truth.wear[0]
        inside += int(((low < true) & (true < high)).sum())
        number += len(true)
    # 80 % intervals: the share inside within three binomial standard errors of 0.8.
    assert abs(inside / number - 0.8) < 3 * np.sqrt(0.8 * 0.2 / number)


def test_more_shots_tell_the_ball_that_wears_most() -> None:
    strong, none = [], []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        made = aged_cells(rng, sharper=5)
        fit = fit_ageing_cells(made.cells, made.states, 400, rng)
        assert fit is not None
        order = np.argsort(made.truth.wear[0])
        strong += list(fit.wear.mean(axis=0)[order[:4]])
        none += list(fit.wear.mean(axis=0)[order[-4:]])
    assert np.mean(strong) < np.mean(none) - 0.03


def test_a_worn_ball_loses_carry_and_a_new_surface_brings_it_back() -> None:
    rng = np.random.default_rng(5)
    wear = np.full(6, -0.02)
    wear[0] = -0.25
    made = aged_cells(rng, bowlers=1, blocks=120, wear=wear)  # one ball in six so unlike the rest takes long to show
    fit = fit_ageing_cells(made.cells, made.states, 800, rng)
    assert fit is not None
    worn = fit.strike("w0-0", [0, 50], 0, 0)
    assert (worn[:, 0] - worn[:, 1]).mean() > 0.1
    fresh = fit.strike("w0-1", [0, 50], 0, 0)
    assert (worn[:, 0] - worn[:, 1]).mean() > (fresh[:, 0] - fresh[:, 1]).mean() + 0.05


def test_entry_drift_is_recovered() -> None:
    rng = np.random.default_rng(6)
    rows = []
    for block in range(40):
        for ball, slope in (("aa", -0.6), ("bb", 0.0)):
            since = block * 1.5
            arrow = 12 + rng.normal()
            entry = 17.5 + slope * since / 10 - 0.3 * (arrow - 12) + rng.normal(0, 0.3)
            rows.append(("ann", ball, f"b{block}", "medium", 1, since, 10, entry, arrow, 2))
    cells = pd.DataFrame(rows, columns=["bowler", "ball", "block", "pattern_class", "game", "games_since_resurface",
                                        "entries", "entry_board", "arrow_board", "missed_hook"])  # fmt: skip
    drift = fit_drift(cells, 1000, rng)
    assert drift.entry["aa"].mean() == pytest.approx(-0.6, abs=4 * drift.entry["aa"].std())
    assert drift.entry["aa"].std() < 0.1
    assert abs(drift.missed_hook["bb"].mean()) < 0.01
    nothing = fit_drift(cells.assign(entries=0), 100, rng)
    assert nothing.entry == {} == nothing.missed_hook


def test_a_hook_that_was_never_missed_is_not_known_for_sure() -> None:
    rows = [("ann", "aa", f"b{k}", "medium", 1, 1.5 * k, 4, 17.5, 12.0, 0) for k in range(14)]  # only ever on strikes
    cells = pd.DataFrame(rows, columns=["bowler", "ball", "block", "pattern_class", "game", "games_since_resurface",
                                        "entries", "entry_board", "arrow_board", "missed_hook"])  # fmt: skip
    drift = fit_drift(cells, 500, np.random.default_rng(1))
    for draws in (drift.entry["aa"], drift.missed_hook["aa"]):
        assert np.isfinite(draws).all() and draws.std() > 0.001
    # By the rule of succession one shot in 58 may miss; least squares on 14 cells of 4 shots then gives this error.
    tens = cells["games_since_resurface"] / 10
    error = np.sqrt(57 / 58**2 / (4 * ((tens - tens.mean()) ** 2).sum()))
    assert error / 2 < drift.missed_hook["aa"].std() <= error * 1.1


@pytest.mark.parametrize(
    "plan",
    [
        MadeSeason([MadeBall("aa")], blocks=3),
        MadeSeason([MadeBall("aa"), MadeBall("bb", bowler="bo")], blocks=3, games=1, hands={"bo": "left"}),
        MadeSeason([MadeBall("aa"), MadeBall("bb")], blocks=3, patterns=(None,), boards=False),
    ],
    ids=["one ball", "one-game blocks, a left-hander", "nothing posted or logged but leaves"],
)
def test_small_seasons_are_fitted(plan: MadeSeason) -> None:
    season = make(plan)
    fit = fit_ageing(season, 7)
    assert fit is not None
    for ball in fit.balls:
        carry = fit.strike(ball, [0, 30], 0, 0)
        assert carry.shape == (300, 2) and ((carry > 0) & (carry < 1)).all()


def fit_ageing(season, seed: int) -> AgeingFit | None:
    cells, states = (season.frame(f"cells/{name}", usual=60.0) for name in ("ball_age_cells", "ball_states"))
    return fit_ageing_cells(cells, states, 300, np.random.default_rng(seed))


def test_a_season_with_spare_balls_only_has_no_ageing() -> None:
    season = make(MadeSeason([MadeBall("aa"), MadeBall("sp", spare_ball=True)], blocks=2))
    season.connection.execute("UPDATE balls SET spare_ball = true")
    assert fit_ageing(season, 8) is None
