"""The checks a statistician would ask for, as records: held-out blocks, replicated seasons, streaks, contrasts."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

import numpy as np
import pandas as pd

from pipeline.decisions.checks.contrasts import sensitivities
from pipeline.decisions.left_out import Questions
from pipeline.decisions.records import CalibrationBin, ModelCheck, Sensitivity
from pipeline.decisions.wording import checks as words
from pipeline.decisions.wording.checks import Calibration, Losses, Named, OnNewBlocks, Replicates, Rival, Side, Streaks
from pipeline.decisions.wording.questions import Question
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted, once
from pipeline.models.strikes.stretches import STRETCH
from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.pricing.pinfall import pinfalls
from pipeline.sport.score_distribution import balls_of
from pipeline.validation.held_out import Comparison, Refits, Score, compare, refitted
from pipeline.validation.posterior_predictive import (
    DISCREPANCIES,
    Replicated,
    entry_bins,
    leave_frequencies,
    strike_runs,
)
from pipeline.validation.streakiness import RunsTest, runs_test, score_spread

_NEW_BLOCKS: Question = "new_blocks"
_REPLICATES = 100
_GAMES = 1500  # games compared strike by strike; more would only cost time
_MOST_SHOTS = 30_000  # shots judged by cross-validation; more would only cost time
_VAGUE_SLOPE = 0.25  # standard error of a calibration slope beyond which there is no verdict
_CLEAR = 2.0  # standard errors from which a difference counts as clear
_UNUSUAL = 0.025  # tail probability of a replicated number from which it counts as unusual


def checks_on_new_blocks(fitted: Fitted, answers: Questions) -> tuple[list[ModelCheck], list[CalibrationBin]]:
    """The check on blocks not seen, and the calibration curves; ``answers`` notes it if it cannot be made."""
    made = answers.ask(_NEW_BLOCKS, partial(checks_of_models, fitted, _NEW_BLOCKS), [])
    return made, calibration(compared_on_new_blocks(fitted)) if made else []


def other_checks(fitted: Fitted, answers: Questions) -> list[ModelCheck]:
    """Every other check; each is a question of its own."""
    others = [name for name in CHECKS if name != _NEW_BLOCKS]
    made = [answers.ask(name, partial(checks_of_models, fitted, name), []) for name in others]
    return [check for checks in made for check in checks]


def second_way(fitted: Fitted) -> list[Sensitivity]:
    """The contrasts estimated a second way."""
    return sensitivities(fitted, worth_cells(fitted.season))


@once(of=Fitted.modelled)
def checks_of_models(fitted: Fitted, name: Question) -> list[ModelCheck]:
    """The checks under one key of ``CHECKS``, of all the season shows."""
    return CHECKS[name](fitted)


@once(of=Fitted.modelled, stored=False)
def refits(fitted: Fitted) -> Refits:
    """Fits without some blocks, shared by the checks and the choice of ball."""
    return Refits(fitted.fits.worth)


@once(of=Fitted.modelled)
def compared_on_new_blocks(fitted: Fitted) -> Comparison | None:
    """Model and challenger on blocks they had not seen."""
    return compare(some_blocks(worth_cells(fitted.season), fitted.fits), refitted(refits(fitted)))


def _new_block_checks(fitted: Fitted) -> list[ModelCheck]:
    return held_out(compared_on_new_blocks(fitted))


def some_blocks(cells: pd.DataFrame, fits: Fits) -> pd.DataFrame:
    """Whole blocks up to ``_MOST_SHOTS``, taken at random if the season has more."""
    per_block = cells.groupby("block")["shots"].sum()
    if per_block.sum() <= _MOST_SHOTS:
        return cells
    order = per_block.sample(frac=1, random_state=fits.rng_seed % 2**32)
    return cells[cells["block"].isin(order.index[(order.cumsum() <= _MOST_SHOTS).to_numpy()])]


def calibration(comparison: Comparison | None) -> list[CalibrationBin]:
    """Calibration curves of both sides on blocks they had not seen; empty if nothing could be held out."""
    if comparison is None:
        return []
    return [
        CalibrationBin(source=source, predicted=float(p), observed=float(seen), shots=int(shots))
        for source in ("model", "challenger")
        for p, seen, shots in comparison.scores[source].bins[["predicted", "observed", "shots"]].itertuples(index=False)
    ]


def held_out(comparison: Comparison | None) -> list[ModelCheck]:
    """Losses and calibration on held-out blocks, against the challenger and against one rate for everyone."""
    if comparison is None:
        return []
    model, rival, rate = (comparison.scores[name] for name in ("model", "challenger", "rate"))
    on = OnNewBlocks(comparison.shots, comparison.blocks)
    log_losses = Losses(model.log_loss, rival.log_loss, rate.log_loss)
    return [
        _against_challenger(comparison, on),
        _check(words.log_loss(log_losses, on), model.log_loss, model.log_loss < rate.log_loss),
        _check(words.brier_score(Losses(model.brier, rival.brier, rate.brier)), model.brier, model.brier < rate.brier),
        *_slopes({"model": model, "challenger": rival}),
    ]


def _check(named: Named, value: float, passed: bool | None) -> ModelCheck:
    return ModelCheck(name=named.name, value=value, expected=named.expected, passed=passed, sentence=named.sentence)


def _against_challenger(comparison: Comparison, on: OnNewBlocks) -> ModelCheck:
    per_thousand, error = 1000 * comparison.gain, 1000 * comparison.gain_se
    rival: Rival = "level"
    if abs(per_thousand) > _CLEAR * error:
        rival = "better" if per_thousand < 0 else "worse"
    return _check(words.against_challenger(rival, per_thousand, error, on), per_thousand, rival != "better")


def _slopes(scores: dict[Side, Score]) -> list[ModelCheck]:
    out = []
    for side, score in scores.items():
        if math.isnan(score.slope):
            continue
        calibration, within = _calibration(score), _CLEAR * score.slope_se
        passed = calibration == "good" if side == "model" and calibration != "vague" else None
        named = words.calibration_slope(side, calibration, score.slope, score.slope_se, within)
        out.append(_check(named, score.slope, passed))
    return out


def _calibration(score: Score) -> Calibration:
    if score.slope_se > _VAGUE_SLOPE:
        return "vague"
    if abs(score.slope - 1) <= _CLEAR * score.slope_se:
        return "good"
    return "too far apart" if score.slope < 1 else "too close together"


def streak_checks(fitted: Fitted) -> list[ModelCheck]:
    """Runs test within games, and the effect of the streakiness on the spread of scores."""
    test = runs_test(fitted.season.frame("cells/strike_runs"))
    if test is None:
        return []
    streaks: Streaks = "none"
    if test.p < 0.05:
        streaks = "streaks" if test.z < 0 else "alternates"
    named = words.streaks_in_games(streaks, test.games, test.runs, test.expected, test.correlation, test.correlation_se)
    return [_check(named, test.z, streaks == "none"), *_spread_check(fitted, test)]


def _spread_check(fitted: Fitted, test: RunsTest) -> list[ModelCheck]:
    by_bowler = pinfalls(fitted).items()
    shapes = [shape for bowler, shape in by_bowler if bowler in fitted.fits.mix.shots and 0 < shape.strike < 1]
    if not shapes:
        return []
    first, second = balls_of(
        np.array([shape.open_first for shape in shapes]),
        np.array([shape.miss_second for shape in shapes]),
        np.array([shape.strike for shape in shapes]),
        np.array([shape.spare for shape in shapes]),
    )
    beyond = test.correlation + math.copysign(_CLEAR * test.correlation_se, test.correlation)
    without, together, far = (float(score_spread(first, second, r).mean()) for r in (0.0, test.correlation, beyond))
    return [_check(words.spread_of_scores(without, together, far), together - without, None)]


def _strike_run_checks(fitted: Fitted) -> list[ModelCheck]:
    sequences = fitted.season.frame("cells/game_sequences", games=_GAMES)
    replicated = strike_runs(sequences, fitted.fits.worth, _REPLICATES, fitted.fits.generator("strike runs"))
    return [_replicated_check(item) for item in replicated]


def _entry_checks(fitted: Fitted) -> list[ModelCheck]:
    return _some(entry_bins(fitted.fits.entry, _REPLICATES, fitted.fits.generator("entry bins")))


def _leave_checks(fitted: Fitted) -> list[ModelCheck]:
    cells = fitted.season.frame("cells/leave_cells")
    cells = cells[cells[STRETCH] == cells[STRETCH].max()]  # the mix fitted is that of the last stretch
    return _some(leave_frequencies(cells, fitted.fits.leave, _REPLICATES, fitted.fits.generator("leave counts")))


def _some(replicated: Replicated | None) -> list[ModelCheck]:
    return [] if replicated is None else [_replicated_check(replicated)]


def _replicated_check(replicated: Replicated) -> ModelCheck:
    distance = replicated.measure in DISCREPANCIES
    usual = replicated.p >= _UNUSUAL and (distance or replicated.p <= 1 - _UNUSUAL)
    named = words.posterior_predictive(
        Replicates(distance=distance, usual=usual, replicates=_REPLICATES, **vars(replicated))
    )
    return _check(named, replicated.observed, usual)


CHECKS: dict[Question, Callable[[Fitted], list[ModelCheck]]] = {
    _NEW_BLOCKS: _new_block_checks,
    "streaks": streak_checks,
    "strike_runs": _strike_run_checks,
    "replicated_entry": _entry_checks,
    "replicated_leaves": _leave_checks,
}
"""What is checked -> its checks, in the order of the report: new blocks, streaks, then replicated seasons."""
