"""Ball against ball, by the worth model and by a doubly robust estimate, in pins per game."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import Sensitivity
from pipeline.decisions.wording.checks import contrast_question
from pipeline.inference.doubly_robust import Contrast, Roles, contrast
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.pins_per_strike import pins_per_strike

# Bowlers change balls because the lanes get worse, so raw rates by ball compare different lanes.
ROLES = Roles(
    successes="strikes",
    trials="shots",
    cluster="block",
    numbers=("game", "pair_load", "length_ft", "volume_ml", "ratio"),
    squared=("game",),
    names=("bowler", "pattern_class", "line"),
)
_MOST_QUESTIONS = 2  # of a bowler
_FEWEST_SHOTS = 60  # shots of the less thrown ball; with fewer the second estimate is too noisy
_COMPATIBLE = 2.0  # combined standard deviations up to which two answers agree


@dataclass(frozen=True)
class _Asked:
    """One question, its shots, and the doubly robust answer."""

    bowler: str
    pattern_class: str
    ball: str
    other: str
    rows: pd.DataFrame
    result: Contrast


def sensitivities(fitted: Fitted, cells: pd.DataFrame) -> list[Sensitivity]:
    """The two most thrown balls of a bowler on a pattern class, two classes at most, those with most shots first.

    Args:
        fitted: the season with its models.
        cells: the worth model's cells, see ``pipeline.models.strikes.worth_cells.worth_cells``.
    """
    asked = []
    for bowler, pattern_class, ball, other in _questions(cells):
        rows = cells[
            (cells["bowler"] == bowler) & (cells["pattern_class"] == pattern_class) & cells["ball"].isin([ball, other])
        ].reset_index(drop=True)
        result = contrast(rows, (rows["ball"] == ball).to_numpy(), ROLES)
        if result is not None:
            asked.append(_Asked(bowler, pattern_class, ball, other, rows[result.used].reset_index(drop=True), result))
    differences = _model_differences(fitted.fits, asked)
    return [_sensitivity(item, fitted.fits, draws) for item, draws in zip(asked, differences, strict=True)]


def _questions(cells: pd.DataFrame) -> list[tuple[str, str, str, str]]:
    """Bowler, pattern class and two balls: those of a bowler with most shots of the less thrown ball."""
    shots = (
        cells.groupby(["bowler", "pattern_class", "ball"])["shots"].sum().sort_values(ascending=False, kind="stable")
    )
    by_bowler: dict[str, list[tuple[int, tuple[str, str, str, str]]]] = {}
    for _, part in shots.groupby(level=["bowler", "pattern_class"], sort=True):
        if len(part) >= 2 and part.iloc[1] >= _FEWEST_SHOTS:
            (bowler, pattern_class, ball), (_, _, other) = part.index[0], part.index[1]
            question = (str(bowler), str(pattern_class), str(ball), str(other))
            by_bowler.setdefault(str(bowler), []).append((-int(part.iloc[1]), question))
    most = sorted(item for questions in by_bowler.values() for item in sorted(questions)[:_MOST_QUESTIONS])
    return [question for _, question in most]


def _model_differences(fits: Fits, asked: list[_Asked]) -> list[np.ndarray]:
    """Draws (n_draws,) of the worth model's difference in strike probability over the same shots, by question."""
    if not asked:
        return []
    # every shot with either ball, in one call, since that shares the work of drawing
    sides = [item.rows.assign(ball=ball) for item in asked for ball in (item.ball, item.other)]
    grid = pd.concat(sides, ignore_index=True).drop(columns=["ball_class", "worn"], errors="ignore")
    strike = fits.worth.strike_draws(grid, fits.n_draws, fits.generator("worth"))
    out, start = [], 0
    for item in asked:
        size, weight = len(item.rows), item.rows["shots"].to_numpy(dtype=float)
        one, other = strike[:, start : start + size], strike[:, start + size : start + 2 * size]
        out.append((one - other) @ weight / weight.sum())
        start += 2 * size
    return out


def _sensitivity(item: _Asked, fits: Fits, difference: np.ndarray) -> Sensitivity:
    value, result = pins_per_strike(fits)[item.bowler], item.result
    question = contrast_question(item.ball, item.other, item.pattern_class)
    model = difference * value
    rng = fits.generator(f"contrast of {item.bowler} {item.pattern_class} {item.ball} {item.other}")
    robust = result.draws(fits.n_draws, rng) * value.mean()
    # the standard error itself, since Student's t has no finite spread on few blocks
    apart = abs(float(model.mean()) - result.difference * float(value.mean()))
    return Sensitivity(
        bowler=item.bowler,
        question=question,
        model=estimate(model),
        doubly_robust=estimate(robust),
        raw=result.raw * float(value.mean()),
        agree=apart <= _COMPATIBLE * float(np.hypot(model.std(), result.se * value.mean())),
        shots=result.trials,
    )
