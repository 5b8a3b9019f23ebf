"""The season's numbers; game scores against worked examples of the rules."""

from __future__ import annotations

import datetime as dt

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.season.summary import game_scores, summarise_season
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from pipeline.store.season import EmptySeasonError, Season, prepare
from queries import names, sql
from tests.decisions.made_season import MadeBall, MadeSeason, make
from tests.scoring import Delivery, score_game

FULL = 1023

# World Bowling / IBF Universal Playing Rules 2.1.2: X X X 7-2 8/ F9 X 7/ 9- XX8, a game of 180.
WORKED = [[10], [10], [10], [7, 2], [8, 2], [0, 9], [10], [7, 3], [9, 0], [10, 10, 8]]
# Scottish Tenpin Bowling Association Playing Rules 1.1.2: the same with a last frame of XX7, a game of 179.
SCOTTISH = [*WORKED[:9], [10, 10, 7]]


def season_of(games: list[list[list[int]]]) -> Season:
    """A season of these games (pins by frame), each a game of its own in one block."""
    connection = duckdb.connect()
    for name in names("schema"):
        connection.execute(sql(name))
    rows = []
    for game, frames in enumerate(games, 1):
        for frame, pins in enumerate(frames, 1):
            standing = 0
            for delivery, count in enumerate(pins, 1):
                first_ball = standing == 0
                facing = standing = standing or FULL
                for _ in range(count):
                    standing &= standing - 1
                rows.append((game, frame, delivery, facing, standing, first_ball))
    columns = ["game", "frame", "delivery", "facing", "standing", "first_ball"]
    table = pd.DataFrame(rows, columns=columns).assign(date=dt.date(2026, 1, 1), block="b", bowler="ann", lane=1)
    table = table.assign(ball="heron", foul=False, repaired=False, source_file="made", line=1)
    connection.register("made_rows", table)
    connection.execute("INSERT INTO deliveries BY NAME SELECT * FROM made_rows")
    return prepare(connection, Settings())


@pytest.mark.parametrize(
    ("frames", "total"),
    [
        (WORKED, 180),
        (SCOTTISH, 179),
        ([[10]] * 9 + [[10, 10, 10]], 300),  # twelve strikes: rule of every body
        ([[0, 0]] * 10, 0),
        ([[9, 1]] * 9 + [[9, 1, 9]], 190),
        ([[10]] * 3 + [[0, 0]] * 7, 60),  # three strikes, then misses: 30 + 20 + 10
    ],
)
def test_scores_are_those_of_the_rules(frames: list[list[int]], total: int) -> None:
    assert game_scores(season_of([frames]))["score"].tolist() == [total]


@pytest.mark.parametrize(
    "frames",
    [WORKED[:9], [*WORKED[:9], [10, 10]], [*WORKED[:3], [7], *WORKED[4:]], [*WORKED[:9], [7, 3]], WORKED[1:]],
)
def test_a_game_that_is_not_complete_has_no_score(frames: list[list[int]]) -> None:
    assert game_scores(season_of([frames, WORKED]))["score"].isna().tolist() == [True, False]


def test_scores_equal_the_scorer_frame_by_frame() -> None:
    season = make(MadeSeason([MadeBall("heron")], blocks=12, games=3, seed=9))
    rows = season.table("deliveries").sort_values(["block", "game", "frame", "delivery"])
    expected = {}
    for key, game in rows.groupby(["block", "game"]):
        pins = [bin(a).count("1") - bin(b).count("1") for a, b in zip(game["facing"], game["standing"], strict=True)]
        expected[key] = score_game([Delivery(count, False) for count in pins]).total
    scores = game_scores(season)
    by_key = dict(zip(zip(scores["block"], scores["game"], strict=True), scores["score"], strict=True))
    assert by_key == expected and len(by_key) == 36


def _frame(rng: np.random.Generator, kind: str) -> list[int]:
    """Two balls of a frame, or one: a strike, a spare, or an open frame, all alike likely within their kind."""
    if kind == "strike":
        return [10]
    first = int(rng.integers(10))
    return [first, 10 - first if kind == "spare" else int(rng.integers(10 - first))]


def _game(rng: np.random.Generator) -> list[list[int]]:
    """A legal game whose frames are strikes, spares or open with equal chance, so that every shape comes up."""
    frames = [_frame(rng, str(kind)) for kind in rng.choice(["strike", "spare", "open"], 10)]
    last = frames[9]
    if last == [10]:
        frames[9] = [10, *_frame(rng, str(rng.choice(["strike", "spare", "open"])))]
        frames[9] += [int(rng.integers(11))] * (len(frames[9]) == 2)
    elif sum(last) == 10:
        frames[9] = [*last, int(rng.integers(11))]
    return frames


def _shape(frames: list[list[int]]) -> tuple[str, ...]:
    return tuple("X" if pins[0] == 10 else "/" if sum(pins[:2]) == 10 else "-" for pins in frames)


def test_sql_scores_equal_the_rules_over_every_shape_of_legal_games() -> None:
    # the rules as tests/scoring.py has them, which published examples hold (tests/published/test_scoring_rules.py)
    rng = np.random.default_rng(20)
    games = [_game(rng) for _ in range(4000)]
    threes = {shape[at : at + 3] for shape in map(_shape, games) for at in range(8)}
    assert len(threes) == 27 and len({(*_shape(game)[7:], len(game[9])) for game in games}) >= 27
    expected = [score_game([Delivery(count) for pins in game for count in pins]).total for game in games]
    season = season_of(games)
    assert game_scores(season).sort_values("game")["score"].tolist() == expected
    by_times = "SELECT sum(felled * times) AS score FROM frame_states WHERE complete GROUP BY game ORDER BY game"
    assert season.connection.execute(by_times).df()["score"].tolist() == expected


def test_the_summary_counts_what_was_made() -> None:
    season = make(MadeSeason([MadeBall("heron", "ann"), MadeBall("crane", "bob")], blocks=5, games=2, seed=1))
    season.connection.execute("UPDATE bowlers SET birth_year = 2010, coach = 'ann' WHERE bowler = 'bob'")
    summary = summarise_season(Fitted(season, fit_all(season, Settings())))
    assert (summary.blocks, summary.games, len(summary.bowlers)) == (5, 20, 2)
    assert summary.share_logged["arrow_board"] == 1 and summary.share_logged["rev_rpm"] == 0
    ann, bob = summary.bowlers
    assert (ann.minor, bob.minor, ann.coach, bob.coach) == (False, True, None, "ann")
    assert ann.games == 10 and ann.shots >= 100
    assert ann.average == pytest.approx(game_scores(season).query("bowler == 'ann'")["score"].mean())


def test_an_empty_season_says_what_to_do() -> None:
    season = season_of([WORKED])
    season.connection.execute("DELETE FROM deliveries")
    with pytest.raises(EmptySeasonError, match="Load a folder"):
        summarise_season(Fitted(season, None))  # type: ignore[arg-type]
