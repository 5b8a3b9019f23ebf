"""How well usual entry boards are known: against the t distribution, and against nights made alike by pattern."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.pricing.ledger.entry_nights import between_nights, night_weights


def _shots(rng: np.random.Generator, pattern_sd: float, balls: int = 60) -> pd.DataFrame:
    """Twelve nights of every ball, two on each of six patterns, whose chances differ by 0.05 besides."""
    ball, pattern, night = (index.ravel() for index in np.indices((balls, 6, 2)))
    of_pattern = rng.normal(0, pattern_sd, (balls, 6))[ball, pattern]
    chance = 0.5 + of_pattern + rng.normal(0, 0.05, len(ball))
    names = {"ball": [f"b{k}" for k in ball], "pattern": [f"p{k}" for k in pattern], "night": 2 * pattern + night}
    return pd.DataFrame(names).assign(shots=20, chance=chance)


def test_what_goes_with_the_pattern_is_learned_from_nights_on_the_same() -> None:
    rng = np.random.default_rng(1)
    found = {sd: between_nights(_shots(rng, sd)) for sd in (0.0, 0.05)}
    sds = {sd: found[sd].pattern_sd(4_000, np.random.default_rng(2)) for sd in found}
    assert np.sqrt(np.mean(sds[0.05] ** 2)) == pytest.approx(0.05, abs=0.015)
    assert np.sqrt(np.mean(sds[0.0] ** 2)) < 0.015
    assert found[0.0].variance == pytest.approx(0.05**2 * 11 / 12, rel=0.15)
    assert (found[0.05].line_sd(9, np.random.default_rng(2)) < sds[0.05][:9].max()).all()


def test_a_belief_stands_where_no_two_nights_can_be_compared() -> None:
    once = _shots(np.random.default_rng(3), 0.1).drop_duplicates("ball")
    share = between_nights(once).weight @ ((np.arange(200) + 0.5) / 200)
    assert share == pytest.approx(1 / 20, abs=0.002)


@pytest.mark.parametrize("nights", [6, 12, 40])
def test_a_mean_over_few_nights_is_as_uncertain_as_by_the_t_distribution(nights: int) -> None:
    """The posterior of a normal mean without prior knowledge is a t distribution (textbook, from memory)."""
    rng = np.random.default_rng(4)
    values = rng.normal(0, 1, nights)
    spread = pd.DataFrame({"ball": "b", "night": np.arange(nights), "shots": 10})
    weight = night_weights(spread, 20_000, nights, np.random.default_rng(5))
    drawn = weight @ values / weight.sum(axis=1)
    right = stats.t(nights - 1, values.mean(), values.std(ddof=1) / np.sqrt(nights)).std()
    assert drawn.std() == pytest.approx(right, rel=0.12)
    assert drawn.mean() == pytest.approx(values.mean(), abs=0.05)
