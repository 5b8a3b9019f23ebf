"""Replicated seasons: a model that fits passes, one fitted to another season is found out."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.models.spares.leave import LeaveFit, fit_leave_cells
from pipeline.models.strikes.strike_by_entry import fit_entry
from pipeline.models.strikes.strike_worth import fit_worth
from pipeline.store.season import Season
from pipeline.validation.posterior_predictive import (
    entry_bins,
    leave_frequencies,
    replicated,
    run_statistics,
    strike_runs,
)
from tests.decisions.made_season import MadeBall, MadeSeason, make

N = 100


def _season(level: float = 0.2, block_sd: float = 0.1, **more: bool) -> Season:
    return make(MadeSeason([MadeBall("a-1"), MadeBall("a-2")], blocks=25, level=level, block_sd=block_sd, **more))


@pytest.fixture(scope="module")
def season() -> Season:
    return _season()


def test_run_statistics_by_hand() -> None:
    strikes = np.array([[1, 1, 1, 0, 0, 1, 1, 0]], dtype=bool)  # games of four: XXX- and -XX-
    statistics = run_statistics(strikes, np.array([0, 0, 0, 0, 1, 1, 1, 1]))
    assert statistics["longest_run"][0] == 2.5
    assert statistics["three_in_a_row"][0] == 0.5
    assert statistics["strike_spread"][0] == 0.5


def test_a_run_does_not_cross_from_game_to_game() -> None:
    statistics = run_statistics(np.ones((1, 4), dtype=bool), np.array([0, 0, 1, 1]))
    assert statistics["longest_run"][0] == 2


def test_share_of_replicates_counts_half_the_ties() -> None:
    replicate = replicated("longest_run", 2.0, np.array([1.0, 2.0, 3.0, 4.0]), 1)
    assert replicate.p == 0.625


def test_strike_runs_of_the_models_own_season(season: Season) -> None:
    sequences = season.frame("cells/game_sequences", games=1000)
    assert len(sequences) == 25 * 3 * 10
    runs = strike_runs(sequences, fit_worth(season), N, np.random.default_rng(1))
    assert [check.parts for check in runs] == [75, 75, 75]
    # the season is a draw from the model's kind: a tail of 1 % either side
    assert all(0.01 < check.p < 0.99 for check in runs)


def test_strike_runs_find_a_model_of_another_season(season: Season) -> None:
    runs = strike_runs(
        season.frame("cells/game_sequences", games=1000), fit_worth(_season(level=-1.0)), N, np.random.default_rng(1)
    )
    assert runs[0].p < 0.01  # longer runs than a weaker bowler makes


def test_games_can_be_limited(season: Season) -> None:
    some = season.frame("cells/game_sequences", games=7)
    assert some.groupby(["block", "game"]).ngroups == 7
    pd.testing.assert_frame_equal(some, season.frame("cells/game_sequences", games=7))
    assert strike_runs(some.iloc[:0], fit_worth(season), N, np.random.default_rng(1)) == []


def test_strikes_by_entry_board(season: Season) -> None:
    check = entry_bins(fit_entry(season), N, np.random.default_rng(1))
    assert check is not None
    assert check.parts >= 4
    assert check.p > 0.01


def test_strikes_by_entry_board_find_a_model_that_does_not_fit(season: Season) -> None:
    fit = fit_entry(season)
    cells, _ = fit.cell_draws(2, np.random.default_rng(0))
    # strikes moved, shots kept: the season now carries from the outer boards only
    outer = cells["entry_half"] < 17.5
    cells.loc[outer, "strikes"] = cells.loc[outer, "shots"]
    check = entry_bins(fit, N, np.random.default_rng(1))
    assert check is not None
    assert check.p < 0.01


def test_no_entry_board_no_check() -> None:
    assert entry_bins(fit_entry(_season(boards=False)), N, np.random.default_rng(1)) is None


def _leave_cells(rng: np.random.Generator, tilt: float) -> pd.DataFrame:
    """Leaves of one bowler; ``tilt`` moves corner pins to splits on late games of long patterns only."""
    rows = []
    for pattern in ("short", "long"):
        for phase in ("fresh", "late"):
            moved = tilt if (pattern, phase) == ("long", "late") else 0.0
            counts = rng.multinomial(400, [0.5 - moved, 0.3, 0.2 + moved])
            for (leave, kind), shots in zip(
                [("10", "corner pin"), ("5", "other single pin"), ("7-10", "split, two pins")], counts, strict=True
            ):
                rows.append(("ann", pattern, "urethane", phase, leave, kind, shots))
    columns = ["bowler", "pattern_class", "ball_class", "phase", "leave", "leave_type", "shots"]
    return pd.DataFrame(rows, columns=columns)


def _leave_fit(cells: pd.DataFrame) -> LeaveFit:
    return fit_leave_cells(cells)


def test_leave_frequencies_that_the_model_can_make() -> None:
    cells = _leave_cells(np.random.default_rng(1), 0.0)
    check = leave_frequencies(cells, _leave_fit(cells), N, np.random.default_rng(2))
    assert check is not None
    assert check.parts == 12
    assert check.p > 0.01


def test_leave_frequencies_that_it_cannot() -> None:
    # the model has pattern and phase, not their interaction: a strong one must show
    cells = _leave_cells(np.random.default_rng(1), 0.3)
    check = leave_frequencies(cells, _leave_fit(cells), N, np.random.default_rng(2))
    assert check is not None
    assert check.p < 0.01


def test_no_leaves_no_check() -> None:
    cells = _leave_cells(np.random.default_rng(1), 0.0)
    assert leave_frequencies(cells.iloc[:0], _leave_fit(cells), N, np.random.default_rng(2)) is None
