"""Sample the model of ``nuts_model`` by NUTS and write what the engine is compared with.

``python -m tests.inference.mixed_logit.record_nuts`` needs numpyro, which the project itself does not use: install it
into an environment of its own beside the project. Four chains took nine minutes.
"""

from __future__ import annotations

import json
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from numpyro.diagnostics import summary
from numpyro.infer import MCMC, NUTS

from pipeline.inference.mixed_logit.named_effects import ModelMatrices
from tests.inference.mixed_logit.nuts_model import MULTIPLIER, fingerprint, looked_at, matrices, sample_cells

VALUES = Path(__file__).with_name("nuts_values.json")
CHAINS, WARMUP, DRAWS, SEED = 4, 1000, 1500, 20260901
_HALF_T_DF = 4.0


def model(numbers: ModelMatrices, rows: np.ndarray) -> None:
    """The same density as the engine's, with effects scaled after they are drawn."""
    shared = numbers.design.shared()
    assert shared is not None
    prior_sd = numbers.design.precision() ** -0.5
    times = jnp.exp(numpyro.sample("log_multiplier", dist.Normal(np.log(MULTIPLIER.median), MULTIPLIER.log_sd)))
    unit = numpyro.sample("fixed_unit", dist.Normal(0, 1).expand([len(prior_sd)]).to_event(1))
    fixed = numpyro.deterministic("fixed", unit * prior_sd * jnp.where(shared.columns, times, 1.0))
    logits = jnp.asarray(numbers.X) @ fixed
    for group, term in zip(numbers.groups, numbers.terms, strict=True):
        half_t = dist.FoldedDistribution(dist.StudentT(_HALF_T_DF, 0.0, group.sd_scale))
        sd = numpyro.sample(f"sd {group.name}", half_t)
        effects = sd * numpyro.sample(f"unit {group.name}", dist.Normal(0, 1).expand([term.levels]).to_event(1))
        weight = np.ones(len(term.codes)) if term.weights is None else term.weights
        logits = logits + jnp.where(term.codes >= 0, effects[np.maximum(term.codes, 0)] * weight, 0.0)
    numpyro.deterministic("logits", logits[rows])
    numpyro.sample("strikes", dist.Binomial(numbers.trials.astype(int), logits=logits), obs=numbers.successes)


def recorded(cells_hash: str, numbers: ModelMatrices, draws: dict[str, np.ndarray]) -> dict[str, Any]:
    """Mean, sd and Monte Carlo error of every quantity compared; ``draws`` by name (chains, draws, ...)."""
    quantities = {"fixed": draws["fixed"], "logits": draws["logits"], "log_multiplier": draws["log_multiplier"]}
    quantities |= {f"log sd {group.name}": np.log(draws[f"sd {group.name}"]) for group in numbers.groups}
    values = {}
    for name, value in summary(quantities, group_by_chain=True).items():
        error = value["std"] / np.sqrt(value["n_eff"])
        values[name] = {
            "mean": _rounded(value["mean"]),
            "sd": _rounded(value["std"]),
            "error_of_mean": _rounded(error),
            "largest_r_hat": round(float(np.max(value["r_hat"])), 4),
        }
    versions = {name: version(name) for name in ("numpyro", "jax", "numpy")}
    run = {"chains": CHAINS, "warmup": WARMUP, "draws": DRAWS, "seed": SEED}
    return {"versions": versions, "run": run, "cells": cells_hash, "values": values}


def _rounded(values: Any) -> Any:
    return np.round(np.asarray(values, dtype=float), 5).tolist()


def main() -> None:
    """Sample and write."""
    numpyro.enable_x64()
    with tempfile.TemporaryDirectory() as folder:
        cells = sample_cells(Path(folder))
    numbers = matrices(cells)
    sampler = NUTS(lambda: model(numbers, looked_at(cells)), target_accept_prob=0.9)
    run = {"num_warmup": WARMUP, "num_samples": DRAWS, "num_chains": CHAINS}
    mcmc = MCMC(sampler, **run, chain_method="sequential", progress_bar=False)
    mcmc.run(jax.random.PRNGKey(SEED))
    draws = {name: np.asarray(value) for name, value in mcmc.get_samples(group_by_chain=True).items()}
    VALUES.write_text(json.dumps(recorded(fingerprint(numbers), numbers, draws), indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(f"wrote {VALUES.name}\n")


if __name__ == "__main__":
    main()
