"""Boards per game: against closed forms, another library's meta-analysis, and simulated blocks."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from pipeline.models.lines.line_drift import best_third, block_slopes, slopes_by_class


def _games(rng: np.random.Generator, blocks: int = 30, per_game: float = 1.2, between: float = 0.3, noise: float = 0.5):
    rows = []
    for block in range(blocks):
        own = per_game + rng.normal(0, between)
        start = rng.normal(14, 3)
        for game in range(1, 6):
            rows.append(("ann", "long", f"k{block}", game, start + own * game + rng.normal(0, noise), 10))
    return pd.DataFrame(rows, columns=["bowler", "pattern_class", "block", "game", "arrow", "arrow_shots"])


def test_a_block_on_a_straight_line_has_its_slope_whatever_its_start():
    games = _games(np.random.default_rng(1), blocks=3, between=0.0, noise=0.0)
    assert block_slopes(games, "arrow")["slope"].to_numpy() == pytest.approx([1.2, 1.2, 1.2])
    assert block_slopes(games, "arrow")["spread"].to_numpy() == pytest.approx([10.0, 10.0, 10.0])  # (-2..2) squared


def test_combined_slope_agrees_with_statsmodels_random_effects():
    games = _games(np.random.default_rng(2))
    slopes = block_slopes(games, "arrow")
    noise = slopes["left"].sum() / slopes["freedom"].sum()
    theirs = combine_effects(
        slopes["slope"].to_numpy(), (noise / slopes["spread"]).to_numpy(), method_re="dl"
    ).summary_frame()
    ours = slopes_by_class(games, "arrow")["ann", "long"]
    assert ours.boards == pytest.approx(theirs.loc["random effect", "eff"], abs=1e-10)
    assert ours.error == pytest.approx(theirs.loc["random effect", "sd_eff"], abs=1e-10)


def test_intervals_cover_with_few_blocks():
    """200 bowlers with 3 blocks each: 80 % intervals must hold the truth within Monte Carlo error."""
    rng = np.random.default_rng(3)
    parts = [_games(rng, blocks=3).assign(bowler=f"b{k}") for k in range(200)]
    games = pd.concat([part.assign(block=part["bowler"] + part["block"]) for part in parts])
    slopes = slopes_by_class(games, "arrow")
    inside = [s.quantile(0.1) <= 1.2 <= s.quantile(0.9) for s in slopes.values()]
    assert len(slopes) == 200
    assert np.mean(inside) == pytest.approx(0.80, abs=3 * np.sqrt(0.8 * 0.2 / 200))


def test_games_without_the_board_and_blocks_of_one_game_say_nothing():
    games = _games(np.random.default_rng(4), blocks=2)
    games.loc[games["block"] == "k0", "arrow"] = np.nan
    assert slopes_by_class(games, "arrow")["ann", "long"].blocks == 1
    assert slopes_by_class(games[games["game"] == 1], "arrow") == {}


def test_the_best_third_is_taken_within_bowler_and_class():
    games = _games(np.random.default_rng(5), blocks=6)
    scores = games[["bowler", "block", "game"]].assign(score=np.arange(len(games), dtype=float))
    best = best_third(games, scores)
    assert len(best) == 10
    assert set(best["block"]) == {"k4", "k5"}
    scores.loc[scores.index[-1], "score"] = np.nan
    assert len(best_third(games, scores)) == 10
