"""Logistic fits against printed coefficients."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.inference.multinomial import fit_multinomial


def test_heart_disease_by_age() -> None:
    # Hosmer and Lemeshow, Applied Logistic Regression, tables 3.2 and 3.3, as worked in the UCLA textbook examples,
    # chapter 3: chd by age of 55 and more. VERIFIED (text seen).
    design = np.array([[1.0, 0.0], [1.0, 1.0]])
    without, with_chd = np.array([51.0, 6.0]), np.array([22.0, 21.0])
    fit = fit_multinomial(design, np.column_stack([without, with_chd]))
    se = np.sqrt(np.diag(fit.covariance))
    assert fit.beta[:, 0] == pytest.approx([-0.8407832, 2.093546], abs=1e-6)
    assert se == pytest.approx([0.2550733, 0.5285335], abs=1e-6)
    assert fit.loglik == pytest.approx(-58.979565, abs=1e-6)
    null = fit_multinomial(np.ones((2, 1)), np.column_stack([without, with_chd]))
    assert null.loglik == pytest.approx(-68.331491, abs=1e-6)
    assert 2 * (fit.loglik - null.loglik) == pytest.approx(18.70, abs=0.005)
    assert 1 - fit.loglik / null.loglik == pytest.approx(0.1369, abs=5e-5)


def test_heart_disease_by_age_with_the_carry_engine() -> None:
    # The same printed values, from the engine behind carry, without random effects or priors.
    fit = fit_mixed_logit(
        np.array([[1.0, 0.0], [1.0, 1.0]]), (), np.array([22.0, 21.0]), np.array([73.0, 27.0]), sd_prior=None, nodes=1
    )
    assert fit.fixed == pytest.approx([-0.8407832, 2.093546], abs=1e-6)
    assert np.sqrt(np.diag(fit.fixed_covariance)) == pytest.approx([0.2550733, 0.5285335], abs=1e-6)


def test_admissions_by_rank() -> None:
    # UCLA admissions example: admit by rank, 273 refused and 127 admitted, null deviance 499.98 (VERIFIED, text seen).
    # The rank coefficients here are not those of the printed fit, which has two more predictors: they are log odds
    # ratios of the table.
    refused, admitted = np.array([28.0, 97.0, 93.0, 55.0]), np.array([33.0, 54.0, 28.0, 12.0])
    counts = np.column_stack([refused, admitted])
    null = fit_multinomial(np.ones((4, 1)), counts)
    assert -2 * null.loglik == pytest.approx(499.98, abs=0.005)
    design = np.column_stack([np.ones(4), np.eye(4)[:, 1:]])
    odds = np.log(admitted / refused)
    assert fit_multinomial(design, counts).beta[:, 0] == pytest.approx([odds[0], *(odds[1:] - odds[0])], abs=1e-8)


def test_grades_after_a_new_method() -> None:
    # Spector and Mazzeo's data as bundled with statsmodels. Printed in Greene, Econometric Analysis: values from
    # memory, and recomputed with statsmodels.
    data = sm.datasets.spector.load_pandas()
    design = sm.add_constant(data.exog)[["const", "GPA", "TUCE", "PSI"]].to_numpy()
    passed = data.endog.to_numpy()
    fit = fit_multinomial(design, np.column_stack([1 - passed, passed]))
    assert fit.beta[:, 0] == pytest.approx([-13.0213, 2.8261, 0.0952, 2.3787], abs=1e-4)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx([4.9313, 1.2629, 0.1416, 1.0646], abs=1e-4)
    assert fit.loglik == pytest.approx(-12.8896, abs=1e-4)


def test_separated_data_need_a_penalty() -> None:
    # Published advice rather than a number: complete separation has no finite maximum (Albert and Anderson,
    # Biometrika 71, 1984; from memory). Plain likelihood must refuse, a penalty must answer.
    design, counts = np.array([[1.0, 0.0], [1.0, 1.0]]), np.array([[10.0, 0.0], [0.0, 10.0]])
    with pytest.raises(ArithmeticError):
        fit_multinomial(design, counts)
    assert 0 < fit_multinomial(design, counts, ridge=1.0).beta[1, 0] < 10
