"""The mixed logistic engine against a published Laplace fit: contagious bovine pleuropneumonia in 15 herds.

Counts: Lesnoff et al., Prev. Vet. Med. 64 (2004) 27-40, rows as in lme4's data set cbpp.
"""

import numpy as np
import pytest

from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from tests.inference.mixed_logit.maximum_likelihood import fit_maximum_likelihood

# herd -> incidence/size by period 1, 2, 3, 4 (herd 2 was seen three times, herd 8 once)
CBPP = {
    1: "2/14 3/12 4/9 0/5",
    2: "3/22 1/18 1/21",
    3: "8/22 2/16 0/16 2/20",
    4: "2/10 0/10 2/9 0/6",
    5: "5/18 0/25 0/24 1/4",
    6: "3/17 0/17 0/18 1/20",
    7: "8/16 1/10 3/9 0/5",
    8: "12/34",
    9: "2/9 0/6 0/8 0/6",
    10: "1/22 1/22 0/18 2/22",
    11: "0/25 5/27 3/22 1/22",
    12: "2/10 1/8 0/6 0/5",
    13: "1/21 2/24 0/19 0/23",
    14: "11/19 0/2 0/3 0/2",
    15: "1/19 1/15 1/15 0/15",
}


@pytest.fixture(scope="module")
def counts() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    rows = [
        (herd - 1, period, *map(float, pair.split("/")))
        for herd, text in CBPP.items()
        for period, pair in enumerate(text.split())
    ]
    herd, period, sick, size = (np.array(column) for column in zip(*rows, strict=True))
    X = np.column_stack([np.ones(len(rows)), *((period == k).astype(float) for k in (1, 2, 3))])
    return X, herd.astype(int), sick, size


def test_fixed_effects_sd_and_likelihood_of_the_laplace_fit(counts):
    X, herd, sick, size = counts
    fit = fit_maximum_likelihood(X, [Term("herd", herd, 15)], sick, size)
    # lme4 tests/testthat/test-glmer.R, glmer(cbind(incidence, size - incidence) ~ period + (1 | herd)), nAGQ = 1
    published = [-1.39854982537216, -0.992335519118859, -1.12867532780426, -1.58030423764517]
    assert fit.fixed == pytest.approx(published, abs=5e-5)
    assert fit.sd["herd"] == pytest.approx(0.642226809144453, abs=1e-4)
    # that run stopped 1.1e-4 above the minimum (the engine below gets to ours), hence the tolerance
    assert -2 * fit.log_likelihood == pytest.approx(184.052674598, abs=2e-4)


def test_likelihood_against_a_second_published_engine(counts):
    X, herd, sick, size = counts
    fit = fit_maximum_likelihood(X, [Term("herd", herd, 15)], sick, size)
    assert fit.log_likelihood == pytest.approx(-92.02628, abs=5e-6)  # MixedModels.jl test/pirls.jl


def test_standard_errors_at_the_joint_mode(counts):
    X, herd, sick, size = counts
    fit = fit_mixed_logit(X, [Term("herd", herd, 15)], sick, size, sds=[0.6422268])
    # nAGQ = 0 standard errors in the tests of R's 'parameters' package; there the sd is that fit's own, so two digits
    assert np.sqrt(np.diag(fit.fixed_covariance)) == pytest.approx([0.22758, 0.30329, 0.32351, 0.42445], abs=5e-3)


def test_draws_have_the_spread_of_the_fit(counts):
    X, herd, sick, size = counts
    fit = fit_mixed_logit(X, [Term("herd", herd, 15)], sick, size, sds=[0.6422268])
    draws = fit.draw(20_000, np.random.default_rng(3))
    assert np.cov(draws.fixed.T) == pytest.approx(fit.fixed_covariance, abs=4e-3)
    assert draws.fixed.mean(axis=0) == pytest.approx(fit.fixed, abs=0.012)
