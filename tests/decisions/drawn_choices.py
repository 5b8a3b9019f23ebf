"""Choices with known truth and the exact posterior: what the decisions do with draws, apart from any model."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.decisions.candidates import Candidates, candidates
from pipeline.models.fits import Fits
from pipeline.pricing.pins import Priced
from pipeline.settings import Settings
from pipeline.store.season import Season
from tests.decisions.made_season import MadeBall, MadeSeason, make

PINS_PER_STRIKE = 200.0


@dataclass
class Drawn:
    """A season whose choices have true worths ``truth`` (choices,), with exact posterior draws given noisy data."""

    season: Season
    fits: Fits
    truth: NDArray[np.float64]
    rows: pd.DataFrame


def small_season() -> Season:
    return make(MadeSeason([MadeBall("heron", benchmark=True)], blocks=2, games=1))


def fits_with(options: Candidates, settings: Settings, n: int, **cache: Any) -> Fits:
    none, worth = cast(Any, None), cast(Any, SimpleNamespace(lines_logged=False))
    return Fits(worth, none, none, none, none, 1, n, settings, cache={candidates.name(): options, **cache})


def drawn(cells: int, choices: int, shots: int, sd: float, seed: int, phases: tuple[str, ...] = ("fresh",)) -> Drawn:
    """Worth ~ N(0, sd^2) for every choice; data noise is that of ``shots`` strikes; the posterior is conjugate."""
    rng = np.random.default_rng(seed)
    keys = [(f"class {c:03d}", phase, f"ball{k}") for c in range(cells) for phase in phases for k in range(choices)]
    truth = sd * rng.standard_normal(len(keys))
    noise = PINS_PER_STRIKE * 0.5 / np.sqrt(shots)
    data = truth + noise * rng.standard_normal(len(keys))
    shrink = sd**2 / (sd**2 + noise**2)
    n = 400
    pins = shrink * data + np.sqrt(shrink) * noise * rng.standard_normal((n, len(keys)))
    rows = pd.DataFrame(keys, columns=["pattern_class", "phase", "ball"]).assign(
        bowler="ann", line="third arrow", ball_class="symmetric solid", rg_class="low", diff_class="high"
    )
    rows = rows.assign(surface_class="satin", benchmark=False, spare_ball=False, game=1.0)
    rows = rows.assign(ball_name=rows["ball"].str.title(), shots=shots, strikes=shots // 2, class_shots=shots)
    rows = rows.assign(shots_now=shots)
    strike = 0.5 + pins / PINS_PER_STRIKE
    priced = Priced(
        pins, 180 + pins, strike, np.full_like(pins, 0.6), np.full_like(pins, 0.3), {"ann": np.full(n, 180.0)}
    )
    return Drawn(small_season(), fits_with(Candidates(rows, priced, priced), Settings(), n), truth, rows)
