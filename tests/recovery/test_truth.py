"""The simulator against rules it does not use: real scoring, frequencies of what it drew, and its committed sample."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.sport.leaves import parse_leave
from sample_logs import generate
from sample_logs import mechanism as m
from sample_logs.generate import SimulatedSeason, simulate_season, write_season
from tests.recovery.drawn_world import drawn_season
from tests.scoring import Delivery, score_game

SAMPLE = Path(generate.__file__).parent


@pytest.fixture(scope="module", params=["rich", "drawn"])
def season(request: pytest.FixtureRequest) -> SimulatedSeason:
    return simulate_season(11, blocks=24) if request.param == "rich" else drawn_season(11, blocks=24)


def _scores(season: SimulatedSeason) -> pd.Series:
    """Scores of every game by the playing rules (tests/scoring.py)."""
    rows = pd.concat([season.shots[["block", "bowler", "game"]], season.racks], axis=1)
    rows["felled"] = [
        int(before).bit_count() - int(after).bit_count()
        for before, after in zip(rows["facing"], rows["standing"], strict=True)
    ]
    games = rows.groupby(["block", "bowler", "game"], sort=False)["felled"].apply(list)
    return games.map(lambda felled: score_game([Delivery(pins) for pins in felled]).total)


def test_every_game_is_complete_and_averages_what_the_truth_says(season: SimulatedSeason) -> None:
    scores = _scores(season)
    assert scores.notna().all()
    by = scores.astype(float).groupby("bowler").agg(["mean", "std", "size"])
    own = season.truth.own_average().reindex(by.index)
    # Blocks of good and bad luck add to the spread of games: half as much again is allowed for.
    standard_error = 1.5 * by["std"] / np.sqrt(by["size"])
    assert (np.abs(by["mean"] - own) < 3.5 * standard_error).all()


def test_no_pin_stands_up_again(season: SimulatedSeason) -> None:
    racks = season.racks
    assert (racks["standing"] & ~racks["facing"]).eq(0).all()
    first = season.shots["delivery"] == 1
    assert racks.loc[first, "first_ball"].all() and racks.loc[first, "facing"].eq(m.FULL).all()


def test_true_strike_probabilities_are_the_frequencies(season: SimulatedSeason) -> None:
    bowled = season.truth.bowled.rename(columns={"load": "pair_load"})
    grid = season.truth._grid_of(bowled)
    for given in (grid, grid.drop(columns="arrow")):  # the very board, and one near the line's arrow
        truth = season.truth.true_strike_probability(given)
        tally = pd.DataFrame({"truth": truth, "drawn": bowled["chance"]}).assign(game=grid["game"], line=grid["line"])
        for column in ("game", "line"):
            groups = tally.groupby(column)[["truth", "drawn"]].agg(["mean", "size"])
            large = groups[groups["truth", "size"] > 800]
            assert np.abs(large["truth", "mean"] - large["drawn", "mean"]).max() < 0.025


def test_logged_leaves_are_the_racks_mirrored_by_hand() -> None:
    season = simulate_season(12, blocks=6)
    shots, racks = season.shots, season.racks
    hands = season.frames["bowlers"].set_index("bowler")["hand"]
    mirror = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}  # the rack seen in a mirror
    rows = zip(shots["bowler"], shots["leave"], racks["standing"], shots["foul"], strict=True)
    for bowler, leave, standing, foul in rows:
        if foul:
            continue
        pins = [pin for pin in range(1, 11) if standing >> (pin - 1) & 1]
        pins = [mirror[pin] for pin in pins] if hands[bowler] == "left" else pins
        assert parse_leave(leave) == sum(1 << (pin - 1) for pin in pins)


def test_the_committed_sample_is_what_the_seed_gives(tmp_path: Path) -> None:
    write_season(simulate_season(generate.SAMPLE_SEED, mistakes=generate.MISTAKES), tmp_path)
    written = sorted(path.name for path in tmp_path.iterdir())
    assert written == sorted(path.name for path in SAMPLE.iterdir() if path.suffix in (".csv", ".json"))
    for name in written:
        if name.endswith(".csv"):
            assert (tmp_path / name).read_text() == (SAMPLE / name).read_text(), name


def test_two_clubs_bowl_twice_as_much_and_share_nobody() -> None:
    one, two = simulate_season(5, blocks=4), simulate_season(5, scale=2, blocks=4)
    assert len(two.frames["blocks"]) == 2 * len(one.frames["blocks"])
    assert two.frames["balls"]["ball"].is_unique and two.frames["bowlers"]["bowler"].nunique() == 14
    assert 1.6 < len(two.shots) / len(one.shots) < 2.4
    assert two.shots.groupby("block")["bowler"].apply(lambda ids: ids.str.endswith("-2").nunique()).eq(1).all()


def test_wear_costs_pins_and_only_on_balls_that_hook() -> None:
    truth = simulate_season(6, blocks=8).truth
    loss = truth.wear_loss().set_index("ball")["pins_per_10_games"]
    polyester = truth.world.balls.set_index("ball")["cover"] == "polyester"
    assert loss[polyester].abs().max() == 0
    assert loss[~polyester].mean() < -0.5


def test_an_unknown_ball_is_refused() -> None:
    truth = simulate_season(6, blocks=3).truth
    grid = pd.DataFrame({"bowler": ["maren"], "pattern_class": ["short"], "game": [1], "ball": ["none"]})
    with pytest.raises(KeyError, match="does not know"):
        truth.true_strike_probability(grid)
