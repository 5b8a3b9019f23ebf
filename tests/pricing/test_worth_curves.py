"""Where one worth curve overtakes another, draw by draw."""

import numpy as np
import pytest

from pipeline.pricing.worth_curves import crossing_points

X = np.array([1.0, 2.0, 3.0, 4.0])


def test_a_straight_lead_crosses_where_algebra_says():
    slope = np.array([[0.5], [2.0], [1.25]])
    start = np.array([[-1.0], [-1.0], [-3.0]])
    lead = start + slope * (X - 1)
    # start + slope * (x - 1) = 0
    assert crossing_points(X, lead) == pytest.approx([3.0, 1.5, 3.4])


def test_no_crossing_where_the_challenger_starts_ahead_or_ends_behind():
    lead = np.array([[1.0, 2.0, 3.0, 4.0], [-1.0, -2.0, -3.0, -4.0], [-1.0, 1.0, 1.0, -1.0]])
    assert np.isnan(crossing_points(X, lead)).all()


def test_the_first_of_several_crossings_counts():
    assert crossing_points(X, np.array([[-1.0, 1.0, -1.0, 1.0]])) == pytest.approx([1.5])


def test_places_lie_on_an_uneven_axis():
    assert crossing_points(np.array([0.0, 40.0, 120.0]), np.array([[-1.0, -1.0, 3.0]])) == pytest.approx([60.0])
