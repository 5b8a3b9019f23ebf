"""The verdict table on made-up verdicts of known calibration, and the true utilities and skills against the world."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.settings import BlockPhases, Costs, PocketLimits
from sample_logs.generate import SimulatedSeason, simulate_season
from tests.recovery import verdict_truths as true_of
from tests.recovery.verdict_table import EVERY, verdict_section, verdict_table


def made(rng: np.random.Generator, kind: str, chance_of_right: float | None) -> pd.DataFrame:
    """100 seasons of 80 verdicts; right as often as stated, or with a chance of its own."""
    stated = rng.uniform(0.5, 1.0, 8000)
    right = rng.random(8000) < (stated if chance_of_right is None else chance_of_right)
    return pd.DataFrame(
        {"world": "made", "seed": np.repeat(np.arange(100), 80), "kind": kind, "stated": stated, "right": right}
    )


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    rng = np.random.default_rng(11)
    return verdict_table(pd.concat([made(rng, "honest", None), made(rng, "boastful", 0.6)], ignore_index=True))


def test_honest_verdicts_are_right_as_often_as_they_say(table: pd.DataFrame) -> None:
    honest = table[table["verdict"] == "honest"]
    # Bins of stated probability from one half up: 0.6, 0.7, 0.8, 0.9, 0.95 and 1, and the row over all.
    assert len(honest) == 7
    assert (honest["excess"].abs() < 3.5 * honest["excess_se"]).all()
    every = honest[honest["stated_bin"] == EVERY].iloc[0]
    assert every["count"] == 8000 and every["seasons"] == 100
    # Mean of a uniform on (0.5, 1); binomial se sqrt(E[p(1-p)] / 8000), E[p(1-p)] = 1/2 - 1/3 = 1/6.
    assert every["mean_stated"] == pytest.approx(0.75, abs=0.01)
    assert every["excess_se"] == pytest.approx(np.sqrt(1 / 6 / 8000), rel=0.3)


def test_boastful_verdicts_are_shown_up_where_they_boast(table: pd.DataFrame) -> None:
    boastful = table[table["verdict"] == "boastful"].set_index("stated_bin")
    assert boastful.loc["0.95 to 1.00", "excess"] == pytest.approx(0.6 - 0.975, abs=0.06)
    assert boastful.loc["0.50 to 0.60", "excess"] == pytest.approx(0.6 - 0.55, abs=0.06)
    page = verdict_section(table)
    marked = [line for line in page.splitlines() if "confident" in line]
    assert any("| boastful | 0.95 to 1.00 |" in line and "overconfident" in line for line in marked)
    assert not any("| honest |" in line for line in marked)


def test_seasons_that_move_together_widen_the_error() -> None:
    # Ten seasons, each wholly right or wholly wrong: the error is that of ten verdicts, not of a thousand.
    right = np.repeat([True, False] * 5, 100)
    results = pd.DataFrame({"world": "made", "seed": np.repeat(np.arange(10), 100), "kind": "a", "stated": 0.5})
    row = verdict_table(results.assign(right=right)).iloc[0]
    # By hand: ten means of 0 or 1, half each: sd sqrt(10 / 9) / 2, over sqrt(10) is 1/6.
    assert row["share_right_se"] == pytest.approx(1 / 6, abs=1e-4)


@pytest.fixture(scope="module")
def season() -> SimulatedSeason:
    return simulate_season(5, blocks=12)


def test_true_utilities_follow_wear_and_cost(season: SimulatedSeason) -> None:
    truth, costs = season.truth, Costs()
    truths = true_of.utilities(truth, costs)
    assert (truths["keep"] - truths["clean"]).to_numpy() == pytest.approx(costs.clean)
    worn = truth.wear_now[truth.world.ball_number(pd.Series(truths.index))]
    gain = truths["resurface"] + costs.resurface - truths["keep"]
    # A resurfacing gives back the wear there is: nothing for a fresh ball, the more the older it is.
    assert (gain[worn < 0.5].abs() < 1e-9).all()
    assert np.corrcoef(worn, gain)[0, 1] > 0.6 and gain[worn > 30].mean() > 1


def test_a_ball_typical_of_its_class_gains_nothing_from_its_like(season: SimulatedSeason) -> None:
    truth, costs = true_of.typical(season.truth), Costs()
    truths = true_of.utilities(truth, costs)
    same = truths["retire"] + costs.retire - truths["resurface"] - costs.resurface
    assert same.to_numpy() == pytest.approx(0, abs=1e-9)


def test_true_rates_at_the_pocket_agree_with_what_was_bowled(season: SimulatedSeason) -> None:
    truth = season.truth
    truths = true_of._at_the_pocket(truth, BlockPhases(), PocketLimits())
    shots = season.shots.assign(first=season.racks["first_ball"], down=season.racks["standing"] == 0)
    shots = shots[shots["first"] & shots["entry_board"].notna()]
    hits = shots["entry_board"].between(16.5, 18.5)  # the settings' pocket: board 17.5, one either side
    bowled = shots.assign(hit=hits).groupby("bowler")["hit"].agg(["mean", "size"])
    at = truth.world.bowler_number(pd.Series(bowled.index))
    # The true rates are adjusted for conditions, the raw ones are not: a few points of rate apart, and ranked alike.
    assert np.abs(bowled["mean"].to_numpy() - truths["pocket"][at]).max() < 0.08
    assert np.corrcoef(bowled["mean"], truths["pocket"][at])[0, 1] > 0.8
    struck = shots[hits].groupby("bowler")["down"].mean()
    assert np.abs(struck.to_numpy() - truths["carry"][at]).max() < 0.12
