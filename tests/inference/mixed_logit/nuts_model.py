"""The model that a NUTS sampler and the engine are both given: the worth model's structure on the sample season.

It is written out here, apart from X, so that the recorded draws stay comparable when
that model changes. It has every kind of part the engine knows: fixed effects by level, crossed, and times a number;
prior sds that share an unknown multiplier; random effects by level, as slopes, and in some cells alone.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric
from pipeline.inference.mixed_logit.named_effects import Group, ModelMatrices, build_matrices
from pipeline.inference.mixed_logit.sd_priors import LogNormal
from pipeline.intake import load_folder
from pipeline.models.strike_cells import STRIKE_CELLS
from pipeline.settings import Settings
from pipeline.store.season import LOAD_STEP, open_season

SAMPLE = Path(__file__).parents[3] / "sample_logs"
PARTS = (
    Categorical(("ball_class",), 0.7, shared=True),
    Categorical(("pattern_class",), 0.7, shared=True),
    Categorical(("line",), 0.7, shared=True),
    Categorical(("line", "pattern_class"), 0.25, shared=True),
    Categorical(("line",), 0.2, "game_z", shared=True),
    Categorical(("pattern_class",), 0.3, "game_z", shared=True),
    Numeric("game_z", 0.7, shared=True),
    Numeric("load_z", 0.5, shared=True),
    Numeric("length_z", 0.5, shared=True),
    Numeric("volume_z", 0.1),
)
GROUPS = (
    Group(("bowler",)),
    Group(("bowler", "block"), sd_scale=0.5),
    Group(("ball",), sd_scale=0.5),
    Group(("ball_class", "pattern_class"), sd_scale=0.2),
    Group(("ball",), slope="game_z", sd_scale=0.04),
    Group(("bowler", "line"), sd_scale=0.02),
    Group(("pattern", "line"), where_named=True, sd_scale=0.04),
    Group(("bowler", "pattern_class", "ball"), sd_scale=0.04),
)
MULTIPLIER = LogNormal(0.35, 0.6)
NODES = 64


def sample_cells(folder: Path) -> pd.DataFrame:
    """Counts of the sample season's first deliveries, with standardised numbers; the database goes into ``folder``."""
    database = folder / "season.duckdb"
    load_folder(SAMPLE, database)
    with open_season(database, Settings()) as season:
        cells = season.frame("cells/worth_cells", load_step=LOAD_STEP)
    numbers = {"game_z": "game", "load_z": "pair_load", "length_z": "length_ft", "volume_z": "volume_ml"}
    return cells.assign(**{name: _standard(cells[column]) for name, column in numbers.items()})


def _standard(values: pd.Series) -> pd.Series:
    """Less the mean, over the sd; 0 where unknown."""
    numbers = pd.to_numeric(values).astype(float)
    return ((numbers - numbers.mean()) / numbers.std(ddof=0)).fillna(0.0)


def matrices(cells: pd.DataFrame) -> ModelMatrices:
    """The model put to numbers."""
    return build_matrices(Design(PARTS, scale_multiplier=MULTIPLIER), GROUPS, cells, STRIKE_CELLS, nodes=NODES)


def fingerprint(numbers: ModelMatrices) -> str:
    """Hash of what is fitted, so that values recorded from other cells are not compared."""
    digest = hashlib.sha256(np.round(np.asarray(numbers.X), 9).tobytes())
    for term in numbers.terms:
        digest.update(term.name.encode() + term.codes.tobytes())
    digest.update(numbers.successes.tobytes() + numbers.trials.tobytes())
    return digest.hexdigest()[:16]


def looked_at(cells: pd.DataFrame) -> np.ndarray:
    """Rows whose log odds are compared: 200 cells spread over the season."""
    return np.linspace(0, len(cells) - 1, 200).astype(int)
