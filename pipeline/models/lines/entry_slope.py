"""How far the entry board moves with a board at the arrows.

Bowlers react to what they saw. A ball that came in high by luck is followed by a move, and its entry board regresses to
the mean: steps of the two boards, compared directly, make the slope look about twice what it is. Two estimates use only
what the luck of the shots compared cannot have caused, as for panels whose regressors respond to the past (Arellano &
Bond, Review of Economic Studies 58, 1991; Arellano & Bover, J. Econometrics 68, 1995; both from memory):

- *moves*: the part of a step that the entry boards before both shots predicted. Errors of the logged arrow board do no
  harm, but the estimate is noisy;
- *scatter*: how a shot differs from the next ones, by how its arrow board differed from the last ones. It is precise,
  but errors of the logged arrow board make it too flat. How much of the scatter is real is unknown, so it is a lower
  bound.

The posterior is taken over a grid of slopes, so a season with hardly a move leaves the prior.
The moments are summed by block, and their variance between blocks is their noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import logsumexp, softmax

from pipeline.arrays import Floats
from pipeline.store.season import Season

# Prior, our own choice: centre and scale of a Student t, boards per board at the arrows. Its heavy tails let the data
# decide on lanes where balls answer the arrows far more than usual.
_MIDDLE, _SCALE, _FREEDOM = -0.3, 0.12, 3.0
_SLOPES = np.linspace(-2.4, 1.2, 1441)
_REAL = np.arange(0.05, 1.0, 0.1)  # share of the logged scatter at the arrows that is real; more is likelier


@dataclass(frozen=True)
class EntrySlope:
    """Boards that the entry board moves with a board at the arrows: the posterior over ``slopes`` (points,)."""

    slopes: Floats
    weights: Floats

    @property
    def mean(self) -> float:
        """Posterior mean."""
        return float(self.weights @ self.slopes)

    @property
    def sd(self) -> float:
        """Posterior sd."""
        return float(np.sqrt(self.weights @ (self.slopes - self.mean) ** 2))

    @property
    def rms(self) -> float:
        """Root mean square over the posterior."""
        return float(np.hypot(self.mean, self.sd))

    def quantiles(self, n: int = 9) -> list[tuple[float, float]]:
        """Medians of ``n`` equal shares of the posterior, each with its share."""
        at = np.interp((np.arange(n) + 0.5) / n, np.cumsum(self.weights), self.slopes)
        return [(float(slope), 1 / n) for slope in at]

    def draws(self, n: int, rng: np.random.Generator) -> Floats:
        """Draws (n,) of the slope."""
        drawn: Floats = np.interp(rng.random(n), np.cumsum(self.weights), self.slopes)
        return drawn


def fit_entry_slope(sums: pd.DataFrame) -> EntrySlope:
    """The slope from rows of ``cells/entry_by_arrow``; without any, the prior."""
    log_density = -(_FREEDOM + 1) / 2 * np.log1p(((_SLOPES - _MIDDLE) / _SCALE) ** 2 / _FREEDOM)
    if len(sums) > 1:
        moves = sums[["before_arrow", "before_entry"]].to_numpy(dtype=float)
        scatter = sums[["later_arrow", "later_entry"]].to_numpy(dtype=float)
        log_density += _log_likelihood(moves, _SLOPES)
        by_share = [_log_likelihood(scatter, share * _SLOPES) + np.log(share) for share in _REAL]
        log_density += logsumexp(by_share, axis=0)
    return EntrySlope(_SLOPES, softmax(log_density))


def _log_likelihood(parts: Floats, slopes: Floats) -> Floats:
    """Of slopes (points,) by moments (blocks, 2) of the arrow and the entry board: their sum is normal about 0."""
    left = parts[:, 1] - slopes[:, None] * parts[:, 0]
    spread = (left**2).sum(axis=1)
    log_density: Floats = -0.5 * np.divide(left.sum(axis=1) ** 2, spread, out=np.zeros_like(spread), where=spread > 0)
    return log_density


PRIOR = fit_entry_slope(pd.DataFrame())
"""The prior: the slope without any shot."""


def entry_slope(season: Season) -> EntrySlope:
    """The slope over everybody's shots of the season."""
    return fit_entry_slope(season.frame("cells/entry_by_arrow"))
