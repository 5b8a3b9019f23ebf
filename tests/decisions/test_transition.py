"""Transition curves, crossings and line moves of a simulated season, and a crossing that is known to be there."""

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.transition.curves import transition
from pipeline.decisions.transition.line_moves import line_moves
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from sample_logs.generate import simulate_season
from tests.recovery.in_memory import open_simulated

POINT = ["bowler", "pattern_class", "game", "ball", "line"]


@pytest.fixture(scope="module")
def answered():
    simulated = simulate_season(11)
    with open_simulated(simulated, Settings()) as season:
        fits = fit_all(season, season.settings)
        curves, crossings = transition(Fitted(season, fits))
        yield simulated, season, curves, crossings, line_moves(Fitted(season, fits))


def test_curves_count_every_shot_once_but_for_the_thin_end_of_an_axis(answered):
    _, season, curves, _, _ = answered
    total, drawn = 0, 0
    for curve in curves:
        counted = season.connection.execute(
            "SELECT count(*) FROM first_balls WHERE bowler = ? AND pattern_class = ? AND ball = ? AND line = ?",
            [curve.bowler, curve.pattern_class, curve.ball, curve.line],
        ).fetchone()[0]
        shown = sum(point.shots for point in curve.points)
        assert shown <= counted
        assert len({point.x for point in curve.points}) == len(curve.points)
        total, drawn = total + counted, drawn + shown
    assert drawn >= 0.95 * total


def test_worth_along_the_games_is_near_the_truth_and_nearer_than_raw(answered):
    simulated, _, curves, _, _ = answered
    rows = [
        (c.bowler, c.pattern_class, p.x, c.ball, c.line, p.worth, p.raw, p.shots)
        for c in curves
        if c.axis == "games into the block" and c.pattern_class != "unposted"
        for p in c.points
        if p.shots >= 8 and p.raw is not None
    ]
    table = pd.DataFrame(rows, columns=[*POINT, "worth", "raw", "shots"]).astype({"game": int})
    truth = simulated.truth.true_pins(table[POINT]) - table["bowler"].map(simulated.truth.own_average())
    mean = np.array([w.mean for w in table["worth"]])
    inside = np.array([w.lo80 <= t <= w.hi80 for w, t in zip(table["worth"], truth, strict=True)])
    assert np.sqrt(np.mean((mean - truth) ** 2)) < 0.5 * np.sqrt(np.mean((table["raw"] - truth) ** 2))
    assert 0.6 < inside.mean() < 0.95


def test_crossings_are_whole_and_say_what_they_hold(answered):
    _, _, curves, crossings, _ = answered
    ends = {(c.bowler, c.pattern_class, c.axis): c.points[-1].x for c in curves}
    assert crossings
    for item in crossings:
        assert item.leader != item.challenger
        assert 0 <= item.probability <= 1
        assert item.leader in item.sentence
        assert item.challenger[1:] in item.sentence  # where it begins a sentence, its first letter is large
        if item.at is not None:
            assert item.at.lo95 >= 0
            assert item.at.hi95 <= ends[item.bowler, item.pattern_class, item.axis]


def test_the_line_moves_inward_as_the_invented_world_makes_it(answered):
    # sample_logs/mechanism.py: the ideal arrow moves 0.7 board per game and up to 5 more as the pair wears
    *_, moves = answered
    arrow = [m for m in moves if m.target == "arrow" and m.pattern_class != "unposted"]
    assert len(arrow) >= 15
    assert np.mean([m.boards_per_game.mean for m in arrow]) == pytest.approx(1.0, abs=0.5)
    assert sum(m.boards_per_game.lo80 > 0 for m in arrow) >= 0.8 * len(arrow)
