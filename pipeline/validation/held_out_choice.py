"""What choosing by the model gained on blocks it had not seen: choose on some folds of blocks, value on the others.

In each phase of a pattern class the ball that the training blocks rank first is thrown on the blocks held out. Its
value there is doubly robust (Robins, Rotnitzky & Zhao 1994, see ``inference/doubly_robust``): predicted by the model of
the training blocks, corrected by the shots that were thrown with that ball, each weighted by the inverse probability of
throwing it then (cross-fitting: Chernozhukov et al., Econometrics Journal 21, 2018, from memory), less what was thrown.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.doubly_robust import Roles, clustered, predicted_choice
from pipeline.validation.held_out import Learn, block_folds

_CELL = ["bowler", "pattern_class", "phase"]
_NUMBERS = ("game", "pair_load", "length_ft", "volume_ml", "ratio")
_ROLES = Roles("strikes", "shots", "block", numbers=_NUMBERS)
_LEAST_SHARE = 0.05  # of a cell's shots: a ball thrown less would count each of its shots more than twenty times
_FEWEST_BLOCKS = 5  # from which an error by block can be estimated


@dataclass(frozen=True)
class ValueOfChoosing:
    """Shots held out for which there was a choice, one row per cell.

    ``rows``: bowler, block, shots, changed (shots with another ball than the one chosen), and, as sums over its shots
    in pins per game, ``value``, the gain of choosing, and ``predicted``, the gain that the model of the training blocks
    predicted.
    """

    rows: pd.DataFrame

    def gain(self, bowler: str | None = None) -> tuple[float, float, int] | None:
        """Mean gain per shot, in pins per game, its standard error by block, and blocks; None with too few blocks."""
        rows = self.rows if bowler is None else self.rows[self.rows["bowler"] == bowler]
        if rows["block"].nunique() < _FEWEST_BLOCKS:
            return None
        shots = rows["shots"].to_numpy(dtype=float)
        return clustered(rows["value"].to_numpy(dtype=float), shots, rows["block"].to_numpy())

    def predicted(self, bowler: str | None = None) -> float:
        """Mean gain per shot that was predicted, in pins per game."""
        rows = self.rows if bowler is None else self.rows[self.rows["bowler"] == bowler]
        return float(rows["predicted"].sum() / rows["shots"].sum())


def value_of_choosing(
    cells: pd.DataFrame,
    learn: Learn,
    price: Mapping[str, float],
    min_shots: int,
    left_out: Collection[str] = (),
    folds: int = 4,
) -> ValueOfChoosing | None:
    """Value the model's choice of ball on every block by fits without it.

    Args:
        cells: one row per cell of counts: block, bowler, pattern_class, phase, ball, line, game, shots, strikes and
            the oil and load the predictor reads.
        learn: from training cells to a predictor; see ``held_out.followed``.
        price: bowler -> pins per game per unit of strike probability; other bowlers are left out.
        min_shots: shots in the training blocks from which a ball is compared in a cell.
        left_out: balls never chosen, such as spare balls.
        folds: at most this many.

    Returns:
        None if no block could be held out, or no cell had two balls to compare.
    """
    cells = cells[(cells["shots"] > 0) & cells["bowler"].isin(list(price))].reset_index(drop=True)
    if cells["block"].nunique() < _FEWEST_BLOCKS:
        return None
    parts = []
    for train, test in block_folds(cells, folds):
        seen, unseen = cells.iloc[train], cells.iloc[test]
        compared = _compared(seen[~seen["ball"].isin(list(left_out))], min_shots)
        if compared.empty:
            continue
        predict = learn(seen)
        first_ranked = compared.assign(p=predict(compared)).sort_values("p", ascending=False, kind="stable")
        first_ranked = first_ranked.drop_duplicates(_CELL)[[*_CELL, "ball", "line"]]
        named = first_ranked.rename(columns={"ball": "choice", "line": "choice_line"})
        rows = unseen.merge(named, on=_CELL, how="inner")
        if len(rows):
            share = _shares(seen.merge(named, on=_CELL, how="inner"), rows)
            thrown = predict(rows.drop(columns=["choice", "choice_line"]))
            parts.append(_valued(rows, predict(_as_chosen(rows)), thrown, share, price))
    return ValueOfChoosing(pd.concat(parts, ignore_index=True)) if parts else None


def _compared(seen: pd.DataFrame, min_shots: int) -> pd.DataFrame:
    """Balls with enough shots in cells that have two and more, on the line each was thrown on most."""
    thrown = seen.groupby([*_CELL, "ball"], as_index=False)["shots"].sum()
    enough = thrown[thrown["shots"] >= min_shots]
    enough = enough[enough.groupby(_CELL)["ball"].transform("size") >= 2]
    by_line: pd.DataFrame = seen.groupby([*_CELL, "ball", "line"])["shots"].sum().reset_index()
    usual = by_line.sort_values("shots", ascending=False, kind="stable").drop_duplicates([*_CELL, "ball"])
    means = seen.groupby(_CELL, as_index=False)[[name for name in _NUMBERS if name in seen]].mean()
    return enough.drop(columns="shots").merge(usual.drop(columns="shots"), on=[*_CELL, "ball"]).merge(means, on=_CELL)


def _shares(seen: pd.DataFrame, rows: pd.DataFrame) -> Floats:
    """Probability that each row's shots are thrown with the ball chosen, at its game, load and oil; by cell."""
    out = np.ones(len(rows))
    known = seen.groupby(_CELL).indices
    for cell, at in rows.groupby(_CELL).indices.items():
        of_cell = seen.iloc[known[cell]]
        out[at] = predicted_choice(of_cell, (of_cell["ball"] == of_cell["choice"]).to_numpy(), rows.iloc[at], _ROLES)
    return out


def _as_chosen(rows: pd.DataFrame) -> pd.DataFrame:
    """The same shots with the ball chosen, on its usual line unless it was thrown anyway."""
    so = rows["ball"] == rows["choice"]
    grid = rows.assign(ball=rows["choice"], line=rows["line"].where(so, rows["choice_line"]))
    return grid.drop(columns=["ball_class", "worn", "choice", "choice_line"], errors="ignore")


def _valued(rows: pd.DataFrame, p: Floats, thrown: Floats, share: Floats, price: Mapping[str, float]) -> pd.DataFrame:
    """What throwing the ball chosen gains over what was thrown, in the sum over each row's shots."""
    shots, strikes = rows["shots"].to_numpy(dtype=float), rows["strikes"].to_numpy(dtype=float)
    so = (rows["ball"] == rows["choice"]).to_numpy()
    weight = np.where(so, 1 / np.maximum(share, _LEAST_SHARE), 0.0)
    if so.any():  # weights rescaled to all shots: learned shares are noisy, and their inverses too large on average
        weight *= shots.sum() / (weight @ shots)
    gain = shots * p + weight * (strikes - shots * p) - strikes
    pins = rows["bowler"].map(price).to_numpy(dtype=float)
    of_rows = rows[["bowler", "block", "shots"]]
    return of_rows.assign(
        changed=np.where(so, 0.0, shots), value=gain * pins, predicted=np.where(so, 0.0, shots * (p - thrown) * pins)
    )
