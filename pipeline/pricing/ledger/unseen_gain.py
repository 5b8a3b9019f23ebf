"""The part of a choice's gain that the models cannot see, as noise, so that intervals count it.

Strikes show the chance of a choice as it was made, but not how much of it the bowler gained by choosing that ball and
line on that night's lane. So the chances before a choice get noise, shared by all choices of a bowler. A line on one
pattern also has an effect of its own, as large as a ball's boards differ between patterns.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import logit

from pipeline.arrays import Draws
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.effect_draws import noise_of
from pipeline.models.fits import Fits
from pipeline.pricing.ledger.class_usual import ClassUsual

Stage = tuple[Draws, Draws, Draws, Draws]
"""Draws (n, rows) of a stage: strike, and spare, first and second pins after none."""
_GAINED = 0.008  # log odds, sd of the mean gain of choosing; our own choice, about a third of a pin per game
_LEAST = 1e-6


def before_choosing(fits: Fits, who: str, lane: Stage, ball: Stage, line: Stage) -> list[Stage]:
    """The three stages, with noise for the unseen gain in those before a choice; ``who`` chose."""
    base = int(fits.generator("choosing").integers(2**32))
    of_ball, of_line = _GAINED * noise_of([f"ball {who}", f"line {who}"], len(lane[0]), base)
    return [_less(lane, of_ball + of_line), _less(ball, of_line), line]


def on_their_patterns(fits: Fits, usual: ClassUsual, made: pd.DataFrame, stage: Stage) -> Stage:
    """The stage of choices ``made`` with noise for the effect of each line on its pattern beyond the model."""
    if usual.between_nights is None:
        return stage
    strike, *rest = stage
    keys = [" ".join(map(str, key)) for key in made[["bowler", "ball", "pattern", "line"]].itertuples(index=False)]
    noise = usual.between_nights.of_lines(keys, len(strike), fits.generator("lines_by_pattern"))
    noisy = np.clip(strike + noise, _LEAST, 1 - _LEAST)
    return noisy, rest[0], rest[1], rest[2]


def _less(stage: Stage, by: np.ndarray) -> Stage:
    """The stage with strikes lower by log odds (n,)."""
    strike, *rest = stage
    lower = logistic(logit(np.clip(strike, _LEAST, 1 - _LEAST)) - by[:, None])
    return lower, rest[0], rest[1], rest[2]
