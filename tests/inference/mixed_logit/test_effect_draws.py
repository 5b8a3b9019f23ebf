"""The one sum of all effects of a linear predictor."""

import numpy as np
import pytest

from pipeline.inference.mixed_logit.effect_draws import EffectDraws, summed


def test_a_sum_is_that_of_the_effects_one_after_the_other():
    rng = np.random.default_rng(1)
    n, rows = 3_000, 101  # more than are summed at once
    fixed, ball, new = rng.normal(size=(6, n)), rng.normal(size=(4, n)), rng.normal(size=(2, n))
    columns, values = rng.integers(0, 6, (rows, 3)), rng.normal(size=(rows, 3))
    codes, slope = rng.integers(-1, 4, rows), rng.normal(size=rows)
    sparse_codes = np.where(np.arange(rows) < 5, np.arange(rows) % 2, -1)
    parts = [EffectDraws(fixed, columns, values), EffectDraws(ball, codes, slope), EffectDraws(new, sparse_codes)]
    total = summed(parts, n, rows)
    for row in range(rows):
        expected = sum(value * fixed[column] for column, value in zip(columns[row], values[row], strict=True))
        expected = expected + (slope[row] * ball[codes[row]] if codes[row] >= 0 else 0.0)
        expected = expected + (new[sparse_codes[row]] if sparse_codes[row] >= 0 else 0.0)
        assert total[:, row] == pytest.approx(expected, abs=1e-12)


def test_equal_rows_have_equal_sums_to_the_digit_and_nothing_adds_nothing():
    drawn = np.random.default_rng(2).normal(size=(5, 500))
    codes = np.array([3, 1, 3, 0, 1])
    total = summed([EffectDraws(drawn, codes), EffectDraws(drawn[:2], codes % 2)], 500, 5)
    assert np.array_equal(total[:, 0], total[:, 2]) and np.array_equal(total[:, 1], total[:, 4])
    assert not summed([EffectDraws(np.zeros((0, 500)), np.full(5, -1))], 500, 5).any()
