"""The ledger of ball changes: counted by hand, timed by hand, and against known truths."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.decisions.transition.ball_changes import ball_changes, games_late, timing_of
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Evidence, Settings
from pipeline.store.season import Season, prepare
from tests.decisions.made_season import MadeBall, MadeSeason, make

FEW = Settings(evidence=Evidence(draws=300))


def _fitted(plan: MadeSeason) -> tuple[Season, Fits]:
    season = make(plan, FEW)
    return season, fit_all(season, FEW)


def test_games_late_counts_from_the_first_game_the_new_ball_was_worth_more() -> None:
    games = np.array([1.0, 2.0, 3.0, 4.0])
    delta = np.array([[-5, 3, 5, 6], [2, 2, 2, 2], [-1, -1, -1, 4], [-1, -2, -3, -4]], dtype=float).T
    assert games_late(delta, games, since=1.0, changed=3.5).tolist() == [1.5, 2.5, -0.5, -np.inf]


def test_no_change_is_late_for_games_in_which_the_old_ball_was_not_in_hand() -> None:
    games = np.array([1.0, 2.0, 3.0, 4.0])
    delta = np.array([[2, 2, 2, 2], [3, 3, -1, 4], [3, -1, -1, -1]], dtype=float).T
    # The old ball was taken in hand in the fifth frame of game 2 and changed in the sixth of game 3.
    assert games_late(delta, games, since=2.4, changed=3.5) == pytest.approx([1.1, 1.1, -np.inf])
    # From the third frame of game 1 to the third of game 2 is one game to the digit, so on time.
    assert games_late(np.ones((2, 1)), games[:2], since=1.2, changed=2.2).tolist() == [1.0]


@pytest.mark.parametrize(
    ("late", "timing", "probability"),
    [
        ([2.5] * 9 + [0.0], "late", 0.9),
        ([-2.0] * 9 + [0.0], "early", 0.9),
        ([-np.inf] * 9 + [-2.0], "not called for", 0.9),
        ([0.5] * 9 + [3.0], "on time", 0.9),
        ([0.5] * 5 + [3.0] * 5, "on time", 0.5),
    ],
)
def test_the_most_likely_timing_is_named_with_its_probability(
    late: list[float], timing: str, probability: float
) -> None:
    assert timing_of(np.array(late)) == (timing, probability)


def test_every_change_is_listed_with_the_ten_shots_on_either_side() -> None:
    # Three balls in order over three games: 30 frames, so changes at the first frame of games 2 and 3.
    bag = [MadeBall("aa"), MadeBall("bb"), MadeBall("cc"), MadeBall("sp", spare_ball=True)]
    plan = MadeSeason(bag, blocks=4, in_order=True, hands={"ann": "left"})
    season, fits = _fitted(plan)
    ledger = ball_changes(Fitted(season, fits))[0]
    assert [(c.block, c.game, c.from_ball, c.to_ball) for c in ledger] == [
        (f"b{block:03d}", game, old, new) for block in range(4) for game, old, new in ((2, "aa", "bb"), (3, "bb", "cc"))
    ]
    one = ledger[0]
    assert (one.shots_before, one.shots_after) == (10, 10)
    shots = season.connection.execute(
        "SELECT game, strike FROM first_balls WHERE block = 'b000' ORDER BY game, frame, delivery"
    ).fetchall()
    assert one.strike_before == pytest.approx(np.mean([strike for game, strike in shots if game == 1][-10:]))
    assert one.strike_after == pytest.approx(np.mean([strike for game, strike in shots if game == 2][:10]))
    assert 0 < one.expected_had_stayed.mean < 1 and 0 < one.expected_after.mean < 1


def test_shots_of_a_third_ball_and_of_a_spare_ball_do_not_count() -> None:
    season, fits = _fitted(
        MadeSeason([MadeBall("aa"), MadeBall("bb"), MadeBall("sp", spare_ball=True)], blocks=2, in_order=True)
    )
    connection = season.connection
    before = ball_changes(Fitted(season, fits))[0]
    connection.execute("UPDATE deliveries SET ball = 'sp' WHERE block = 'b000' AND game = 1 AND frame = 5")
    after = ball_changes(Fitted(prepare(connection, FEW), fits))[0]
    assert [c.game for c in after] == [c.game for c in before] == [2, 2]
    connection.execute("UPDATE deliveries SET ball = 'bb' WHERE block = 'b000' AND game = 1 AND frame = 9")
    detour = [c for c in ball_changes(Fitted(prepare(connection, FEW), fits))[0] if c.block == "b000"]
    assert [(c.from_ball, c.to_ball) for c in detour] == [("aa", "bb"), ("bb", "aa"), ("aa", "bb")]
    assert (detour[0].shots_before, detour[0].shots_after) == (7, 1)  # frames 1-8 but the one with the spare ball
    assert detour[1].shots_before == 1
    assert 6 <= detour[1].shots_after <= 8  # the tenth frame, which may hold up to three, and five of game 2


def test_no_change_no_ledger() -> None:
    season, fits = _fitted(MadeSeason([MadeBall("aa")], blocks=3))
    assert ball_changes(Fitted(season, fits)) == ([], [])
    season, fits = _fitted(MadeSeason([MadeBall("aa"), MadeBall("bb")], blocks=2, boards=False, patterns=(None,)))
    ledger = ball_changes(Fitted(season, fits))[0]
    assert len(ledger) > 0 and all(change.pattern_class == "unposted" for change in ledger)


def test_the_average_gain_is_that_of_the_changes_with_an_interval_of_its_own() -> None:
    season, fits = _fitted(MadeSeason([MadeBall("aa"), MadeBall("bb", cover="pearl")], blocks=8, in_order=True))
    ledger, in_all = ball_changes(Fitted(season, fits))
    assert [one.bowler for one in in_all] == sorted({change.bowler for change in ledger})
    for one in in_all:
        own = [change for change in ledger if change.bowler == one.bowler]
        assert one.changes == len(own) and one.shots == sum(c.shots_before + c.shots_after for c in own)
        assert one.gain.mean == pytest.approx(np.mean([change.gain.mean for change in own]))
        assert one.gain.lo80 < one.gain.mean < one.gain.hi80
        # changes of one bowler share the model's doubt, so averaging many narrows little, but never widens
        assert one.gain.hi80 - one.gain.lo80 <= max(c.gain.hi80 - c.gain.lo80 for c in own) + 1e-9


def test_leaving_a_ball_that_dies_for_one_that_lives_is_a_gain_and_the_reverse_a_loss() -> None:
    # aa starts half a logit ahead and loses as much a game; the bowler sees both balls at every game of the season.
    fall = {"aa": -0.5}
    learn = MadeSeason(
        [MadeBall("aa", effect=0.9), MadeBall("bb", cover="pearl")], blocks=60, games=5, game_effect=fall, block_sd=0.05
    )
    season, fits = _fitted(learn)
    ledger = ball_changes(Fitted(season, fits))[0]
    late_in = [c for c in ledger if c.game >= 4]
    to_bb = np.mean([c.gain.mean for c in late_in if c.to_ball == "bb"])
    to_aa = np.mean([c.gain.mean for c in late_in if c.to_ball == "aa"])
    assert to_bb > 5 and to_aa < -5
    early = [c for c in ledger if c.game == 1 and c.to_ball == "bb"]
    assert np.mean([c.gain.mean for c in early]) < to_bb
    assert {c.timing for c in early} <= {"early", "cannot tell", "on time", "not called for"}
