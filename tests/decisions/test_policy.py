"""How to play a cell: the better of moving and staying, and what it gains, against hand computations from draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipeline.decisions.advice.ball_by_phase import Advised, ball_places, best_balls, ranked_places, ways_to_play
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.advice.policy import Playing, playing
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from pipeline.store.season import Season
from tests.decisions.made_season import MadeBall, MadeSeason, make


@pytest.fixture(scope="module")
def made() -> tuple[Season, Fits]:
    season = make(MadeSeason([MadeBall("heron", effect=0.3), MadeBall("crane")], blocks=30, games=6))
    return season, fit_all(season, Settings())


def _shifted(options: Candidates, kept: float) -> Candidates:
    """The same where a kept line is worth so many pins more."""
    return Candidates(options.rows, replace(options.priced, pins=options.priced.pins + kept), options.following)


def _alone(fits: Fits, options: Candidates, ranked: list[int]) -> Playing:
    """The policy of a cell that no other comes before or after."""
    ways = ways_to_play(options, ranked, [])
    return playing(fits, options, Advised(best_balls({"fresh": ways}, {"fresh": 2.0})["fresh"], ways))


def test_the_best_ball_moves_with_the_lane_unless_staying_is_likely_better(made: tuple[Season, Fits]) -> None:
    season, fits = made
    options = candidates(Fitted(season, fits))
    ranked = [int(i) for i in next(iter(options.places.values())) if options.choices[i]["shots"] >= 30]
    moving = _alone(fits, _shifted(options, -50.0), ranked)
    staying = _alone(fits, _shifted(options, 50.0), ranked)
    by_ball = options.following.pins[:, ranked].mean(axis=0)
    assert moving.record.ball == options.choices[ranked[int(by_ball.argmax())]]["ball"]
    assert not moving.record.keeps_line and moving.record.line is None
    assert moving.record.worth.mean == pytest.approx(by_ball.max())
    kept = options.priced.pins[:, ranked].mean(axis=0) + 50
    assert staying.record.keeps_line and staying.record.line == options.choices[ranked[int(kept.argmax())]]["line"]
    assert staying.record.worth.mean == pytest.approx(kept.max())
    assert ways_to_play(options, [], []) == {}


def test_staying_takes_more_than_being_likely_better(made: tuple[Season, Fits]) -> None:
    """By hand: the line kept is moved up draw by draw until it is better in just under, then over, 70 of 100 draws."""
    season, fits = made
    options = candidates(Fitted(season, fits))
    ranked = [int(i) for i in next(iter(options.places.values())) if options.choices[i]["shots"] >= 30]
    moving = options.following.pins[:, ranked]
    kept = options.priced.pins[:, ranked]
    ahead = kept[:, kept.mean(axis=0).argmax()] - moving[:, moving.mean(axis=0).argmax()]
    for share, stays in ((0.65, False), (0.75, True)):
        shift = -float(np.quantile(ahead, 1 - share, method="lower")) + 1e-9
        assert _alone(fits, _shifted(options, shift), ranked).record.keeps_line is stays


def test_a_way_knows_by_how_much_it_was_drawn_in(made: tuple[Season, Fits]) -> None:
    """Against the prices before: pins of the candidates less what was added are scores less the own average."""
    options = candidates(Fitted(*made))
    assert options.drawn_in is not None and np.abs(options.drawn_in).max() > 0.05
    ranked = [int(i) for i in next(iter(options.places.values())) if options.choices[i]["shots"] >= 30]
    for way in ways_to_play(options, ranked, []).values():
        assert way.drawn_in == pytest.approx(options.drawn_in[0 if way.keeps_line else 1, way.at])


def test_it_starts_where_the_ball_is_usually_played(made: tuple[Season, Fits]) -> None:
    season, fits = made
    with_boards = [
        item for item in playbook(Fitted(season, fits))[1] if item.policy and item.policy.start_board is not None
    ]
    assert with_boards
    first = season.frame("cells/worth_cells", load_step=20)
    for item in with_boards:
        assert item.policy is not None and item.policy.start_board is not None
        boards = first.loc[first["ball"] == item.policy.ball, "arrow_board"]
        assert boards.min() <= item.policy.start_board <= boards.max()
        assert f"board {item.policy.start_board:.0f}" in item.policy.sentence


def test_a_move_by_sight_takes_back_what_was_seen(made: tuple[Season, Fits]) -> None:
    """One board high at the pins is taken back by so many boards at the arrows as the slope says."""
    season, fits = made
    slope = fits.worth.slope
    said = {
        i.policy.boards_for_one_high for i in playbook(Fitted(season, fits))[1] if i.policy and not i.policy.keeps_line
    }
    if slope.mean < -2 * slope.sd:
        assert all(value is not None and value * -slope.mean == pytest.approx(1.0) for value in said)
    else:
        assert said <= {None}


def test_the_gain_is_the_policy_less_the_mix_thrown(made: tuple[Season, Fits]) -> None:
    season, fits = made
    options = candidates(Fitted(season, fits))
    for item in playbook(Fitted(season, fits))[1]:
        assert item.gain_over_now is not None and item.policy is not None
        places = options.places[item.bowler, item.pattern_class, item.phase]
        shots = np.array([options.choices[i]["shots"] for i in places])
        mix = options.following.pins[:, places] @ (shots / shots.sum())
        own = item.policy.worth.mean - mix.mean()
        assert item.gain_over_now.gain.mean == pytest.approx(own)


def test_a_ball_is_compared_by_all_its_shots_in_the_cell_a_line_by_its_own(made: tuple[Season, Fits]) -> None:
    season, fits = made
    options = candidates(Fitted(season, fits))
    rows = options.rows
    by_ball = rows.groupby(["bowler", "pattern_class", "phase", "ball"])["shots"].transform("sum")
    rules = fits.settings.evidence.model_copy(update={"min_shots": int(rows["shots"].max()) + 1})
    assert by_ball.max() > rules.min_shots
    lines, balls = ranked_places(options, rules), ball_places(options, rules)
    assert not any(lines.values())
    for cell, places in balls.items():
        result = [options.choices[i]["ball"] for i in places]
        assert len(result) == len(set(result))
        enough = {options.choices[i]["ball"] for i in options.places[cell] if by_ball[i] >= rules.min_shots}
        assert set(result) <= enough
        assert not any(way.keeps_line for way in ways_to_play(options, [], places).values())
    assert any(balls.values())
