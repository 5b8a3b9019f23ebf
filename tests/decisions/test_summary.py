"""The season's numbers; game scores against worked examples of the rules."""

from __future__ import annotations

import datetime as dt

import duckdb
import pandas as pd
import pytest

from pipeline.decisions.season.summary import game_scores, summarise_season
from pipeline.models.fits import fit_all
from pipeline.settings import Settings
from pipeline.sport.scoring import Delivery, score_game
from pipeline.store.season import EmptySeasonError, Season, prepare
from queries import names, sql
from tests.decisions.made_season import MadeBall, MadeSeason, make

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
            standing = FULL
            for delivery, count in enumerate(pins, 1):
                facing = standing
                for _ in range(count):
                    standing &= standing - 1
                rows.append((dt.date(2026, 1, 1), "b", "ann", 1, game, frame, delivery, "heron", facing, standing))
                standing = standing or FULL
    columns = ["date", "block", "bowler", "lane", "game", "frame", "delivery", "ball", "facing", "standing"]
    table = pd.DataFrame(rows, columns=columns)
    table = table.assign(first_ball=table["facing"] == FULL, foul=False, repaired=False, source_file="made", line=1)
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
    found = dict(zip(zip(scores["block"], scores["game"], strict=True), scores["score"], strict=True))
    assert found == expected and len(found) == 36


def test_the_summary_counts_what_was_made() -> None:
    season = make(MadeSeason([MadeBall("heron", "ann"), MadeBall("crane", "bob")], blocks=5, games=2, seed=1))
    season.connection.execute("UPDATE bowlers SET birth_year = 2010, coach = 'ann' WHERE bowler = 'bob'")
    summary = summarise_season(season, fit_all(season, Settings()))
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
        summarise_season(season, None)  # type: ignore[arg-type]
