"""What a choice gained by the lane that night, which the models do not price: drawn, so that intervals count it.

The chance of a choice as it was made is what strikes show; how much of it the bowler gained by choosing that ball and
that line there, against the usual ones, is not seen. So the chances before a choice are unsure by it, at once for all
choices of a bowler. And a line on one pattern does something of its own: as much as a ball's boards differ by pattern.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import logit

from pipeline.arrays import Draws
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.effect_draws import keyed_noise, noise_of
from pipeline.models.fits import Fits
from pipeline.pricing.ledger.class_usual import ClassUsual

Stage = tuple[Draws, Draws, Draws, Draws]
"""Draws (n, rows) of a stage: strike, and spare, first and second pins after none."""
_GAINED = 0.005  # log odds, sd of what choosing gains on average; our own choice, about 0.2 pins per game
_LEAST = 1e-6


def before_choosing(fits: Fits, who: str, lane: Stage, ball: Stage, line: Stage) -> list[Stage]:
    """The three stages, those before a choice as unsure as what choosing gained; ``who`` chose."""
    base = int(fits.generator("choosing").integers(2**32))
    of_ball, of_line = _GAINED * noise_of([f"ball {who}", f"line {who}"], len(lane[0]), base)
    return [_less(lane, of_ball + of_line), _less(ball, of_line), line]


def on_their_patterns(fits: Fits, usual: ClassUsual, made: pd.DataFrame, stage: Stage) -> Stage:
    """The stage of choices ``made`` with what each line does on its pattern beyond the model, drawn about 0."""
    if usual.between_nights is None:
        return stage
    strike, *rest = stage
    rng = fits.generator("lines_by_pattern")
    sd, base = usual.between_nights.line_sd(len(strike), rng), int(rng.integers(2**32))
    keys = [" ".join(map(str, key)) for key in made[["bowler", "ball", "pattern", "line"]].itertuples(index=False)]
    own = np.clip(strike + sd[:, None] * keyed_noise(keys, len(strike), base), _LEAST, 1 - _LEAST)
    return own, rest[0], rest[1], rest[2]


def _less(stage: Stage, by: np.ndarray) -> Stage:
    """The stage with strikes lower by log odds (n,)."""
    strike, *rest = stage
    lower = logistic(logit(np.clip(strike, _LEAST, 1 - _LEAST)) - by[:, None])
    return lower, rest[0], rest[1], rest[2]
