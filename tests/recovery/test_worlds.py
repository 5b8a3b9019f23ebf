"""The simulated worlds: seeds repeat, seasons are plausible and load, and their stated truth is what was bowled."""

from __future__ import annotations

from functools import partial
from importlib import import_module

import numpy as np
import pandas as pd
import pytest

from pipeline.settings import Settings
from pipeline.sport.lane import LINES
from tests.recovery.in_memory import open_simulated
from tests.recovery.worlds import WORLDS
from tests.recovery.worlds.club import make_club
from tests.recovery.worlds.season import WorldSeason

pytestmark = pytest.mark.slow


def play(world: str, seed: int, blocks: int) -> WorldSeason:
    """A season of that many blocks."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(import_module(WORLDS[world].__module__), "make_club", partial(make_club, blocks=blocks))
        return WORLDS[world](seed)


@pytest.fixture(scope="module", params=list(WORLDS))
def made(request: pytest.FixtureRequest) -> WorldSeason:
    return play(request.param, 3, blocks=15)


@pytest.mark.parametrize("world", WORLDS)
def test_a_seed_gives_one_season(world: str) -> None:
    one, again, other = (play(world, seed, blocks=3).shots for seed in (3, 3, 4))
    assert one["block"].nunique() == 3
    pd.testing.assert_frame_equal(one, again)
    assert not other["leave"].equals(one["leave"])


def test_what_is_bowled_is_what_the_truth_says(made: WorldSeason) -> None:
    """Mean of the complete games logged less the true mean of own throwing, within four standard errors each."""
    season = made
    with open_simulated(season, Settings()) as opened:
        games = opened.frame("cells/game_scores").dropna(subset=["score"])
    by_bowler = games.groupby("bowler")["score"].agg(["mean", "std", "size"])
    assert by_bowler["mean"].between(150, 230).all() and (by_bowler["size"] > 20).all()
    true = np.array([season.truth.own_pins(str(bowler)) for bowler in by_bowler.index])
    # nights are shared and each bowler's luck lasts, so a block counts as one game and a half at most
    error = by_bowler["std"] / np.sqrt(by_bowler["size"] / 2)
    assert (np.abs(by_bowler["mean"] - true) / error < 4).all()


def test_following_the_lane_beats_a_line_committed_to(made: WorldSeason) -> None:
    season = made
    bowler = sorted(season.frames["bowlers"]["bowler"])[0]
    balls = season.truth.balls(bowler)
    grid = pd.DataFrame(
        [(bowler, "medium", game, ball, line) for ball in balls for game in (1.0, 3.0) for line in LINES[1:4]],
        columns=["bowler", "pattern_class", "game", "ball", "line"],
    )
    held, followed = season.truth.held(grid)["pins"].mean(), season.truth.following(grid)["pins"].mean()
    assert held < followed < season.truth.perfectly_followed(grid)["pins"].mean()


def test_a_ball_brought_in_far_from_where_it_is_played_scores_less(made: WorldSeason) -> None:
    truth = made.truth
    bowler = sorted(made.frames["bowlers"]["bowler"])[0]
    for ball in truth.balls(bowler)[:2]:
        best = truth._starts[truth.club.balls["ball"].tolist().index(ball)][truth.club.pattern_class == 1].mean()
        at, off = (truth.played_from(bowler, "medium", ball, best + boards, 1, range(1, 3)) for boards in (0.0, 9.0))
        grid = pd.DataFrame({"bowler": bowler, "pattern_class": "medium", "game": [1.0, 2.0], "ball": ball})
        assert at == pytest.approx(truth.following(grid)["pins"].mean(), abs=4)
        assert off < at - 2


def test_own_throwing_is_the_balls_thrown_less_what_habit_loses(made: WorldSeason) -> None:
    """By hand, from the list of everything thrown, for one bowler on one pattern class in the second game."""
    truth = made.truth
    thrown = truth.own[(truth.own["replica"] > 0) & (truth.own["class"] == 1) & (truth.own["game"] == 2)]
    number = int(thrown["bowler"].iloc[0])
    mine = thrown[thrown["bowler"] == number]
    bowler = truth.club.bowlers["bowler"].iloc[number]
    names = truth.club.balls["ball"].to_numpy()[mine["ball"]]
    grid = pd.DataFrame({"bowler": bowler, "pattern_class": "medium", "game": 2.0, "ball": names})
    followed = truth.following(grid)["pins"].mean()
    assert truth.lost_by_habit(bowler, "medium", 2.0) == pytest.approx(followed - mine["score"].mean())
