"""Choices on their very lines: the chance of a strike moves by the log odds that the worth model gives the line."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest
from scipy.special import logit

from pipeline.models.fits import Fits
from pipeline.pricing.ledger.stages import UsualLines
from pipeline.settings import Settings


def test_a_line_moves_the_strike_by_its_log_odds_and_nothing_else() -> None:
    given = np.array([[0.0, -0.7], [0.2, -0.5]])
    asked: list[pd.DataFrame] = []

    def draws(grid: pd.DataFrame, n: int, _rng: np.random.Generator) -> np.ndarray:
        asked.append(grid)
        return given[:n]

    worth = SimpleNamespace(ball_classes={"b-1": "urethane"}, seen_line_draws=draws)
    fits = SimpleNamespace(worth=worth, n_draws=2, settings=Settings())
    fits.generator = lambda _name: np.random.default_rng(0)
    made = pd.DataFrame({"bowler": "ann", "ball": "b-1", "game": [1, 3], "line": ["third arrow", "first arrow"]})
    followed = tuple(np.array([[0.5, 0.6], [0.4, 0.3]]) + step for step in (0.0, 0.1, 0.2, 0.3))
    found = UsualLines().on(cast(Fits, fits), made, followed)  # type: ignore[arg-type]
    assert logit(found[0]) - logit(followed[0]) == pytest.approx(given)
    assert all(one is other for one, other in zip(found[1:], followed[1:], strict=True))
    assert asked[0][["line", "phase"]].to_numpy().tolist() == [["third arrow", "fresh"], ["first arrow", "transition"]]
    own = UsualLines.of(cast(Fits, fits), "ann", made.assign(shots=[3, 1]))
    against_own = own.on(cast(Fits, fits), made, followed)  # type: ignore[arg-type]
    moved = logit(against_own[0]) - logit(followed[0])
    assert moved @ np.array([0.75, 0.25]) == pytest.approx(0.0)  # the bowler's own lines give nothing on average
    assert moved[:, 1] - moved[:, 0] == pytest.approx(given[:, 1] - given[:, 0])
