"""The slope of the entry board on the arrow board: simulated bowlers who move on what they see, truth -0.32."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipeline.models.lines.entry_slope import PRIOR, EntrySlope, fit_entry_slope
from queries import sql

TRUE, SHOTS = -0.32, 40


def _bowled(rng: np.random.Generator, real_scatter: bool, blocks: int = 60, true: float = TRUE) -> pd.DataFrame:
    """Four bowlers a block on one lane that asks for more boards as it goes; a ball in high is followed by a move."""
    rows = []
    for block in range(blocks):
        for bowler in "abcd":
            asked, aimed, off = 15 + rng.normal(0, 1), 15 + rng.normal(0, 1), [0.0]
            drift = rng.uniform(0.02, 0.08)
            for shot in range(SHOTS):
                error = rng.normal(0, 0.8)
                thrown = aimed + (error if real_scatter else 0.0)
                logged = aimed + error + rng.normal(0, 0.3)
                entry = 17.5 + true * (thrown - asked - drift * shot) + rng.normal(0, 1.2)
                rows.append((f"b{block}", bowler, 1 + shot // 10, shot % 10 + 1, logged, entry))
                off.append(entry - 17.5)
                if abs(np.mean(off[-2:])) > 1.2:
                    aimed += np.clip(np.mean(off[-2:]) / -true, -3, 3)
                    off = [0.0]
    frame = pd.DataFrame(rows, columns=["block", "bowler", "game", "frame", "arrow_board", "entry_board"])
    return frame.assign(lane=1, pair="1-2", ball="one", delivery=1)


def _sums(first_balls: pd.DataFrame) -> pd.DataFrame:
    with duckdb.connect() as connection:
        connection.register("first_balls", first_balls)
        return connection.execute(sql("cells/entry_by_arrow")).df()


@pytest.mark.parametrize("real_scatter", [True, False])
def test_it_recovers_the_slope_though_bowlers_move_on_what_they_see(real_scatter: bool) -> None:
    """Steps set beside each other do not: they answer luck, or nothing where the logged scatter is not real."""
    rows: list[EntrySlope] = []
    steps = []
    for seed in range(6):
        bowled = _bowled(np.random.default_rng([seed, 7]), real_scatter)
        rows.append(fit_entry_slope(_sums(bowled)))
        by = bowled.groupby(["block", "bowler"])[["arrow_board", "entry_board"]].diff().dropna()
        steps.append(float((by["arrow_board"] * by["entry_board"]).sum() / (by["arrow_board"] ** 2).sum()))
    mean, sd = np.mean([slope.mean for slope in rows]), np.mean([slope.sd for slope in rows])
    assert sd < 0.12
    assert mean == pytest.approx(TRUE, abs=0.07)
    assert abs(np.mean(steps) - TRUE) > 0.07


def test_a_far_steeper_answer_than_believed_is_found() -> None:
    """Balls that answer the arrows three times as much as usual: the shots say so against any belief."""
    slopes = [fit_entry_slope(_sums(_bowled(np.random.default_rng([seed, 9]), True, true=-1.0))) for seed in range(4)]
    assert np.mean([slope.mean for slope in slopes]) == pytest.approx(-1.0, abs=0.1)


def test_without_shots_it_is_what_was_believed() -> None:
    nothing = fit_entry_slope(_sums(_bowled(np.random.default_rng(1), True, blocks=1).head(3)))
    assert nothing.mean == pytest.approx(PRIOR.mean) == pytest.approx(-0.3, abs=0.01)
    assert PRIOR.sd == pytest.approx(0.12 * np.sqrt(3), abs=0.02)  # of a t with three degrees of freedom


def test_draws_and_the_few_stand_for_the_posterior() -> None:
    slope = fit_entry_slope(_sums(_bowled(np.random.default_rng(2), True)))
    drawn = slope.draws(20_000, np.random.default_rng(3))
    assert drawn.mean() == pytest.approx(slope.mean, abs=0.005) and drawn.std() == pytest.approx(slope.sd, rel=0.05)
    assert sum(b * share for b, share in slope.quantiles()) == pytest.approx(slope.mean, abs=0.01)
