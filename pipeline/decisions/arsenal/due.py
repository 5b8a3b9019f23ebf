"""The day by which a ball is due for a resurfacing, if it wears as estimated.

The best age minimises the cost of a resurfacing plus the pins lost to wear, per game since the last one. A ball is due
in the first game in which it loses more, against a fresh surface, than that lowest average (replacement by age,
Barlow & Hunter, Operations Research 8, 1960, from memory). A resurfacing costs ``costs.resurface`` pins per game over
``costs.games_ahead`` games.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from pipeline.arrays import Floats
from pipeline.models.balls.ball_wear import AgeingFit
from pipeline.settings import Costs

HORIZON = 3
"""Times ``costs.games_ahead`` that are looked ahead; what is due later is not said."""
_FARTHEST = 730  # days ahead within which a day is named
_STEP = 2.0  # games between the ages tried


@dataclass(frozen=True)
class Pace:
    """Pace of a ball: ``games`` with it in the ``days`` that its bowler logged, up to the day ``last``."""

    games: float
    days: int
    last: dt.date

    def day_after(self, games: float) -> dt.date | None:
        """The day by which so many more games with the ball will have been bowled.

        None if the log covers less than four weeks, or if the day lies more than two years ahead.
        """
        if self.days < 28 or self.games <= 0:
            return None
        ahead = round(games / self.games * self.days)
        return self.last + dt.timedelta(days=ahead) if ahead <= _FARTHEST else None


def games_until_due(
    fit: AgeingFit,
    ball: str,
    ages: tuple[float, float, float],
    surface: Floats,
    pins: Floats,
    costs: Costs,
) -> Floats:
    """Draws (n,) of games until the ball is due; infinite if it is not within the horizon.

    ``ages``, ``surface`` and ``pins`` as in ``verdicts.utilities``.
    """
    horizon = float(HORIZON * costs.games_ahead)
    steps = np.arange(0.0, horizon + _STEP, _STEP)
    since, care, total = ages
    fresh = fit.strike(ball, 0.0, 0.0, total)
    lost = pins[:, None] * (fresh - fit.strike(ball, steps, steps, total))
    summed = np.cumsum((lost[:, 1:] + lost[:, :-1]) / 2 * _STEP, axis=1)
    average = (costs.resurface * costs.games_ahead + summed) / steps[1:]
    ever = average.argmin(axis=1) < average.shape[1] - 1  # still falling at the horizon: not worth a resurfacing
    losing = pins[:, None] * (fresh - fit.strike(ball, since + steps, care + steps, total, surface))
    due = (losing >= average.min(axis=1)[:, None]) & ever[:, None]
    return np.where(due.any(axis=1), steps[due.argmax(axis=1)], np.inf)
