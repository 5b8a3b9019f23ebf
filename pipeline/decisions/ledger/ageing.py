"""The effect of the age of a bowler's balls on the level of each block, by the model of ball wear."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.decisions.arsenal.verdicts import everybodys_balls
from pipeline.errors import FAILED_NUMBERS
from pipeline.models.balls.ball_wear import AGES
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.block_level import Ages


def ages_of(fitted: Fitted, bowler: str) -> Ages | None:
    """Effects of age of every ball in every block of the bowler; None if ages or wear are not known."""
    try:
        bag = everybodys_balls(fitted)
    except FAILED_NUMBERS:
        return None  # which the report says where it speaks of balls
    fit = bag.fit
    mine = bag.cells[(bag.cells["bowler"] == bowler) & bag.cells["ball"].isin(fit.balls if fit else ())]
    if fit is None or mine.empty:
        return None
    shots = mine["shots"].astype(float)
    weighted = mine[list(AGES)].astype(float).mul(shots, axis=0).assign(shots=shots, number=mine["surface_number"])
    by = weighted.groupby([mine["ball"], mine["block"]])
    sums = by[[*AGES, "shots"]].sum()
    number, thrown = by["number"].max(), sums["shots"].to_numpy()
    tens = sums[list(AGES)].to_numpy() / thrown[:, None] / 10
    balls = sums.index.get_level_values("ball").astype(str)
    at = np.array([fit.balls.index(ball) for ball in balls])
    surface = [fit.surface(ball, int(stretch)) for ball, stretch in zip(balls, number, strict=True)]
    slopes = (fit.wear[:, at], fit.care[:, None], fit.total[:, None])
    logit = np.column_stack(surface) + sum(slope * age for slope, age in zip(slopes, tens.T, strict=True))
    of_ball = (at[:, None] == np.unique(at)).astype(float) * thrown[:, None]
    usual = (logit @ (of_ball / of_ball.sum(axis=0)))[:, np.searchsorted(np.unique(at), at)]
    return Ages(pd.DataFrame(sums.index.to_list(), columns=["ball", "block"]).astype(str), logit - usual)
