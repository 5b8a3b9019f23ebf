"""Worth of a ball on a line as the block goes on, and where one choice overtakes another, by posterior draws."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.rate_draws import average_score, rate_draws

GAMES = "games into the block"
LOAD = "deliveries on the pair"
LOAD_STEP = 40  # as in queries/cells/transition_cells
_THINNEST = 0.02  # share of the cell's shots beyond which the end of an axis is not shown
_MOST_CHOICES = 6  # choices drawn for one bowler and pattern class: those thrown most
_CHOICE = ["ball", "ball_class", "line"]


Line = tuple[str, str, str, str]
"""A bowler, a pattern class, a ball and a line."""


@dataclass(frozen=True)
class Curve:
    """One ball on one line: ``pins`` (n, points) draws of the worth, and the counts logged at each point."""

    ball: str
    line: str
    pins: Floats
    shots: Floats
    strikes: Floats


@dataclass(frozen=True)
class Panel:
    """All curves of one bowler on one pattern class along one axis, sharing ``x`` and ``game`` (points,).

    ``game``: the game each point is priced at, ``x`` itself along the games.
    """

    bowler: str
    pattern_class: str
    axis: str
    x: Floats
    game: Floats
    curves: tuple[Curve, ...]


def crossing_points(x: Floats, lead: Floats) -> Floats:
    """Where a challenger overtakes, for each draw.

    Args:
        x: (points,) increasing.
        lead: (n, points) challenger minus leader.

    Returns:
        (n,) the first place where the lead turns positive, by straight lines between the points; nan if the
        challenger does not start behind or does not end ahead.
    """
    out = np.full(len(lead), np.nan)
    happens = (lead[:, 0] <= 0) & (lead[:, -1] > 0)
    rows = lead[happens]
    after = np.argmax(rows > 0, axis=1)
    at = np.arange(len(rows))
    low, high = rows[at, after - 1], rows[at, after]
    out[happens] = x[after - 1] + (x[after] - x[after - 1]) * low / (low - high)
    return out


@dataclass(frozen=True)
class _Plan:
    """A panel before it is priced: its cells, its choices and, for every point, the game and load to price at."""

    bowler: str
    pattern_class: str
    axis: str
    cells: pd.DataFrame
    choices: pd.DataFrame
    x: Floats
    game: Floats

    def grid(self) -> pd.DataFrame:
        """One row per choice and point, choices outermost."""
        load = self.x if self.axis == LOAD else np.full(len(self.x), np.nan)
        places = pd.DataFrame({"game": self.game, "pair_load": load})
        return self.choices.merge(places, how="cross").assign(bowler=self.bowler, pattern_class=self.pattern_class)


def panels(fitted: Fitted, also: Collection[Line] = ()) -> list[Panel]:
    """Curves by game and by load of the pair for every bowler and pattern class with a choice thrown often enough.

    A choice needs the settings' ``min_shots``; those thrown most get a curve, and so do those in ``also``. Along the
    load of the pair the game moves with it as in the log, since a pair is never worn in game 1 and fresh in game 6.
    """
    cells = fitted.season.frame("cells/transition_cells")
    out: list[Panel] = []
    for bowler, mine in cells.groupby("bowler", sort=True):
        plans = [
            plan
            for pattern, part in mine.groupby("pattern_class", sort=True)
            for plan in _plans(str(bowler), str(pattern), part, fitted.fits.settings.evidence.min_shots, also)
            if len(plan.x) > 1
        ]
        if plans:
            out += _priced(fitted.fits, str(bowler), plans)
    return out


def _plans(bowler: str, pattern: str, part: pd.DataFrame, min_shots: int, also: Collection[Line]) -> list[_Plan]:
    thrown = part.groupby(_CHOICE, sort=True)["shots"].sum()
    enough = thrown[thrown >= min_shots]
    wanted = [(bowler, pattern, ball, line) in also for ball, _, line in enough.index]
    most = enough.nlargest(_MOST_CHOICES)
    plans = pd.concat([most, enough[wanted].drop(most.index, errors="ignore")])
    if plans.empty:
        return []
    choices = plans.reset_index()[_CHOICE]
    games, load = reach(part, "game", 1), reach(part, "pair_load", LOAD_STEP)
    weighted = (part["game"] * part["shots"]).groupby(part["pair_load"]).sum()
    usual = weighted / part["shots"].groupby(part["pair_load"]).sum()
    game = np.interp(load, usual.index.to_numpy(dtype=float), usual.to_numpy(dtype=float))
    return [
        _Plan(bowler, pattern, GAMES, part, choices, games, games),
        _Plan(bowler, pattern, LOAD, part, choices, load, game),
    ]


def _priced(fits: Fits, bowler: str, plans: list[_Plan]) -> list[Panel]:
    grids = [plan.grid() for plan in plans]
    pins = rate_draws(fits, pd.concat(grids, ignore_index=True)).score() - average_score(fits, bowler)[:, None]
    edges = np.cumsum([0, *map(len, grids)])
    return [_panel(plan, pins[:, edges[k] : edges[k + 1]]) for k, plan in enumerate(plans)]


def reach(part: pd.DataFrame, column: str, step: int) -> Floats:
    """The points of an axis: from the lowest to the highest value that still holds its share of the shots."""
    counts = part.groupby(column)["shots"].sum().sort_index()
    tail = counts[::-1].cumsum()[::-1]
    last = int(counts.index[tail >= _THINNEST * counts.sum()].max())
    return np.arange(int(counts.index.min()), last + 1, step, dtype=float)


def _panel(plan: _Plan, pins: Floats) -> Panel:
    pins = pins.reshape(len(pins), len(plan.choices), len(plan.x))
    column = "game" if plan.axis == GAMES else "pair_load"
    counted = plan.cells.groupby(["ball", "line", column])[["shots", "strikes"]].sum()
    points = plan.choices[["ball", "line"]].merge(pd.DataFrame({column: plan.x}), how="cross")
    near = counted.reindex(pd.MultiIndex.from_frame(points), fill_value=0).to_numpy(dtype=float)
    shots, strikes = near.reshape(len(plan.choices), len(plan.x), 2).transpose(2, 0, 1)
    curves = [
        Curve(str(ball), str(line), pins[:, k], shots[k], strikes[k])
        for k, (ball, _, line) in enumerate(plan.choices[_CHOICE].itertuples(index=False))
    ]
    return Panel(plan.bowler, plan.pattern_class, plan.axis, plan.x, plan.game, tuple(curves))
