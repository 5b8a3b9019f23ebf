"""The marginal likelihood's gradient against central differences of its own value, and a maximum none can better."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.inference.mixed_logit.conditional_mode import MixedLogitProblem, Term
from tests.inference.mixed_logit.maximum_likelihood import Marginal, maximise


def _crossed() -> tuple[np.ndarray, tuple[Term, ...], np.ndarray, np.ndarray]:
    rng = np.random.default_rng(3)
    cells = 400
    bowler, ball, block = rng.integers(0, 12, cells), rng.integers(-1, 25, cells), rng.integers(0, 60, cells)
    x = rng.normal(size=cells)
    trials = rng.integers(1, 9, cells).astype(float)
    logit = 0.3 - 0.5 * x + rng.normal(0, 0.5, 12)[bowler] + rng.normal(0, 0.4, 60)[block]
    successes = rng.binomial(trials.astype(int), 1 / (1 + np.exp(-logit))).astype(float)
    terms = (Term("bowler", bowler, 12), Term("block", block, 60, rng.normal(1, 0.5, cells)), Term("ball", ball, 25))
    return np.column_stack([np.ones(cells), x]), terms, successes, trials


def test_gradient_is_that_of_the_value() -> None:
    surface = Marginal(*_crossed())
    point = np.array([0.1, -0.2, -0.9, -0.4, -1.3])
    _, fixed, sds = surface(point[:2], point[2:])
    steps = np.eye(5) * 1e-4
    ends = [[surface((point + way)[:2], (point + way)[2:])[0] for way in (step, -step)] for step in steps]
    numeric = [(up - down) / 2e-4 for up, down in ends]
    assert np.concatenate([fixed, sds]) == pytest.approx(numeric, abs=1e-4, rel=1e-4)


def test_value_is_that_of_the_sparse_engine() -> None:
    X, terms, successes, trials = _crossed()
    fixed, log_sd = np.array([0.1, -0.2]), np.array([-0.9, -0.4, -1.3])
    inner = MixedLogitProblem(np.zeros((len(X), 0)), terms, successes, trials, None, X @ fixed)
    assert Marginal(X, terms, successes, trials)(fixed, log_sd)[0] == pytest.approx(
        inner.mode(log_sd, inner.start()).integrated, abs=1e-6
    )


def test_no_step_away_from_the_maximum_is_higher() -> None:
    X, terms, successes, trials = _crossed()
    best = maximise(X, terms, successes, trials)
    surface = Marginal(X, terms, successes, trials)
    for step in (0.02, -0.02):
        for move in np.eye(5) * step:
            assert surface(best.fixed + move[:2], best.log_sd + move[2:])[0] < best.value
