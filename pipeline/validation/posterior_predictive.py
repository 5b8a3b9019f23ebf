"""Posterior-predictive checks: does the season look like seasons that the fitted models would make?

Each check has a number computed from the season and from replicated seasons. Its probability is the share of replicates
with a number at least as large, half of the ties counted (Gelman, Meng & Stern, Stat. Sinica 6, 1996, 733-807): near 0
the season shows more of it than the model makes, near 1 less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from scipy.special import expit, logit

from pipeline.arrays import Floats
from pipeline.models.spares.leave import LeaveFit
from pipeline.models.strikes.strike_by_entry import EntryFit
from pipeline.models.strikes.strike_worth import WorthFit

_BLOCK = "bowler:block"
_FEWEST_EXPECTED = 5.0  # bins with fewer expected strikes or misses are too thin to judge


Measure = Literal["longest_run", "three_in_a_row", "strike_spread", "strikes_by_entry", "leaves_by_cell"]
DISCREPANCIES: tuple[Measure, ...] = ("strikes_by_entry", "leaves_by_cell")
"""Measures that are a distance from the model, which can only be too large."""


@dataclass(frozen=True)
class Replicated:
    """One number of the season beside the same number of replicated seasons.

    Attributes:
        measure: what is counted.
        observed: the season's number.
        expected: mean over replicates.
        low, high: central 95 % of the replicates.
        p: share of the replicates at least as large.
        parts: bins, cells or games behind it.
    """

    measure: Measure
    observed: float
    expected: float
    low: float
    high: float
    p: float
    parts: int


def replicated(measure: Measure, observed: float, replicates: Floats, parts: int) -> Replicated:
    """Set a number beside its replicates, shape (n,)."""
    low, high = np.quantile(replicates, [0.025, 0.975])
    p = float((replicates > observed).mean() + (replicates == observed).mean() / 2)
    return Replicated(measure, float(observed), float(replicates.mean()), float(low), float(high), p, parts)


def run_statistics(strikes: np.ndarray, game: np.ndarray) -> dict[Measure, Floats]:
    """Statistics of strike runs by replicate.

    Args:
        strikes: shape (n, deliveries), true for a strike; deliveries of a game stand together in order.
        game: shape (deliveries,), the number of its game, rising from 0.

    Returns:
        Measure -> shape (n,): mean longest strike run per game, share of games with three strikes in a row, and the
        standard deviation of strikes per game.
    """
    games = int(game[-1]) + 1
    longest = np.zeros((len(strikes), games), dtype=np.int64)
    total = np.zeros((len(strikes), games), dtype=np.int64)
    run = np.zeros(len(strikes), dtype=np.int64)
    for place, number in enumerate(game):
        if place == 0 or number != game[place - 1]:
            run[:] = 0
        run = np.where(strikes[:, place], run + 1, 0)
        np.maximum(longest[:, number], run, out=longest[:, number])
        total[:, number] += strikes[:, place]
    return {
        "longest_run": longest.mean(axis=1),
        "three_in_a_row": (longest >= 3).mean(axis=1),
        "strike_spread": total.std(axis=1),
    }


def strike_runs(sequences: pd.DataFrame, worth: WorthFit, n: int, rng: np.random.Generator) -> list[Replicated]:
    """Compare strike runs within games with ``n`` replicates of the worth model.

    Every replicate draws new effects for its blocks, since the spread between blocks is part of the model.

    Args:
        sequences: one row per first delivery, in order: block, bowler, game, strike and what the worth model reads.
        worth: the fitted model.
        n: replicates.
        rng: of the replicates.
    """
    if sequences.empty:
        return []
    keys = [column for column in sequences.columns if column not in ("strike", "frame", "block")]
    grid, places = _distinct(sequences, keys)
    logits = logit(worth.strike_draws(grid, n, rng, "followed"))[:, places]
    block = pd.factorize(sequences["bowler"].astype(str) + "|" + sequences["block"].astype(str))[0]
    spread = worth.model.draws(n, rng)[0].sd.get(_BLOCK, np.zeros(n))
    logits += (rng.standard_normal((n, block.max() + 1)) * spread[:, None])[:, block]
    made = rng.random(logits.shape) < expit(logits)
    game = sequences.groupby(["block", "bowler", "game"], sort=False).ngroup().to_numpy()
    seen_first = np.vstack([sequences["strike"].to_numpy(dtype=bool), made])
    return [
        replicated(measure, float(values[0]), values[1:], int(game[-1]) + 1)
        for measure, values in run_statistics(seen_first, game).items()
    ]


def _distinct(frame: pd.DataFrame, keys: Sequence[str]) -> tuple[pd.DataFrame, np.ndarray]:
    """Distinct rows of ``keys`` and the place of every row among them."""
    places = frame.groupby(list(keys), dropna=False, sort=False).ngroup().to_numpy()
    grid = frame[list(keys)].assign(place=places).drop_duplicates("place").drop(columns="place")
    return grid.reset_index(drop=True), places


def entry_bins(entry: EntryFit, n: int, rng: np.random.Generator) -> Replicated | None:
    """Compare strikes by whole entry board with the entry model, by the sum of squared standardised differences.

    None if no board has enough shots.
    """
    cells, likely = entry.cell_draws(n, rng)
    logged = cells["entry_half"].notna().to_numpy()
    if not logged.any():
        return None
    shots = cells["shots"].to_numpy(dtype=np.int64)[logged]
    board = pd.factorize(np.floor(cells["entry_half"].to_numpy(dtype=float)[logged] + 0.5), sort=True)[0]
    mean = likely[:, logged]
    made = rng.binomial(shots, mean)
    seen = cells["strikes"].to_numpy(dtype=float)[None, logged]
    expected, variance, ours, theirs = (
        _by_bin(table, board) for table in (mean * shots, mean * (1 - mean) * shots, seen, made.astype(float))
    )
    misses = _by_bin(shots[None].astype(float), board) - expected
    thick = np.minimum(expected, misses).mean(axis=1) >= _FEWEST_EXPECTED
    if not thick.any():
        return None
    return _discrepancy("strikes_by_entry", ours[thick], theirs[thick], expected[thick], variance[thick])


def _by_bin(table: Floats, place: np.ndarray) -> Floats:
    """Sum the columns of (n, cells) by bin; shape (bins, n)."""
    out = np.zeros((int(place.max()) + 1, len(table)))
    np.add.at(out, place, table.T)
    return out


def _discrepancy(measure: Measure, seen: Floats, made: Floats, expected: Floats, variance: Floats) -> Replicated:
    """Chi-squared discrepancy of season and replicates, each against the same draw of the model; axis 1 the draw."""
    ours = ((seen - expected) ** 2 / variance).sum(axis=0)
    theirs = ((made - expected) ** 2 / variance).sum(axis=0)
    low, high = np.quantile(theirs, [0.025, 0.975])
    p = float((theirs > ours).mean() + (theirs == ours).mean() / 2)
    return Replicated(measure, float(ours.mean()), float(theirs.mean()), float(low), float(high), p, len(expected))


def leave_frequencies(cells: pd.DataFrame, leave: LeaveFit, n: int, rng: np.random.Generator) -> Replicated | None:
    """Compare the types of leave in each pattern class and phase with the leave model.

    Args:
        cells: columns bowler, pattern_class, ball_class, phase, leave_type, shots; strikes left out.
        leave: the fitted model.
        n: draws.
        rng: of the replicates.
    """
    if cells.empty:
        return None
    keys = ["bowler", "pattern_class", "ball_class", "phase"]
    grid, places = _distinct(cells, keys)
    codes = pd.Categorical(cells["leave_type"], categories=list(leave.types)).codes
    seen: Floats = np.zeros((len(grid), len(leave.types)))
    np.add.at(seen, (places, codes), cells["shots"].to_numpy(dtype=float))
    shares = leave.type_draws(grid, n, rng)
    totals = seen.sum(axis=1).astype(np.int64)
    made = rng.multinomial(totals[None, :], shares / shares.sum(axis=2, keepdims=True)).astype(float)
    where = grid.groupby(["pattern_class", "phase"], dropna=False, sort=False).ngroup().to_numpy()
    ours = _by_group(seen[None], where)
    theirs, expected = _by_group(made, where), _by_group(shares * totals[None, :, None], where)
    thick = expected.mean(axis=1) >= _FEWEST_EXPECTED
    if not thick.any():
        return None
    return _discrepancy("leaves_by_cell", ours[thick], theirs[thick], expected[thick], expected[thick])


def _by_group(table: Floats, where: np.ndarray) -> Floats:
    """Sum rows (axis 1) of (n, rows, types) by group; shape (groups * types, n)."""
    out = np.zeros((int(where.max()) + 1, table.shape[2], table.shape[0]))
    np.add.at(out, where, np.moveaxis(table, 0, 2))
    return out.reshape(-1, table.shape[0])
