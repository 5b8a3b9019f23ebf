"""The gain over what the bowler throws now: against a hand computation, and against simulated truth."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.decisions.advice.gain import Thrown, costliest, games_by_cell
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.candidates import candidates
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.pricing.pinfall import pinfalls
from pipeline.settings import Settings
from pipeline.store.season import Season
from tests.decisions.made_season import MadeBall, MadeSeason, make


@pytest.fixture(scope="module")
def made() -> tuple[Season, Fits]:
    bag = [MadeBall("heron", effect=0.7), MadeBall("crane", effect=-0.3), MadeBall("stork", effect=-0.3)]
    season = make(MadeSeason(bag, blocks=40, games=6, boards=False))
    return season, fit_all(season, Settings())


def test_it_is_the_best_choice_less_the_mix_thrown_draw_by_draw(made: tuple[Season, Fits]) -> None:
    season, fits = made
    options = candidates(Fitted(season, fits))
    _, advice = playbook(Fitted(season, fits))
    for item in advice:
        assert item.best is not None and item.gain_over_now is not None
        places = options.places[item.bowler, item.pattern_class, item.phase]
        shots = np.array([options.choices[i]["shots"] for i in places])
        at = next(i for i in places if options.choices[i]["ball"] == item.best.ball)
        by_hand = options.priced.pins[:, at] - (options.priced.pins[:, places] * shots).sum(axis=1) / shots.sum()
        now = item.gain_over_now
        assert now.gain.mean == pytest.approx(by_hand.mean())
        assert now.p_gain == pytest.approx((by_hand > 0).mean())
        assert now.pins_a_season == pytest.approx(now.games * by_hand.mean())
        assert now.instead_of_ball in {"crane", "stork"} and now.share_now == pytest.approx(1 / 3, abs=0.05)


def test_games_are_those_logged_in_the_cell(made: tuple[Season, Fits]) -> None:
    season, _ = made
    assert games_by_cell(season) == {("ann", "medium", phase): 80 for phase in ("fresh", "transition", "late")}


def test_it_recovers_the_true_gain(made: tuple[Season, Fits]) -> None:
    """Truth: the bowler's own price of a strike at the chances that made the season, the three balls in turn."""
    season, fits = made
    _, advice = playbook(Fitted(season, fits))
    shape = pinfalls(Fitted(season, fits))["ann"]
    chance = 1 / (1 + np.exp(-(0.2 + np.array([0.7, -0.3, -0.3]))))
    price = np.asarray(shape.mean(chance))
    true = price[0] - price.mean()
    assert true > 10  # a real difference, so that an estimate of zero fails
    for item in advice:
        assert item.gain_over_now is not None
        assert item.gain_over_now.gain.lo95 <= true <= item.gain_over_now.gain.hi95


def test_what_is_thrown_already_gains_nothing() -> None:
    season = make(MadeSeason([MadeBall("heron")], blocks=12, games=3, boards=False))
    _, advice = playbook(Fitted(season, fit_all(season, Settings())))
    for item in advice:
        if item.gain_over_now is not None:
            assert item.gain_over_now.gain.mean == pytest.approx(0, abs=1e-9)
            assert item.gain_over_now.instead_of_ball is None and "all you throw." in item.gain_over_now.sentence


def test_what_to_give_up_is_the_ball_that_costs_most_not_the_one_thrown_most() -> None:
    """By hand: the crane costs 0.2 x 4 + 0.1 x 2 = 1.0 pins per game, the stork 0.4 x 1, the heron gains."""
    crane = [Thrown("crane", 0, 0.2, 0.8), Thrown("crane", 1, 0.1, 0.2)]
    stork, heron = Thrown("stork", 2, 0.4, 0.4), Thrown("heron", 3, 0.3, -0.9)
    assert costliest([heron, stork, *crane]) == 0  # its line thrown most
    assert costliest([heron, stork]) == 2
    better = [Thrown("heron", 3, 0.3, -0.9), Thrown("tern", 4, 0.5, -0.1)]
    assert costliest(better) == 4  # nothing costs anything: the one thrown most
