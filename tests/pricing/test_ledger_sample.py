"""The ledger of the committed sample season adds up in every kept game, whoever and whatever is selected."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.class_usual import CLASS, OWN, means
from pipeline.pricing.ledger.deliveries import PARTS, Ledger, open_ledger, own_chances
from pipeline.pricing.ledger.sums import entries, sums
from pipeline.sport.state_values import state_values
from pipeline.store.season import Season
from tests.pricing.ledger_games import BY
from tests.scoring import Delivery, score_game

pytestmark = pytest.mark.slow
SampleLedger = tuple[Ledger, pd.DataFrame, dict[str, float]]


@pytest.fixture(scope="module")
def sample_ledger(sample: tuple[Season, Fits]) -> SampleLedger:
    season, fits = sample
    ledger = open_ledger(Fitted(season, fits))
    start = {b: float(state_values(means(own_chances(fits, b))).before[0, 0]) for b in fits.mix.shots}
    return ledger, season.connection.table("valued_deliveries").df(), start


def test_every_complete_game_is_its_score(sample_ledger: SampleLedger) -> None:
    ledger, rows, start = sample_ledger
    logged = ledger.season.connection.sql("FROM deliveries ORDER BY block, bowler, game, frame, delivery").df()
    logged["felled"] = np.bitwise_count(logged["facing"]) - np.bitwise_count(logged["standing"])
    whole = rows[rows["complete"]][["block", "bowler", "game"]].drop_duplicates()
    logged = logged.merge(whole, on=["block", "bowler", "game"])
    games = {
        key: score_game([Delivery(int(felled)) for felled in game["felled"]]).total
        for key, game in logged.groupby(["block", "bowler", "game"])
    }
    checked = 0
    for (reference, *key), mine in rows[rows["complete"]].groupby(["reference", "block", "bowler", "game"]):
        expected = float(mine.loc[mine["position"].eq(1) & mine["rack_ball"], "expected"].iloc[0])
        assert expected + mine["change"].sum() == pytest.approx(games[tuple(key)], abs=1e-8)
        assert expected + mine[BY].to_numpy().sum() == pytest.approx(games[tuple(key)], abs=1e-8)
        if reference == OWN:
            assert expected == pytest.approx(start[key[1]])
        checked += 1
    assert checked > 1_800  # the sample season has some 900 complete games, each under two references
    assert not rows[["change", *BY]].isna().any(axis=None)


@pytest.mark.parametrize("by", ["bowler", "block", "pattern_class", "game", "ball", "lane", "month", "line", "frame"])
def test_parts_add_up_whatever_is_selected(sample_ledger: SampleLedger, by: str) -> None:
    rows = sample_ledger[1].assign(month=pd.to_datetime(sample_ledger[1]["date"]).dt.strftime("%Y-%m"))
    sums = rows.groupby(["reference", by], dropna=False)[["change", *BY]].sum()
    assert np.abs(sums["change"] - sums[BY].sum(axis=1)).max() < 1e-7


def test_parts_no_board_was_logged_for_are_one(sample_ledger: SampleLedger) -> None:
    rows = sample_ledger[1][sample_ledger[1]["rack_ball"] & ~sample_ledger[1]["foul"]]
    logged = rows["entry_half"].notna()
    assert logged.any() and not logged.all()
    assert (rows.loc[logged, "by_entry_and_carry"] == 0).all()
    assert (rows.loc[~logged, ["by_entry", "by_carry"]] == 0).all(axis=None)


def test_against_their_own_usual_nobody_gains_by_execution_in_the_long_run(sample_ledger: SampleLedger) -> None:
    rows = sample_ledger[1][sample_ledger[1]["reference"] == OWN]
    games = rows.groupby("bowler")[["block", "game"]].apply(lambda part: len(part.drop_duplicates()))
    mean = rows.groupby("bowler")[BY].sum().div(games, axis=0)
    # Sd of one game's score about its mean is near 25 pins; each part alone has less.
    assert (mean.abs().max(axis=1) < 3.5 * 25 / np.sqrt(games)).all()


def test_against_their_own_usual_lanes_and_lines_of_a_whole_season_come_to_little(sample_ledger: SampleLedger) -> None:
    # The usual is that of these very lanes and choices; what is left is that frames weigh by the bonus owed on them.
    rows = sample_ledger[1][(sample_ledger[1]["reference"] == OWN) & sample_ledger[1]["complete"]]
    games = rows.groupby("bowler")[["block", "game"]].apply(lambda part: len(part.drop_duplicates()))
    mean = rows.groupby("bowler")[["by_lane", "by_ball", "by_line"]].sum().div(games, axis=0)
    assert mean.abs().max(axis=None) < 0.5  # pins per game
    assert mean.sum(axis=1).abs().max() < 0.25


def test_the_part_entry_is_as_uncertain_as_the_nights_it_was_seen_on(sample_ledger: SampleLedger) -> None:
    # Usual boards are known by the nights they were seen on: the error of a mean over nights, as in any textbook.
    ledger, rows, _ = sample_ledger
    mine = rows[(rows["reference"] == OWN) & rows["complete"] & rows["entry_half"].notna()]
    checked = 0
    for bowler, shots in mine.groupby("bowler"):
        counts = entries(ledger, OWN, str(bowler))
        games = float(counts.totals["games"].sum())
        whole = [np.zeros(len(part), dtype=int) for part in (counts.racks, counts.leaves)]
        drawn = sums(counts, whole[0], whole[1], 1).draws[:, 0, PARTS.index("entry")].std() / games
        nights = shots.groupby("block")["by_entry"].sum()
        error = float(np.sqrt(len(nights)) * nights.std() / games)
        assert 0.5 < drawn / error < 1.7
        checked += 1
    assert checked > 3


def test_against_the_class_the_better_bowler_gains(sample_ledger: SampleLedger) -> None:
    rows = sample_ledger[1][(sample_ledger[1]["reference"] == CLASS) & sample_ledger[1]["complete"]]
    per = rows.groupby(["bowler", "block", "game"]).agg(change=("change", "sum"), pins=("pins", "sum"))
    by = per.groupby("bowler").mean()
    # One reference for all: who averages more gains more, pin for pin.
    assert np.allclose(by["pins"] - by["change"], by["pins"].iloc[0] - by["change"].iloc[0])
