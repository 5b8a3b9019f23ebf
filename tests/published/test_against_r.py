"""The engines against R's lme4 and nnet: recorded values always, and R itself where it is installed.

``record_r_values.R`` makes ``r_values.json``; versions are in the file.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.mixed_fit import MixedFit
from pipeline.inference.multinomial import fit_multinomial
from tests.inference.mixed_logit.maximum_likelihood import fit_maximum_likelihood

HERE = Path(__file__).parent


@cache
def recorded() -> dict[str, Any]:
    values: dict[str, Any] = json.loads((HERE / "r_values.json").read_text(encoding="utf-8"))
    return values


@cache
def from_r() -> dict[str, Any]:
    program = shutil.which("Rscript")
    if program is None:
        pytest.skip("Rscript is not installed")
    has = subprocess.run(
        [program, "-e", "stopifnot(requireNamespace('lme4'), requireNamespace('nnet'))"],
        capture_output=True,
        check=False,
    )
    if has.returncode:
        pytest.skip("R is installed without lme4 or nnet")
    run = subprocess.run([program, str(HERE / "record_r_values.R")], capture_output=True, text=True, check=True)
    values: dict[str, Any] = json.loads(run.stdout)
    return values


def _design(*factors: list[str]) -> np.ndarray:
    columns = [np.ones(len(factors[0]))]
    for factor in factors:
        levels = list(dict.fromkeys(factor))  # R's levels are in order of first appearance in these data
        columns.extend(np.array([value == level for value in factor], dtype=float) for level in levels[1:])
    return np.column_stack(columns)


def _ours(by_row: bool) -> MixedFit:
    data = recorded()["cbpp"]
    herds = np.array([int(herd) - 1 for herd in data["herd"]])
    terms = [Term("herd", herds, 15)]
    if by_row:
        terms.append(Term("obs", np.arange(len(herds)), len(herds)))
    counts = np.array(data["incidence"], dtype=float), np.array(data["size"], dtype=float)
    return fit_maximum_likelihood(_design(data["period"]), terms, *counts)


@pytest.mark.parametrize(("name", "by_row"), [("cbpp_herd", False), ("cbpp_herd_and_row", True)])
def test_mixed_logit_agrees_with_lme4(name: str, by_row: bool) -> None:
    theirs, ours = recorded()[name], _ours(by_row)
    # lme4's inner optimiser stops at about three decimals; both likelihoods are the Laplace one.
    assert ours.fixed == pytest.approx(theirs["fixed"], abs=2e-3)
    for term, sd in zip(theirs["sd_terms"], theirs["sd"], strict=True):
        assert ours.sd[term] == pytest.approx(sd, abs=3e-3)
    assert ours.log_likelihood == pytest.approx(theirs["loglik"][0], abs=1e-3)


def test_multinomial_agrees_with_nnet() -> None:
    data, theirs = recorded()["eye_colour"], recorded()["eye_multinomial"]
    design = _design(data["hair"], data["sex"])
    counts = np.array(
        [
            [n * (eye == category) for category in theirs["categories"]]
            for eye, n in zip(data["eye"], data["count"], strict=True)
        ]
    )
    ours = fit_multinomial(design, counts)
    shape = (len(theirs["categories"]) - 1, design.shape[1])
    np.testing.assert_allclose(ours.beta.T, np.reshape(theirs["coefficients"], shape), atol=1e-5)
    se = np.sqrt(np.diag(ours.covariance)).reshape(ours.beta.shape)
    np.testing.assert_allclose(se.T, np.reshape(theirs["se"], shape), atol=1e-5)
    assert ours.loglik == pytest.approx(theirs["loglik"][0], abs=1e-6)


@pytest.mark.slow
def test_r_still_says_what_was_recorded() -> None:
    now = from_r()
    for name in ("cbpp", "eye_colour"):
        assert now[name] == recorded()[name]
    for name, tolerance in (("cbpp_herd", 1e-3), ("cbpp_herd_and_row", 1e-3), ("eye_multinomial", 1e-5)):
        for key, value in recorded()[name].items():
            if isinstance(value[0], str):
                assert now[name][key] == value
            else:
                assert now[name][key] == pytest.approx(value, abs=tolerance)
