"""How many boards a bowler's line moves per game, with the block as the unit of evidence.

Each block gives one slope of the game means of a board on the game; the slopes of a bowler on a pattern class are then
combined as in a random-effects meta-analysis (DerSimonian & Laird, Controlled Clinical Trials 7, 1986), so shots of one
block never pass for independent ones. The scatter of game means about their block's line and the spread of slopes
between blocks are shared by all bowlers, which keeps a bowler with two blocks honest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from pipeline.arrays import Floats

TARGETS = ("laydown", "arrow", "breakpoint")
_LEAST_NOISE = 0.05  # boards; below this a game mean is no better known


@dataclass(frozen=True)
class Slope:
    """Boards per game with its standard error and degrees of freedom; ``blocks`` and ``shots`` behind it."""

    boards: float
    error: float
    freedom: float
    blocks: int
    shots: int

    def quantile(self, probability: float) -> float:
        """Quantile of the estimate's t distribution, boards per game."""
        return float(self.boards + self.error * stdtrit(self.freedom, probability))


@dataclass(frozen=True)
class _Scatter:
    """Variance of a game mean about its block's line, variance of slopes between blocks, degrees of freedom."""

    game: float
    slope: float
    freedom: float


def block_slopes(games: pd.DataFrame, target: str) -> pd.DataFrame:
    """One row per block of a bowler with two games or more of ``target``: slope, sum of squares, left, freedom.

    ``games`` has bowler, pattern_class, block, game, the target's mean board and its shots (``<target>_shots``).
    """
    held = games[games[target].notna() & (games[f"{target}_shots"] > 0)]
    keys = ["bowler", "pattern_class", "block"]
    centred = held[["game", target]] - held.groupby(keys)[["game", target]].transform("mean")
    parts = held[keys].assign(
        xx=centred["game"] ** 2,
        xy=centred["game"] * centred[target],
        yy=centred[target] ** 2,
        games=1,
        shots=held[f"{target}_shots"],
    )
    sums = parts.groupby(keys, sort=True).sum().reset_index()
    sums = sums[sums["xx"] > 0]
    slope = sums["xy"] / sums["xx"]
    left = (sums["yy"] - slope * sums["xy"]).clip(lower=0)
    return sums.assign(slope=slope, spread=sums["xx"], left=left, freedom=sums["games"] - 2)[
        [*keys, "slope", "spread", "left", "freedom", "shots"]
    ]


def _scatter(slopes: pd.DataFrame) -> _Scatter:
    freedom = float(slopes["freedom"].sum())
    game = float(slopes["left"].sum()) / freedom if freedom > 0 else 1.0
    game = max(game, _LEAST_NOISE**2)
    weight = slopes["spread"] / game
    groups = [slopes["bowler"], slopes["pattern_class"]]
    total = weight.groupby(groups).transform("sum")
    mean = (weight * slopes["slope"]).groupby(groups).transform("sum") / total
    excess = float((weight * (slopes["slope"] - mean) ** 2).sum())
    share = (weight**2).groupby(groups).sum() / weight.groupby(groups).sum()
    expected = len(slopes) - len(share)
    scale = float(weight.sum() - share.sum())
    between = max(0.0, (excess - expected) / scale) if scale > 1e-9 else game
    return _Scatter(game, between, max(1.0, float(expected)))


def slopes_by_class(games: pd.DataFrame, target: str, like: pd.DataFrame | None = None) -> dict[tuple[str, str], Slope]:
    """(bowler, pattern class) -> boards per game of ``target``; the scatter is taken from ``like`` if given."""
    slopes = block_slopes(games, target)
    if slopes.empty:
        return {}
    scatter = _scatter(slopes if like is None else block_slopes(like, target))
    out = {}
    for (bowler, pattern), part in slopes.groupby(["bowler", "pattern_class"], sort=True):
        weight: Floats = 1.0 / (scatter.slope + scatter.game / part["spread"].to_numpy(dtype=float))
        out[str(bowler), str(pattern)] = Slope(
            boards=float(weight @ part["slope"].to_numpy(dtype=float) / weight.sum()),
            error=float(weight.sum() ** -0.5),
            freedom=scatter.freedom,
            blocks=len(part),
            shots=int(part["shots"].sum()),
        )
    return out


def best_third(games: pd.DataFrame, scores: pd.DataFrame) -> pd.DataFrame:
    """The games with a score in the best third of a bowler's on a pattern class; unscored ones are left out."""
    scored = games.merge(scores[["bowler", "block", "game", "score"]], on=["bowler", "block", "game"], how="inner")
    scored = scored[scored["score"].notna()]
    bar = scored.groupby(["bowler", "pattern_class"])["score"].transform(lambda part: np.quantile(part, 2 / 3))
    return scored[scored["score"] >= bar]
