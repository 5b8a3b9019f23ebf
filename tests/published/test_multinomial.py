"""The multinomial logit behind the leaves, against printed fits."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.inference.multinomial import fit_multinomial


def test_party_identification_1996() -> None:
    # anes96 as bundled with statsmodels; Stata 11's results in statsmodels/discrete/tests/results/
    # results_discrete.py. VERIFIED (text seen).
    data = sm.datasets.anes96.load_pandas()
    design = np.column_stack([data.exog[["logpopul", "selfLR", "age", "educ", "income"]], np.ones(len(data.exog))])
    party = data.endog.astype(int).to_numpy()
    fit = fit_multinomial(design, np.eye(7)[party])
    assert len(party) == 944
    assert fit.loglik == pytest.approx(-1461.922747312, abs=1e-6)
    assert -2 * fit.loglik + 2 * fit.beta.size == pytest.approx(2995.84549462, abs=1e-5)
    assert fit.beta[:, 0] == pytest.approx(
        [-0.01153598, 0.29771435, -0.024945, 0.08249144, 0.00519655, -0.37340168], abs=1e-6
    )
    assert fit.beta[:, 5] == pytest.approx(
        [-0.14088069, 2.0700801, -0.00943265, 0.3219257, 0.10889408, -12.105751], abs=1e-6
    )
    se = np.sqrt(np.diag(fit.covariance)).reshape(fit.beta.shape)
    assert se[:, 0] == pytest.approx(
        [0.0342823657, 0.093626795, 0.0065248584, 0.0735865799, 0.0176336937, 0.6298376313], abs=1e-7
    )
    null = fit_multinomial(np.ones((len(party), 1)), np.eye(7)[party])
    assert null.loglik == pytest.approx(-1750.34670999, abs=1e-6)


def test_program_choice_by_status() -> None:
    # UCLA's 200 students: programme by socioeconomic status, percentages VERIFIED (text seen), counts from them.
    # With one categorical predictor the fit is closed form, COMPUTED: log ratios of counts to the academic programme,
    # the lowest status as reference.
    general, academic, vocation = [16, 20, 9], [19, 44, 42], [12, 31, 7]
    counts = np.array([academic, general, vocation], dtype=float).T
    assert counts.sum() == 200
    fit = fit_multinomial(np.column_stack([np.ones(3), np.eye(3)[:, 1:]]), counts)
    assert fit.beta[:, 0] == pytest.approx([-0.17185, -0.61661, -1.36860], abs=1e-5)
    assert fit.beta[:, 1] == pytest.approx([-0.45953, 0.10933, -1.33223], abs=1e-5)
