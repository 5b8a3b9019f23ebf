"""Values that pictures draw, against the sample season's own rows counted with pandas, and against made draws."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.records import Decisions
from pipeline.decisions.transition.curves import _best_by_point
from pipeline.models.fits import Fits
from pipeline.pricing.worth_curves import Curve, Panel
from pipeline.sport.lane import line_name
from pipeline.store.season import Season


@pytest.fixture(scope="module")
def decisions(decided_sample: Path) -> Decisions:
    return Decisions.model_validate_json((decided_sample / "decisions.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def racks(sample: tuple[Season, Fits]) -> pd.DataFrame:
    """Every first delivery that was no foul, with its ball's and its lane's facts, joined here with pandas."""
    season = sample[0]
    thrown = season.connection.execute("SELECT * FROM deliveries WHERE facing = 1023 AND first_ball AND NOT foul").df()
    balls = season.connection.execute("SELECT ball, name, spare_ball FROM balls").df()
    classes = season.connection.execute("SELECT DISTINCT block, lane, pattern_class FROM first_balls").df()
    return thrown.merge(balls, on="ball").merge(classes, on=["block", "lane"])


def test_paths_are_the_mean_boards_of_what_was_thrown(decisions: Decisions, racks: pd.DataFrame) -> None:
    """Phases as the settings have them: games 1 and 2 fresh, 3 and 4 transition, later late; lines of whole boards."""
    known = racks[racks["arrow_board"].notna() & ~racks["spare_ball"]].copy()
    known["line"] = [line_name(float(np.floor(board + 0.5))) for board in known["arrow_board"]]
    known["phase"] = np.select([known["game"] <= 2, known["game"] <= 4], ["fresh", "transition"], "late")
    keys = ["bowler", "pattern_class", "phase", "ball", "line"]
    boards = ["laydown_board", "arrow_board", "breakpoint_board", "breakpoint_ft", "entry_board"]
    means, counts = known.groupby(keys)[boards].mean(), known.groupby(keys).size()
    assert len(decisions.paths) == (counts >= 10).sum() > 50
    for path in decisions.paths:
        key = (path.bowler, path.pattern_class, path.phase, path.ball, path.line)
        assert path.shots == counts[key]
        result = (path.laydown, path.arrow, path.breakpoint, path.breakpoint_ft, path.entry)
        for value, expected in zip(result, means.loc[key], strict=True):
            assert (value is None) == np.isnan(expected)
            assert value is None or value == pytest.approx(expected)
    by_cell = pd.DataFrame([path.model_dump() for path in decisions.paths]).groupby(keys[:3])["shots"]
    assert all(shots.is_monotonic_decreasing for _, shots in by_cell)  # those thrown most first


def test_the_life_of_a_ball_holds_each_of_its_shots_once(decisions: Decisions, racks: pd.DataFrame) -> None:
    """Five games a point on one surface: strikes and shots add up, and games run on over a resurfacing."""
    counts = (
        racks.assign(strike=(racks["standing"] == 0) & ~racks["foul"]).groupby("ball")["strike"].agg(["size", "sum"])
    )
    lived = [ball for ball in decisions.arsenal if ball.life]
    assert len(lived) > 10
    for ball in lived:
        assert sum(point.shots for point in ball.life) == counts.loc[ball.ball, "size"]
        assert sum(point.strikes for point in ball.life) == counts.loc[ball.ball, "sum"]
        places = [(point.surface_number, point.games_total) for point in ball.life]
        assert places == sorted(set(places)) and all(at % 5 == 2.5 for _, at in places)
        resurfaced = sum(act.action == "resurface" for act in ball.care)
        assert max(point.surface_number for point in ball.life) <= resurfaced
        assert ball.life[-1].games_total <= ball.games_total + 2.5
    assert any(len({point.surface_number for point in ball.life}) > 1 for ball in lived)


def test_the_best_at_a_point_is_a_share_of_joint_draws() -> None:
    """Four draws of two curves at two points: the first is ahead in three of four, then they tie in every one."""
    one = np.array([[2.0, 1.0], [2.0, 1.0], [2.0, 1.0], [0.0, 1.0]])
    other = np.ones((4, 2))
    shots = np.full(2, 30)
    curves = tuple(Curve(ball, "second arrow", pins, shots, shots / 2) for ball, pins in (("a", one), ("b", other)))
    x = np.array([1.0, 2.0])
    panel = Panel("ann", "long", "games into the block", x, x, curves)
    assert np.allclose(np.array(_best_by_point(panel), dtype=float), [[0.75, 0.5], [0.25, 0.5]])
    assert _best_by_point(Panel("ann", "long", "games into the block", x, x, curves[:1])) == [[None, None]]


def test_at_each_point_somebody_is_best(decisions: Decisions) -> None:
    points: dict[tuple[str, str, str, float], list[float | None]] = {}
    for curve in decisions.curves:
        for point in curve.points:
            points.setdefault((curve.bowler, curve.pattern_class, curve.axis, point.x), []).append(point.p_best)
    compared = [[p for p in value if p is not None] for value in points.values() if len(value) > 1]
    assert len(compared) > 50 and all(sum(value) == pytest.approx(1.0) for value in compared)
    assert all(value == [None] for value in points.values() if len(value) == 1)


def test_a_leave_wins_back_what_a_good_spare_shooter_makes_more_of(
    sample: tuple[Season, Fits], decisions: Decisions
) -> None:
    """Both prices are of spares added to one bowler's frames, so they go as the shares of attempts they add."""
    fits = sample[1]
    mine = [item for item in decisions.leaves if item.bowler == "oda" and item.pins_per_game_lost > 0.05]
    leaves = [item.leave for item in mine]
    made = fits.conversion.bowler_draws("oda", leaves, fits.n_draws, fits.generator("conversion"))
    good = fits.conversion.upper_quartile_draws(leaves, fits.n_draws, fits.generator("conversion"))
    share = np.maximum(good - made, 0).mean(axis=0) / (1 - made).mean(axis=0)
    values = np.array([item.pins_to_win_back / item.pins_per_game_lost for item in mine])
    assert len(mine) > 10 and share.max() > 0.2
    assert np.abs(values - share).max() < 0.03
    for item in decisions.leaves:
        assert 0 <= item.pins_to_win_back <= item.pins_per_game_lost + 1e-9
