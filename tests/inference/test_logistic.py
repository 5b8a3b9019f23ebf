"""The quick logistic function against scipy's, an outside reference."""

import numpy as np
import pytest
from scipy.special import expit

from pipeline.inference.logistic import logistic


def test_probabilities_are_scipys_to_the_last_digits_at_either_end():
    logits = np.r_[np.linspace(-40, 40, 1601), -700.0, 700.0, 0.0]
    assert logistic(logits) == pytest.approx(expit(logits), rel=4e-16, abs=0)


def test_odds_beyond_any_number_are_certain_without_a_warning():
    logits = np.array([[-1e4, 1e4]])
    assert logistic(logits).tolist() == [[0.0, 1.0]]
    assert logits.tolist() == [[-1e4, 1e4]], "the argument is left as it was"
