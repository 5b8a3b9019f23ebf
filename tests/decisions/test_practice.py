"""The practice session: what it proposes, what it leaves alone, and the least lead it can show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipeline.decisions.advice.practice import SHOTS_A_GAME, practice
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.settings import Practice, Settings
from tests.decisions.drawn_choices import PINS_PER_STRIKE, Drawn, drawn, fits_with

PHASES = ("fresh", "transition", "late")


def _one_class(pins: np.ndarray, shots: int = 100, settings: Settings | None = None) -> tuple[Drawn, Fits]:
    """Three balls in three phases of one class, with these draws (n, 9) of what they are worth."""
    made = drawn(cells=1, choices=3, shots=shots, sd=1.0, seed=1, phases=PHASES)
    options = made.fits.cache[candidates.name()]
    rows = made.rows.assign(pattern_class="long")
    strike = 0.5 + pins / PINS_PER_STRIKE
    priced = replace(options.priced, pins=pins, score=180 + pins, strike=strike)
    return made, fits_with(Candidates(rows, priced, priced), settings or Settings(), 400)


def _draws(sd: list[float], mean: list[float], phases: int = 3) -> np.ndarray:
    rng = np.random.default_rng(3)
    return np.column_stack([rng.normal(m, s, 400) for _ in range(phases) for m, s in zip(mean, sd, strict=True)])


def test_shots_go_to_the_ball_whose_worth_is_open() -> None:
    made, fits = _one_class(_draws([0.5, 12.0, 0.5], [2.0, 0.0, -20.0]))
    (session,) = practice(Fitted(made.season, fits))
    assert session.pattern_class == "long" and session.gain >= 0.3
    assert {item.ball for item in session.shots} == {"ball1"}
    assert sum(item.shots for item in session.shots) == 6 * SHOTS_A_GAME
    # Phases follow the games as the settings cut a block: two, two, then late.
    assert [(i.phase, i.from_game, i.to_game, i.shots) for i in session.shots] == [
        ("fresh", 1, 2, 24),
        ("transition", 3, 4, 24),
        ("late", 5, 6, 24),
    ]
    assert all(item.logged == 100 and item.line == "third arrow" for item in session.shots)
    assert 0 < session.gain < session.gain_if_known and session.p_change is not None and session.p_change > 0.1
    for part in ("Games 1 to 2: 24 shots with the Ball1 from the third arrow.", "on long patterns", "with probability"):
        assert part in session.sentence


def test_nothing_is_proposed_where_little_is_to_be_gained() -> None:
    made, fits = _one_class(_draws([0.5, 0.5, 0.5], [6.0, 0.0, -6.0]))
    (session,) = practice(Fitted(made.season, fits))
    assert session.shots == [] and session.pattern_class is None and session.p_change is None
    assert session.gain < 0.3 and session.sentence.startswith("No practice of 6 games is expected to gain 0.3 pins")
    assert ". " not in session.sentence  # one sentence says it


def test_the_least_gain_and_the_games_are_settings() -> None:
    draws = _draws([3.0, 12.0, 3.0], [2.0, 0.0, -5.0])
    made, fits = _one_class(draws)
    strict = replace(fits, settings=Settings(practice=Practice(least_gain=40)), cache=dict(fits.cache))
    assert practice(Fitted(made.season, strict))[0].shots == []
    long = replace(fits, settings=Settings(practice=Practice(games=12)), cache=dict(fits.cache))
    more, usual = practice(Fitted(made.season, long))[0], practice(Fitted(made.season, fits))[0]
    assert sum(item.shots for item in more.shots) == 12 * SHOTS_A_GAME and more.gain > usual.gain
    assert more.smallest_in_session == pytest.approx((usual.smallest_in_session or 0) / np.sqrt(2))


def test_the_smallest_lead_that_shows_is_that_of_a_test_of_two_proportions() -> None:
    made, fits = _one_class(_draws([3.0, 12.0, 3.0], [2.0, 0.0, -5.0]), shots=200)
    (session,) = practice(Fitted(made.season, fits))
    # Two groups of n / 2, strikes at one half: SE of the difference sqrt(4 * 0.25 / n); 0.8416 is the normal quantile
    # of 80 %, once for the certainty asked and once for the power (Cohen's normal approximation, from memory).
    for shots, smallest in ((72, session.smallest_in_session), (1800, session.smallest_in_season)):
        assert smallest == pytest.approx(2 * 0.8416 * PINS_PER_STRIKE * np.sqrt(1.0 / shots), rel=0.02)


def test_one_ball_leaves_nothing_to_practise_for() -> None:
    made, fits = _one_class(_draws([3.0, 12.0, 3.0], [2.0, 0.0, -5.0]))
    options = fits.cache[candidates.name()]
    alone = Candidates(options.rows.assign(ball="ball0"), options.priced, options.following)
    (session,) = practice(Fitted(made.season, fits_with(alone, Settings(), 400)))
    assert session.shots == [] and "no pattern class has two balls" in session.sentence
