"""The balls and lines a plan compares, priced in every game of the block planned."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit, logit

from pipeline.decisions.candidates import TRIED, Record, choices_of, records
from pipeline.decisions.records import PHASES
from pipeline.decisions.wording.terms import NO_LINE
from pipeline.errors import RackledgerError
from pipeline.models.fits import Fits
from pipeline.pricing.pins import Level, following_levels, levels, own_average
from pipeline.sport.lane import phase_of
from pipeline.store.season import Season

_MOST_CHOICES = 20  # the most thrown choices are compared; rarer ones cannot lead a plan
_LOGIT_LIMIT = 1e-6

Draws = NDArray[np.float64]
Lane = dict[str, str | float | None]


class PlanError(RackledgerError):
    """A plan that cannot be made; the message says for want of what."""


@dataclass(frozen=True)
class Options:
    """The choices compared.

    Attributes:
        rows: their records, with ``shots`` on the pattern class and ``shots_elsewhere`` on others.
        tried: (games, choices): logged enough in the game's phase to be advised there.
        phase: (games,) the phase of each game.
        pins, kept: (n, games, choices) draws of pins per game against the bowler's own average and of the expected
            score, the line kept whatever the lane does.
        strike, score: the same shape: probability of a strike and expected score of the ball with its line following
            the lane.
    """

    rows: list[Record]
    tried: NDArray[np.bool_]
    phase: list[str]
    pins: Draws
    kept: Draws
    strike: Draws
    score: Draws

    def only(self, keep: list[int]) -> Options:
        """These choices alone; where none of them was tried in a phase, all of them may be thrown there."""
        tried = self.tried[:, keep]
        tried = np.where(tried.any(axis=1, keepdims=True), tried, True)
        parts = (part[:, :, keep] for part in (self.pins, self.kept, self.strike, self.score))
        return Options([self.rows[k] for k in keep], tried, self.phase, *parts)


def choices(season: Season, fits: Fits, bowler: str, pattern_class: str) -> list[Record]:
    """The choices a plan compares, with their shots on the class, on others, and by phase (``in_phase``).

    Those with enough shots by the bowler on that pattern class; where none has, whatever was logged there; where
    nothing was, whatever was logged anywhere.

    Raises:
        PlanError: no first delivery of that bowler.
    """
    rows = choices_of(season, fits.rates.shots)
    own = rows[(rows["bowler"] == bowler) & (rows["shots"] > 0)]
    if own.empty:
        known = ", ".join(sorted(rows["bowler"].unique()))
        raise PlanError(f"No first delivery of {bowler!r} is logged; bowlers with shots are {known}.")
    own = own.assign(here=own["shots"].where(own["pattern_class"] == pattern_class, 0))
    used = own if own["here"].sum() == 0 else own[own["here"] > 0]
    found = used.groupby(["ball", "line"], as_index=False).agg(
        ball_name=("ball_name", "first"), ball_class=("ball_class", "first"), counted=("shots", "sum")
    )
    enough = found[found["counted"] >= fits.settings.evidence.min_shots]
    found = enough if len(enough) > 1 else found  # with one alone there would be nothing to fall back on
    most = found.sort_values(["counted", "ball", "line"], ascending=[False, True, True]).head(_MOST_CHOICES)
    by_phase = used.groupby(["ball", "line", "phase"])["shots"].sum().to_dict()
    in_all = own.groupby(["ball", "line"])[["shots", "here"]].sum()
    result = []
    for row in records(most):
        which = (row["ball"], row["line"])
        shots, here = (int(count) for count in in_all.loc[which])
        in_phase = {phase: int(by_phase.get((*which, phase), 0)) for phase in PHASES}
        result.append({**row, "shots": here, "shots_elsewhere": shots - here, "in_phase": in_phase})
    return result


def tried_in(rows: list[Record], phase: list[str]) -> NDArray[np.bool_]:
    """Choices (games, choices) logged enough in each game's phase; where none was, the most logged; else all."""
    shots = np.array([[row["in_phase"][name] for row in rows] for name in phase])
    most = shots.max(axis=1, keepdims=True)
    result: NDArray[np.bool_] = shots >= np.minimum(most, TRIED)
    return result


def priced(fits: Fits, bowler: str, rows: list[Record], lane: Lane, nearest: Lane, games: int) -> Options:
    """The choices in ``rows`` in each of ``games`` on a ``lane``, in a block of any luck.

    ``nearest`` is the lane with its oil drawn back into what was logged. Oil beyond that widens the draws about the
    means there: knowing less of it promises no more pins, and favours no choice.
    """
    luck = _block_luck(fits, fits.generator(f"plan of {bowler}"))[:, None]
    (_, kept), (strike, score) = _levels(fits, bowler, rows, lane, games, luck)
    if lane != nearest:
        (_, near), near_followed = _levels(fits, bowler, rows, nearest, games, luck)
        kept = _about(near, kept)
        strike, score = (_about(*pair) for pair in zip(near_followed, (strike, score), strict=True))
        strike = np.clip(strike, _LOGIT_LIMIT, 1 - _LOGIT_LIMIT)
    shape = (fits.n_draws, games, len(rows))
    pins = kept - own_average(fits, bowler)[:, None]
    phase = [phase_of(game + 1, fits.settings.phases) for game in range(games)]
    return Options(rows, tried_in(rows, phase), phase, *(part.reshape(shape) for part in (pins, kept, strike, score)))


def _levels(
    fits: Fits, bowler: str, rows: list[Record], lane: Lane, games: int, luck: Draws
) -> tuple[tuple[Draws, Draws], tuple[Draws, Draws]]:
    """Strike and score (n, games by choices) with the line kept, and followed; ``luck`` (n, 1) in logits."""
    grid = pd.DataFrame([{name: row[name] for name in ("ball", "ball_class", "line")} for row in rows] * games)
    grid["line"] = grid["line"].where(grid["line"] != NO_LINE, None)
    grid = grid.assign(bowler=bowler, game=np.repeat(np.arange(games) + 1, len(rows)))
    grid = grid.assign(**{name: np.nan if value is None else value for name, value in lane.items()})
    ball = pd.factorize(grid["ball"].astype(str) + " " + grid["game"].astype(str))[0]
    followed = following_levels(fits, grid, ball, np.tile([float(row["counted"]) for row in rows], games))
    return _shifted(levels(fits, grid), luck), _shifted(followed, luck)


def _shifted(level: Level, logits: Draws) -> tuple[Draws, Draws]:
    """Strike probability and expected score of a level whose strikes are shifted by so many logits."""
    strike = expit(logit(np.clip(level.strike, _LOGIT_LIMIT, 1 - _LOGIT_LIMIT)) + logits)
    return strike, replace(level, strike=strike).score()


def _about(near: Draws, wide: Draws) -> Draws:
    """Draws as wide as the ``wide`` ones, about the means of those ``near``."""
    result: Draws = wide + (near.mean(axis=0) - wide.mean(axis=0))
    return result


def _block_luck(fits: Fits, rng: np.random.Generator) -> Draws:
    """A new block's own effect, in logits: drawn from the population of blocks."""
    posterior, _ = fits.worth.model.draws(fits.n_draws, fits.generator("worth"))
    sd = posterior.sd.get("bowler:block", np.zeros(fits.n_draws))
    result: Draws = sd * rng.standard_normal(fits.n_draws)
    return result
