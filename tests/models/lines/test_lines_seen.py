"""What a line costs those seen on it: against simulated nights on which bowlers follow the lane and stray."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.models.lines.line_cost import SQUARE, LineCost
from pipeline.models.lines.lines_seen import Straying, learn_straying

_NIGHTS, _OWN, _BEHIND = 0.10, 0.05, 0.3  # variances between nights and of straying, and the lag, in arrows
_ONE_SIDED = LineCost(np.where(np.arange(101) > 50, SQUARE.lost, 0.4 * SQUARE.lost))


def _nights(count: int = 400_000) -> tuple[np.ndarray, np.ndarray]:
    """Simulated arrows from where bowlers usually play, and off what the lane asked for besides the usual lag."""
    rng = np.random.default_rng(6)
    asked, strayed = rng.normal(0, np.sqrt(_NIGHTS), count), rng.normal(0, np.sqrt(_OWN), count)
    return asked + strayed, strayed


def test_the_share_of_straying_is_recovered() -> None:
    apart, off = _nights()
    found = learn_straying(apart, off, np.zeros(len(off)), np.ones(len(off)))
    assert found.share == pytest.approx(_OWN / (_OWN + _NIGHTS), abs=0.01)  # of two normals, by regression
    assert found.rest == pytest.approx(_OWN * _NIGHTS / (_OWN + _NIGHTS), abs=0.001)
    assert found.spread == pytest.approx(_OWN + _NIGHTS, abs=0.002)


@pytest.mark.parametrize("cost", [SQUARE, _ONE_SIDED])
def test_a_line_costs_what_shots_seen_on_it_lost_in_simulated_nights(cost: LineCost) -> None:
    apart, off = _nights()
    straying = learn_straying(apart, off, np.zeros(len(off)), np.ones(len(off)))
    lost = cost(_BEHIND + off)
    middles = np.array([-1.0, 0.0, 1.0])
    seen = [lost[np.abs(apart - middle) < 0.5].mean() - lost.mean() for middle in middles]
    found = straying.lost(cost, middles + _BEHIND, np.full(3, _BEHIND))
    assert found == pytest.approx(seen, abs=0.004)
    shares = [(np.abs(apart - middle) < 0.5).mean() for middle in middles]
    assert np.dot(shares, found) == pytest.approx(0.0, abs=0.004)  # over all lines nothing is gained or lost


def test_a_line_is_kept_by_nobody_who_only_follows_the_lane() -> None:
    apart = _nights()[0]
    following = learn_straying(apart, np.zeros(len(apart)), np.zeros(len(apart)), np.ones(len(apart)))
    assert following.share == 0.0
    assert following.lost(SQUARE, np.array([-2.0, 0.0, 2.0]), np.zeros(3)) == pytest.approx(0.0, abs=1e-9)


def test_far_lines_and_unlogged_ones() -> None:
    lost = Straying(0.5, 0.05, 0.1).lost(SQUARE, np.array([[0.0, 6.0, np.nan]]), np.zeros(3))
    assert lost[0, 0] < 0 < lost[0, 1] < SQUARE.lost.max() and np.isnan(lost[0, 2])
