"""Strikes by entry board, for each bowler and for everyone."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.decisions.estimates import estimates
from pipeline.decisions.records import EntryPoint
from pipeline.everyone import EVERYONE
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted, once

_CENTRAL = 0.99  # a curve is drawn over the central 99 % of logged boards


def entry_points(fitted: Fitted) -> list[EntryPoint]:
    """The probability of a strike by half entry board: everyone first, then each bowler; empty if no board was logged.

    A bowler who never logged an entry board has no curve; a curve covers the central 99 % of the logged boards.
    """
    logged = entry_counts(fitted)
    if logged.empty:
        return []
    points = _curve(fitted.fits, None, logged)
    for bowler, mine in logged[logged["bowler"].isin(fitted.fits.mix.shots)].groupby("bowler", sort=True):
        points.extend(_curve(fitted.fits, str(bowler), mine))
    return points


@once(of=Fitted.everybody)
def entry_counts(fitted: Fitted) -> pd.DataFrame:
    """Everybody's shots and strikes by bowler and half entry board."""
    logged = fitted.season.frame("cells/entry_cells").dropna(subset=["entry_half"])
    return logged.groupby(["bowler", "entry_half"], as_index=False)[["shots", "strikes"]].sum()


def _curve(fits: Fits, bowler: str | None, logged: pd.DataFrame) -> list[EntryPoint]:
    counts = logged.groupby("entry_half")[["shots", "strikes"]].sum()
    below = counts["shots"].cumsum() / counts["shots"].sum()
    tail = (1 - _CENTRAL) / 2
    inside = counts[(below > tail) & (below - counts["shots"] / counts["shots"].sum() < 1 - tail)]
    boards = np.arange(float(inside.index.min()), float(inside.index.max()) + 0.25, 0.5)
    counts = counts.reindex(boards, fill_value=0).astype(int)
    draws = fits.entry.entry_draws(boards, bowler, fits.n_draws, fits.generator("entry"))
    rows = zip(boards.tolist(), counts["shots"], counts["strikes"], estimates(draws), strict=True)
    return [
        EntryPoint(
            bowler=bowler or EVERYONE,
            entry_board=board,
            strike=band,
            raw=int(strikes) / int(shots) if shots else None,
            shots=int(shots),
        )
        for board, shots, strikes, band in rows
    ]
