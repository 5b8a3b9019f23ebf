"""Worth of a ball on a line as the block goes on, and where one choice overtakes another, by posterior draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.models.arrow import Floats
from pipeline.models.fits import Fits
from pipeline.models.season import Season
from pipeline.models.value import levels, own_average

GAMES = "games into the block"
LOAD = "deliveries on the pair"
LOAD_STEP = 40  # as in queries/54
_THINNEST = 0.02  # share of the cell's shots beyond which the end of an axis is not shown
_MOST_CHOICES = 6  # choices drawn for one bowler and pattern class: those thrown most
_CHOICE = ["ball", "ball_name", "ball_class", "line"]


@dataclass(frozen=True)
class Curve:
    """One ball on one line: ``pins`` (n, points) draws of the worth, and the counts logged at each point."""

    ball: str
    ball_name: str
    line: str
    pins: Floats
    shots: Floats
    strikes: Floats


@dataclass(frozen=True)
class Panel:
    """All curves of one bowler on one pattern class along one axis, sharing ``x`` (points,)."""

    bowler: str
    pattern_class: str
    axis: str
    x: Floats
    curves: tuple[Curve, ...]


def crossing_points(x: Floats, lead: Floats) -> Floats:
    """Where a challenger overtakes, for each draw.

    Args:
        x: (points,) increasing.
        lead: (n, points) challenger minus leader.

    Returns:
        (n,) the first place where the lead turns positive, by straight lines between the points; nan where the
        challenger does not start behind or does not end ahead.
    """
    out = np.full(len(lead), np.nan)
    happens = (lead[:, 0] <= 0) & (lead[:, -1] > 0)
    rows = lead[happens]
    after = np.argmax(rows > 0, axis=1)
    every = np.arange(len(rows))
    low, high = rows[every, after - 1], rows[every, after]
    out[happens] = x[after - 1] + (x[after] - x[after - 1]) * low / (low - high)
    return out


def panels(season: Season, fits: Fits) -> list[Panel]:
    """Curves by game and by load of the pair for every bowler and pattern class with a choice thrown often enough.

    A choice needs the settings' ``min_shots``. Along the load of the pair the game moves with it as it did in the
    log, since a pair is never worn in game 1 and fresh in game 6.
    """
    cells = season.frame("54_transition_cells")
    out: list[Panel] = []
    for (bowler, pattern), part in cells.groupby(["bowler", "pattern_class"], sort=True):
        choices = part.groupby(_CHOICE, sort=True)["shots"].sum()
        kept = choices[choices >= fits.settings.evidence.min_shots].nlargest(_MOST_CHOICES)
        if kept.empty:
            continue
        named = kept.reset_index()[_CHOICE]
        games = _reach(part, "game", 1)
        out.append(_panel(fits, (str(bowler), str(pattern), GAMES), part, named, games, games))
        load = _reach(part, "pair_load", LOAD_STEP)
        weighted = (part["game"] * part["shots"]).groupby(part["pair_load"]).sum()
        usual = weighted / part["shots"].groupby(part["pair_load"]).sum()
        game = np.interp(load, usual.index.to_numpy(dtype=float), usual.to_numpy(dtype=float))
        out.append(_panel(fits, (str(bowler), str(pattern), LOAD), part, named, load, game))
    return [panel for panel in out if len(panel.x) > 1]


def _reach(part: pd.DataFrame, column: str, step: int) -> Floats:
    """The points of an axis: from the lowest to the highest value that still holds its share of the shots."""
    counts = part.groupby(column)["shots"].sum().sort_index()
    tail = counts[::-1].cumsum()[::-1]
    last = int(counts.index[tail >= _THINNEST * counts.sum()].max())
    return np.arange(int(counts.index.min()), last + 1, step, dtype=float)


def _panel(
    fits: Fits, key: tuple[str, str, str], part: pd.DataFrame, named: pd.DataFrame, x: Floats, game: Floats
) -> Panel:
    bowler, pattern, axis = key
    places = pd.DataFrame({"game": game, "point": np.arange(len(x))})
    if axis == LOAD:
        places["pair_load"] = x
    grid = named.merge(places, how="cross").assign(bowler=bowler, pattern_class=pattern)
    pins = levels(fits, grid).score() - own_average(fits, bowler)[:, None]
    pins = pins.reshape(len(pins), len(named), len(x))
    column = "game" if axis == GAMES else "pair_load"
    counted = part.groupby(["ball", "line", column])[["shots", "strikes"]].sum()
    curves = []
    for k, (ball, name, line) in enumerate(zip(named["ball"], named["ball_name"], named["line"], strict=True)):
        near = counted.loc[(ball, line)].reindex(x, fill_value=0)
        shots, strikes = near["shots"].to_numpy(dtype=float), near["strikes"].to_numpy(dtype=float)
        curves.append(Curve(str(ball), str(name), str(line), pins[:, k], shots, strikes))
    return Panel(bowler, pattern, axis, x, tuple(curves))
