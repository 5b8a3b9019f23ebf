"""Choices drawn toward what is thrown, against the normal prior and likelihood by hand."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.decisions.shrinkage import shift
from pipeline.pricing.rate_draws import mean_in_cells

SIGNS = np.array([1.0, -1.0, 1.0, -1.0])


def _draws(means: list[float], sd: float) -> np.ndarray:
    """Four draws (4, k) with exactly these means and this sd."""
    return np.array(means) + sd * SIGNS[:, None]


def test_it_is_the_posterior_mean_under_evidence_with_1_7_times_the_error_variance() -> None:
    """By hand: prior variance 16 and error variance 9 give evidence 5 the mean 5 x 16 / 25 = 3.2, variance 5.76.

    With error variance 1.7 x 9 the mean is 5 x 16 / (16 + 15.3). The two choices show the 16: 3.2^2 + 5.76 = 16.
    """
    draws = _draws([3.2, -3.2], np.sqrt(5.76))
    mix = np.zeros((4, 2))
    right = 5 * 16 / (16 + 1.7 * 9)
    assert draws.mean(axis=0) + shift(draws, mix, np.ones(2, bool)) == pytest.approx([right, -right])


def test_what_is_well_known_hardly_moves_and_what_is_hardly_known_moves_most() -> None:
    draws = np.column_stack([_draws([6.0], 0.1), _draws([6.0], 6.0), _draws([-6.0], 0.1)])
    known, unknown, _ = shift(draws, np.zeros((4, 3)), np.ones(3, bool))
    assert -0.01 < known < 0 and unknown < -1.0


def test_only_choices_that_were_thrown_say_how_far_choices_lie_apart() -> None:
    draws = np.column_stack([_draws([3.2, -3.2], np.sqrt(5.76)), _draws([0.0], 20.0)])
    alone = shift(draws[:, :2], np.zeros((4, 2)), np.ones(2, bool))
    assert shift(draws, np.zeros((4, 3)), np.array([True, True, False]))[:2] == pytest.approx(alone)
    assert shift(draws, np.zeros((4, 3)), np.zeros(3, bool))[0] != pytest.approx(alone[0])


def test_a_choice_alone_in_its_cell_stays() -> None:
    draws = np.random.default_rng(1).normal(5, 3, (50, 1))
    mix = mean_in_cells(draws, np.zeros(1, dtype=np.intp), np.array([7.0]))
    assert shift(draws, mix, np.ones(1, bool)) == pytest.approx(0.0, abs=1e-9)
    assert shift(np.zeros((4, 0)), np.zeros((4, 0)), np.zeros(0, bool)).shape == (0,)


def test_a_mix_weighs_the_choices_of_its_cell_draw_by_draw() -> None:
    draws = np.array([[1.0, 4.0, 10.0], [3.0, 0.0, 20.0]])
    means = mean_in_cells(draws, np.array([0, 0, 1]), np.array([2.0, 1.0, 5.0]))
    assert means == pytest.approx(np.array([[2.0, 2.0, 10.0], [2.0, 2.0, 20.0]]))
