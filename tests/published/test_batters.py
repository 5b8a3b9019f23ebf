"""Partial pooling on the normal scale against the two articles on 18 batters."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.inference.normal_pooling import pool_normal

# Efron and Morris, J. Am. Stat. Assoc. 70 (1975) 311-319: hits in the first 45 at-bats, then at-bats and average of the
# rest of the season. VERIFIED (R package pscl's table; names dropped).
HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7])
REST = np.array([346, 298, 276, 222, 273, 270, 263, 210, 269, 230, 264, 256, 303, 264, 226, 285, 316, 200]) / 1000
AVERAGE = HITS / 45


def test_shrinkage_on_the_raw_scale() -> None:
    # Efron and Morris, Scientific American 236 (1977): printed constant .212, VERIFIED as quoted. The shrunken averages
    # are COMPUTED from the article's formula z = ybar + c (y - ybar).
    mean = AVERAGE.mean()
    pooled = pool_normal(AVERAGE, np.full(18, mean * (1 - mean) / 45))
    assert pooled.weight == pytest.approx(np.full(18, 0.212), abs=5e-4)
    printed = (
        [0.294, 0.289, 0.285, 0.280, 0.275, 0.275, 0.270, 0.266, 0.261, 0.261] + [0.256] * 5 + [0.252, 0.247, 0.242]
    )
    assert pooled.value == pytest.approx(printed, abs=6e-4)


def test_shrinkage_on_the_arcsine_scale() -> None:
    # The 1975 article works with sqrt(45) asin(2 y - 1), variance 1: weight .209 (printed, from memory), mean -3.317
    # and the back-transformed averages COMPUTED. The two articles' shrunken values differ; both are right.
    scale = np.sqrt(45)
    pooled = pool_normal(scale * np.arcsin(2 * AVERAGE - 1), np.ones(18))
    assert pooled.mean == pytest.approx(-3.317, abs=5e-4)
    assert pooled.weight == pytest.approx(np.full(18, 0.209), abs=5e-4)
    back = (1 + np.sin(pooled.value / scale)) / 2
    printed = (
        [0.290, 0.286, 0.281, 0.277, 0.273, 0.273, 0.268, 0.264, 0.259, 0.259] + [0.254] * 5 + [0.249, 0.244, 0.239]
    )
    assert back == pytest.approx(printed, abs=6e-4)
    # Squared error against the rest of the season, on this scale: 17.56 raw, 5.01 pooled (printed, from memory;
    # 17.57 and 5.00 COMPUTED from the three-decimal averages).
    truth = scale * np.arcsin(2 * REST - 1)
    assert ((scale * np.arcsin(2 * AVERAGE - 1) - truth) ** 2).sum() == pytest.approx(17.56, abs=0.02)
    assert ((pooled.value - truth) ** 2).sum() == pytest.approx(5.01, abs=0.02)


def test_pooling_predicts_the_rest_of_the_season_better() -> None:
    # Ratio of squared errors, raw to pooled, printed as 3.5 on a page that quotes the 1977 article.
    mean = AVERAGE.mean()
    pooled = pool_normal(AVERAGE, np.full(18, mean * (1 - mean) / 45))
    ratio = ((AVERAGE - REST) ** 2).sum() / ((pooled.value - REST) ** 2).sum()
    assert ratio == pytest.approx(3.5, abs=0.05)
