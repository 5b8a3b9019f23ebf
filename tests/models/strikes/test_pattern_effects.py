"""What patterns do beyond their numbers: learned from patterns that were bowled, and carried to one that was not."""

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit, logit

from pipeline.models.strikes.pattern_effects import UsualPatterns
from pipeline.models.strikes.strike_worth import WorthFit, fit_worth_cells
from tests.models.made_cells import balance, listed, made_cells

NEW = "never bowled on"
PATTERNS = 8


def _cells(apart: float, seed: int) -> pd.DataFrame:
    """Made cells on eight patterns, two or three a class, that differ by this sd in log odds."""
    rng = np.random.default_rng(seed)
    cells = made_cells(rng, bowlers=3, blocks=24, balls=2, shots=24)
    block = cells["block"].str[1:].astype(int)
    cells["pattern"] = "p" + (block % (3 * (PATTERNS // 3 + 1)) % PATTERNS).astype(str) + cells["pattern_class"]
    names, codes = np.unique(cells["pattern"], return_inverse=True)
    effect = apart * _standard(rng, len(names))[codes]
    cells["strikes"] = rng.binomial(cells["shots"], expit(logit(0.45) + effect))
    return cells


def _standard(rng: np.random.Generator, n: int) -> np.ndarray:
    """Normal draws of mean 0 and sd 1 exactly."""
    drawn = rng.normal(size=n)
    result: np.ndarray = (drawn - drawn.mean()) / drawn.std()
    return result


def _fit(apart: float, seed: int = 1) -> WorthFit:
    cells = _cells(apart, seed)
    return fit_worth_cells(cells, balance(3), listed(cells))


@pytest.fixture(scope="module")
def apart() -> WorthFit:
    return _fit(0.6)


def _row(**columns: object) -> pd.DataFrame:
    base = {"bowler": "b0", "pattern_class": "medium", "game": 3, "ball": "b0-0", "line": "third arrow"}
    oil = {"length_ft": 40.0, "volume_ml": 23.0, "ratio": 5.0}
    return pd.DataFrame([{**base, **oil, **columns}])


def _logit(fit: WorthFit, **columns: object) -> np.ndarray:
    return fit.logit_draws(_row(**columns), 2000, np.random.default_rng(2))[:, 0]


def test_a_new_pattern_is_as_uncertain_as_those_bowled_differ(apart: WorthFit) -> None:
    """Planted sd 0.6: a new pattern adds about as much to what is known of one bowled on (simulated truth)."""
    shares = apart.covariates.patterns.shares
    known = shares.loc[shares["pattern_class"] == "medium", "pattern"].iloc[0]
    added = np.sqrt(_logit(apart, pattern=NEW).var() - _logit(apart, pattern=known).var())
    assert 0.4 < added < 1.0
    alike = _fit(0.0)
    assert _logit(alike, pattern=NEW).std() < 0.5 * added


def test_without_a_pattern_the_mean_over_those_of_the_class_is_meant(apart: WorthFit) -> None:
    shares = apart.covariates.patterns.shares
    mine = shares[shares["pattern_class"] == "medium"]
    assert len(mine) > 1 and mine["share"].sum() == pytest.approx(1)
    by_pattern = [_logit(apart, pattern=name) for name in mine["pattern"]]
    assert _logit(apart) == pytest.approx(mine["share"].to_numpy() @ by_pattern, abs=1e-9)
    assert _logit(apart, pattern=None) == pytest.approx(_logit(apart), abs=1e-12)


def test_shares_are_of_first_deliveries() -> None:
    cells = pd.DataFrame({"pattern_class": ["short"] * 3, "pattern": ["a", "b", None], "shots": [30, 10, 99]})
    shares = UsualPatterns.learn(cells).shares.set_index("pattern")["share"]
    assert shares.to_dict() == {"a": 0.75, "b": 0.25}
    assert UsualPatterns.learn(cells.drop(columns="pattern")).shares.empty


def test_oil_beyond_any_logged_is_less_sure_by_what_patterns_do_and_no_trend_goes_on(apart: WorthFit) -> None:
    draws = [_logit(apart, pattern=NEW, length_ft=length) for length in (46.0, 56.0, 61.0)]
    widths = [draw.std() for draw in draws]
    assert widths[0] < widths[1] < widths[2]
    assert draws[2].mean() == pytest.approx(draws[0].mean(), abs=0.25)
    alike = _fit(0.0)
    gained = _logit(alike, pattern=NEW, length_ft=61.0).std() - _logit(alike, pattern=NEW, length_ft=46.0).std()
    assert gained < 0.5 * (widths[2] - widths[0])
