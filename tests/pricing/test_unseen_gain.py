"""What a choice gained is drawn: the choice as made stays, and what stood before it is unsure."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest
from scipy.special import logit

from pipeline.models.fits import Fits
from pipeline.pricing.ledger.class_usual import ClassUsual
from pipeline.pricing.ledger.entry_nights import BetweenNights
from pipeline.pricing.ledger.unseen_gain import Stage, before_choosing, on_their_patterns

_N, _ROWS = 4_000, 3
FITS = cast(Fits, SimpleNamespace(generator=lambda _model: np.random.default_rng(1)))


def _stage() -> Stage:
    rest = np.full((_N, _ROWS), 0.5)
    return np.tile([0.3, 0.5, 0.7], (_N, 1)), rest, rest, rest


def test_chances_before_a_choice_are_unsure_by_what_it_gained_and_the_choice_is_not() -> None:
    lane, ball, line = (before_choosing(FITS, "oda", *[_stage()] * 3)[k][0] for k in range(3))
    assert (line == _stage()[0]).all()
    off_ball, off_lane = (logit(stage) - logit(_stage()[0]) for stage in (ball, lane))
    assert np.ptp(off_ball, axis=1).max() < 1e-9  # all choices of a bowler at once
    assert off_ball[:, 0].std() == pytest.approx(0.008, rel=0.05)
    assert off_lane[:, 0].std() == pytest.approx(0.008 * np.sqrt(2), rel=0.05)
    others = before_choosing(FITS, "joss", *[_stage()] * 3)[1][0]
    assert abs(np.corrcoef(off_ball[:, 0], others[:, 0])[0, 1]) < 0.1


def test_a_line_does_something_of_its_own_on_each_pattern_where_boards_say_how_much() -> None:
    made = pd.DataFrame({"bowler": "oda", "ball": "b", "pattern": ["p", "p", "q"], "line": ["1", "1", "1"]})
    weight = np.zeros(200)
    weight[19] = 1.0  # a share of 0.0975
    usual = cast(ClassUsual, SimpleNamespace(between_nights=BetweenNights(0.04, weight)))
    drawn = on_their_patterns(FITS, usual, made, _stage())[0] - _stage()[0]
    assert drawn.std(axis=0) == pytest.approx(np.sqrt(0.5 * 0.0975 * 0.04), rel=0.05)
    np.testing.assert_allclose(drawn[:, 0], drawn[:, 1], atol=1e-9)  # one line on one pattern
    assert abs(np.corrcoef(drawn[:, 0], drawn[:, 2])[0, 1]) < 0.1
    nothing, stage = cast(ClassUsual, SimpleNamespace(between_nights=None)), _stage()
    assert on_their_patterns(FITS, nothing, made, stage) is stage
