"""How many more shots: against the closed form, and against questions really answered with that many shots."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from pipeline.decisions.wording.terms import shots_in_words
from pipeline.inference.sample_size import (
    MOST_SHOTS,
    SIZES,
    noise_of_one_shot,
    shots_to_narrow,
    shots_to_settle,
    smallest_sample,
)


def test_what_one_shot_says_is_the_variance_of_a_strike_at_its_price() -> None:
    strike = np.random.default_rng(1).normal(0.4, 0.03, 5000)
    assert noise_of_one_shot(120 * strike + 7, strike) == pytest.approx(120**2 * 0.4 * 0.6, rel=0.01)
    assert noise_of_one_shot(np.ones(9), np.full(9, 0.4)) == 0


def test_an_sd_is_narrowed_from_what_is_known_already() -> None:
    # The posterior variance of a normal mean (Gelman et al., Bayesian Data Analysis, section 2.5, from memory):
    # 1 / (1/100 + n/3600) = 25 at n = 108.
    assert shots_to_narrow(10.0, 3600.0, 5.0) == 108
    assert shots_to_narrow(5.0, 3600.0, 5.0) == 0
    assert shots_to_narrow(5.0, 3600.0, 0.0) == MOST_SHOTS


@pytest.mark.parametrize(
    ("mean", "little", "sure"), [(0.0, 0.0, 0.8), (1.5, 0.0, 0.8), (3.0, 0.0, 0.8), (1.0, 1.0, 0.8), (1.5, 0.0, 0.9)]
)
def test_that_many_shots_do_settle_it_as_often_as_asked(mean: float, little: float, sure: float) -> None:
    sd, noise, often = 6.0, 2500.0, 0.8
    n = shots_to_settle(mean, sd, noise, sure, little, often)
    assert n in SIZES

    def settled_after(shots: int) -> float:
        rng = np.random.default_rng(4)
        truth = rng.normal(mean, sd, 20_000)
        seen = truth + rng.normal(0, np.sqrt(noise / shots), 20_000)
        left = 1 / (1 / sd**2 + shots / noise)
        known = left * (mean / sd**2 + seen * shots / noise)
        lead = np.abs(known) / np.sqrt(left)
        knowing = np.sqrt(left) * (norm.pdf(lead) - lead * norm.cdf(-lead))  # E max(N(-m, s^2), 0)
        return float(((norm.cdf(lead) >= sure) | (knowing <= little)).mean())

    # sizes rise by a fifth or so, hence the room
    assert often - 0.02 < settled_after(n) < often + 0.05
    assert settled_after(n // 2) < often - 0.03


def test_what_is_sure_takes_no_more_and_what_takes_too_many_is_said_to() -> None:
    assert shots_to_settle(6.0, 6.0, 2500.0, 0.8) == 0  # 84 % sure already
    assert shots_to_settle(0.0, 1.0, 2500.0, 0.8) == MOST_SHOTS
    assert shots_to_settle(0.0, 2.0, 2500.0, 0.8, little=1.0) == 0  # 2 / sqrt(2 pi) = 0.8 at stake
    assert shots_in_words(MOST_SHOTS) == "more than 9,999 more shots"
    assert shots_in_words(1200) == "about 1,200 more shots" and shots_in_words(1) == "about 1 more shot"


def test_the_fewest_that_will_do_are_found() -> None:
    assert smallest_sample(lambda size: size >= 130) == 150
    assert smallest_sample(lambda size: True) == SIZES[0] and smallest_sample(lambda size: False) == MOST_SHOTS
