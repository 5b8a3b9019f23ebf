"""One crossed mixed logit problem and three engines that fit it: ours, gpboost's and statsmodels' own."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

import numpy as np
import pandas as pd

BOWLERS, BLOCKS, BALLS, SHOTS = 30, 20, 6, 60
"""30 bowlers x 20 blocks x 60 first balls = 36,000 with 30 + 600 + 180 random effects."""

FIXED = ("one", "game", "entry", "entry_squared")
GROUPS = ("bowler", "bowler_block", "ball")


def data(seed: int) -> pd.DataFrame:
    """One row a first ball: ``strike``, the fixed columns and integer codes of the groups."""
    rng = np.random.default_rng(seed)
    bowler = np.repeat(np.arange(BOWLERS), BLOCKS * SHOTS)
    bowler_block = np.repeat(np.arange(BOWLERS * BLOCKS), SHOTS)
    ball = bowler * BALLS + rng.integers(0, BALLS, len(bowler))
    game = np.tile(np.repeat(np.arange(SHOTS // 12), 12), BOWLERS * BLOCKS) / 4.0
    entry = np.round(rng.normal(0, 1.0, len(bowler)) * 2) / 2
    effects = (rng.normal(0, 0.4, BOWLERS), rng.normal(0, 0.25, BOWLERS * BLOCKS), rng.normal(0, 0.3, BOWLERS * BALLS))
    logit = 0.4 - 0.3 * game + 0.1 * entry - 0.35 * entry**2
    logit += effects[0][bowler] + effects[1][bowler_block] + effects[2][ball]
    return pd.DataFrame(
        {
            "strike": (rng.random(len(bowler)) < 1 / (1 + np.exp(-logit))).astype(float),
            "one": 1.0,
            "game": game,
            "entry": entry,
            "entry_squared": entry**2,
            "bowler": bowler,
            "bowler_block": bowler_block,
            "ball": ball,
        }
    )


def ours(rows: pd.DataFrame) -> dict[str, list[float]]:
    """Our engine, from counts, in the objective that integrates random effects only, as gpboost does."""
    from pipeline.inference.mixed_logit.conditional_mode import Term
    from tests.inference.mixed_logit.maximum_likelihood import fit_maximum_likelihood

    cells = rows.groupby([*FIXED, *GROUPS], as_index=False)["strike"].agg(["sum", "count"])
    terms = [Term(name, cells[name].to_numpy(), int(cells[name].max()) + 1) for name in GROUPS]
    fit = fit_maximum_likelihood(
        cells[list(FIXED)].to_numpy(float), terms, cells["sum"].to_numpy(float), cells["count"].to_numpy(float)
    )
    return {"fixed": list(fit.fixed), "sd": list(fit.sd.values())}


def by_gpboost(rows: pd.DataFrame) -> dict[str, list[float]]:
    """gpboost's grouped random effects, Laplace, its tightest common stopping rule."""
    import gpboost

    model = gpboost.GPModel(group_data=rows[list(GROUPS)].to_numpy(), likelihood="bernoulli_logit")
    model.fit(
        y=rows["strike"].to_numpy(),
        X=rows[list(FIXED)].to_numpy(),
        params={"optimizer_cov": "lbfgs", "optimizer_coef": "lbfgs", "delta_rel_conv": 1e-9, "maxit": 1000},
    )
    variances = np.asarray(model.get_cov_pars(format_pandas=False)).ravel()[: len(GROUPS)]
    return {"fixed": list(np.asarray(model.get_coef(format_pandas=False)).ravel()), "sd": list(np.sqrt(variances))}


def by_statsmodels(rows: pd.DataFrame) -> dict[str, list[float]]:
    """statsmodels' mixed binomial model by its Laplace (maximum a posteriori) fit."""
    from scipy import sparse
    from statsmodels.genmod.bayes_mixed_glm import BinomialBayesMixedGLM

    every = np.arange(len(rows))
    blocks = [sparse.csr_matrix((np.ones(len(rows)), (every, rows[name]))) for name in GROUPS]
    identity = np.repeat(np.arange(len(GROUPS)), [block.shape[1] for block in blocks])
    model = BinomialBayesMixedGLM(
        rows["strike"].to_numpy(), rows[list(FIXED)].to_numpy(), sparse.hstack(blocks).tocsr(), identity,
        vcp_p=2, fe_p=10,
    )  # fmt: skip
    fit = model.fit_map()
    return {"fixed": list(fit.fe_mean), "sd": list(np.exp(fit.vcp_mean))}


_LIBRARIES = {
    "ours": ("tests.inference.mixed_logit.maximum_likelihood",),
    "gpboost": ("gpboost",),
    "statsmodels": ("statsmodels.genmod.bayes_mixed_glm",),
}


def load_libraries(engine: str) -> None:
    """Import what an engine needs before the clock starts, as ``measure`` promises for every task."""
    for name in _LIBRARIES[engine]:
        import_module(name)


ENGINES: dict[str, Callable[[pd.DataFrame], dict[str, Any]]] = {
    "ours": ours,
    "gpboost": by_gpboost,
    "statsmodels": by_statsmodels,
}
