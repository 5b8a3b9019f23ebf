"""The engine beside a NUTS sampler on the sample season, for a model with every kind of part the engine knows.

Source: ``nuts_values.json``, written by ``record_nuts.py`` with the versions it names. Both are given the same density,
so they differ by Laplace's approximation, by the integration over the sds on a few points, and by Monte Carlo error.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.inference.mixed_logit.nuts_model import GROUPS, fingerprint, looked_at, matrices, sample_cells

VALUES = json.loads(Path(__file__).with_name("nuts_values.json").read_text(encoding="utf-8"))
N = 4000


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Name -> the engine's draws (n, values), and the sampler's mean, sd and error of the mean (3, values)."""
    cells = sample_cells(tmp_path_factory.mktemp("nuts"))
    posed = matrices(cells)
    assert fingerprint(posed) == VALUES["cells"], "other cells than those recorded: run record_nuts again"
    model, rng = posed.fit(), np.random.default_rng(11)
    draws = model.draws(N, rng)[0]
    looked = cells.iloc[looked_at(cells)]
    ours: dict[str, Any] = {
        "fixed": draws.fixed,
        "logits": model.logit_draws(looked, N, rng),
        "log_multiplier": np.log(draws.scale_multiplier)[:, None],
        **{f"log sd {group.name}": np.log(draws.sd[group.name])[:, None] for group in GROUPS},
    }
    return {name: (values, _recorded(name)) for name, values in ours.items()}


def _recorded(name: str) -> np.ndarray:
    result = VALUES["values"][name]
    return np.array([np.atleast_1d(result[key]) for key in ("mean", "sd", "error_of_mean")])


def _apart(name: str, compared: dict[str, tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Means apart in the sampler's sds, less what both Monte Carlo errors explain; and the ratio of the sds."""
    ours, (mean, sd, error) = compared[name]
    noise = 2 * np.hypot(error, sd / np.sqrt(N))
    return np.maximum(np.abs(ours.mean(axis=0) - mean) - noise, 0) / sd, ours.std(axis=0) / sd


def test_the_chains_had_converged() -> None:
    assert max(value["largest_r_hat"] for value in VALUES["values"].values()) < 1.02


@pytest.mark.parametrize("name", ["fixed", "logits"])
def test_effects_and_log_odds_agree(name: str, compared: dict[str, tuple[np.ndarray, np.ndarray]]) -> None:
    """Measured when recorded: means 0.04 sd apart at most, sds 5 % at most and 0.8 % on average."""
    means, sds = _apart(name, compared)
    assert means.max() < 0.08
    assert sds.min() > 0.9 and sds.max() < 1.1
    assert abs(sds.mean() - 1) < 0.02


@pytest.mark.parametrize("name", ["log_multiplier", *(f"log sd {group.name}" for group in GROUPS)])
def test_sds_agree(name: str, compared: dict[str, tuple[np.ndarray, np.ndarray]]) -> None:
    """Looser: a sd near zero has no effects left to be told by, and the engine's points do not follow its log there."""
    means, sds = _apart(name, compared)
    assert means.max() < 0.2
    assert sds.min() > 0.6 and sds.max() < 1.15
