"""Leaves, entry boards and prices of a whole simulated season, held against its own raw counts and scores."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.season.entry import entry_points
from pipeline.decisions.season.leaves import leave_shares
from pipeline.everyone import EVERYONE
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.pricing.pins import price
from pipeline.pricing.rate_draws import average_rates, average_score
from pipeline.settings import Evidence, Settings
from pipeline.store.season import Season
from sample_logs.generate import simulate_season
from tests.recovery.in_memory import open_simulated

SETTINGS = Settings(evidence=Evidence(draws=300))


@pytest.fixture(scope="module")
def season() -> Iterator[Season]:
    with open_simulated(simulate_season(seed=4, blocks=14), SETTINGS) as opened:
        yield opened


@pytest.fixture(scope="module")
def stages() -> list[str]:
    return []


@pytest.fixture(scope="module")
def fits(season: Season, stages: list[str]) -> Fits:
    return fit_all(season, SETTINGS, lambda stage, _share: stages.append(stage))


def test_every_stage_is_reported(fits: Fits, stages: list[str]) -> None:
    assert len(stages) == len(set(stages)) >= 4
    assert fits.n_draws == 300


def test_own_average_is_near_the_scores_bowled(season: Season, fits: Fits) -> None:
    scores = season.frame("cells/game_scores").dropna(subset=["score"]).groupby("bowler")["score"]
    for bowler, score in scores:
        own = average_score(fits, str(bowler))
        error = np.hypot(own.std(), score.std() / np.sqrt(len(score)))
        assert abs(own.mean() - score.mean()) < 3.5 * error


def test_own_strike_rate_is_near_the_one_logged(fits: Fits) -> None:
    for bowler, shots in fits.mix.shots.items():
        logged = fits.mix.strikes[bowler] / shots
        rates = average_rates(fits, bowler).strike
        assert abs(rates.mean() - logged) < 4 * np.sqrt(logged * (1 - logged) / shots)


def test_leave_shares_are_the_counts(season: Season, fits: Fits) -> None:
    shares = leave_shares(Fitted(season, fits))
    counts = season.frame("cells/leave_cells").groupby(["bowler", "leave"])["shots"].sum()
    assert {(row.bowler, row.leave): row.count for row in shares} == counts.to_dict()
    for bowler in fits.mix.shots:
        mine = [row for row in shares if row.bowler == bowler]
        missed = 100 * (1 - fits.mix.strikes[bowler] / fits.mix.shots[bowler])
        assert sum(row.per_100_first_balls for row in mine) == pytest.approx(missed)
        lost = [row.pins_per_game_lost for row in mine]
        assert lost == sorted(lost, reverse=True) and min(lost) >= 0


def test_pins_lost_add_up_to_a_clean_game(season: Season, fits: Fits) -> None:
    # Making every spare is worth about the sum of making each, as the score is nearly linear in spares.
    shares = leave_shares(Fitted(season, fits))
    for bowler in fits.mix.shots:
        lost = sum(row.pins_per_game_lost for row in shares if row.bowler == bowler)
        rates = average_rates(fits, bowler)
        clean = replace(rates, spare=np.ones_like(rates.spare), open_pins=np.zeros_like(rates.spare))
        gain = float((clean.score() - rates.score()).mean())
        assert lost == pytest.approx(gain, rel=0.12)


def test_conversion_intervals_hold_the_raw_rate_where_there_is_plenty(season: Season, fits: Fits) -> None:
    raw = season.frame("cells/spare_cells").set_index(["bowler", "leave"])
    plenty = [row for row in leave_shares(Fitted(season, fits)) if row.leave == "10" and row.count >= 40]
    assert plenty
    for row in plenty:
        tries = raw.loc[(row.bowler, row.leave)]
        rate = tries["made"] / tries["attempts"]
        assert row.conversion.lo95 - 0.05 < rate < row.conversion.hi95 + 0.05
        assert row.conversion.hi95 - row.conversion.lo95 < 0.35


def test_entry_curves(season: Season, fits: Fits) -> None:
    points = pd.DataFrame([point.model_dump() for point in entry_points(Fitted(season, fits))])
    logged = season.frame("cells/entry_cells").dropna(subset=["entry_half"])
    assert set(points["bowler"]) == {EVERYONE, *logged["bowler"].unique()}
    everyone = points[points["bowler"] == EVERYONE].set_index("entry_board")
    counts = logged.groupby("entry_half")[["shots", "strikes"]].sum()
    assert everyone["shots"].sum() >= 0.97 * counts["shots"].sum()
    for board, row in everyone.iterrows():
        if row["shots"] >= 40:
            assert row["raw"] == pytest.approx(counts.loc[board, "strikes"] / counts.loc[board, "shots"])
    # The invented world carries best at 17.5 and far worse three boards to either side.
    mean = everyone["strike"].map(lambda estimate: estimate["mean"])
    assert abs(mean.idxmax() - 17.5) <= 1.0
    assert mean[17.5] > mean[14.5] + 0.3 and mean[17.5] > mean[20.5] + 0.3


def test_no_entry_board_logged_means_no_curve(season: Season, fits: Fits) -> None:
    class Bare:
        def frame(self, name: str) -> pd.DataFrame:
            return season.frame(name).assign(entry_half=np.nan)

    assert entry_points(Fitted(Bare(), replace(fits, cache={}))) == []  # type: ignore[arg-type]


def test_logged_combinations_can_all_be_priced(fits: Fits) -> None:
    priced = price(fits, fits.mix.cells)
    assert priced.pins.shape == (300, len(fits.mix.cells))
    assert np.isfinite(priced.pins).all()
    assert np.abs(priced.pins.mean(axis=0)).max() < 80
