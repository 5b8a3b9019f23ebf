"""The checks a statistician would ask for, as records: held-out blocks, replicated seasons, streaks, contrasts."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

import numpy as np
import pandas as pd

from pipeline.decisions.checks.contrasts import sensitivities
from pipeline.decisions.guard import Answers
from pipeline.decisions.records import CalibrationBin, ModelCheck, Sensitivity
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted, once
from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.pricing.game_shape import game_shapes
from pipeline.sport.score_distribution import balls_of
from pipeline.validation.held_out import Comparison, Score, compare, refitted
from pipeline.validation.posterior_predictive import Replicated, entry_bins, leave_frequencies, strike_runs
from pipeline.validation.runs_test import RunsTest, runs_test, score_spread

_REPLICATES = 100
_GAMES = 1500  # games compared strike by strike; more would only cost time
_MOST_SHOTS = 30_000  # shots judged by cross-validation; more would only cost time
_VAGUE_SLOPE = 0.25  # standard error of a calibration slope beyond which it tells nothing of use
_CLEAR = 2.0  # standard errors from which a difference counts as clear
_UNUSUAL = 0.025  # tail probability of a replicated number from which it counts as unusual


def model_checks(fitted: Fitted, answers: Answers) -> tuple[list[ModelCheck], list[CalibrationBin], list[Sensitivity]]:
    """Every check of the fitted models, the calibration curves, and the contrasts estimated a second way.

    Each check is a question of its own: ``answers`` notes those that cannot be made.
    """
    ask = answers.ask
    made = [ask(name, partial(checks_of_models, fitted, name), []) for name in CHECKS]
    curves = calibration(compared_on_new_blocks(fitted)) if made[0] else []
    second = ask("differences estimated a second way", lambda: sensitivities(fitted, worth_cells(fitted.season)), [])
    return [check for found in made for check in found], curves, second


@once(of=Fitted.modelled)
def checks_of_models(fitted: Fitted, name: str) -> list[ModelCheck]:
    """The checks of one key of ``CHECKS``, of all the season shows."""
    return CHECKS[name](fitted)


@once(of=Fitted.modelled)
def compared_on_new_blocks(fitted: Fitted) -> Comparison | None:
    """Model and challenger on blocks they had not seen."""
    return compare(some_blocks(worth_cells(fitted.season), fitted.fits), refitted(fitted.fits.worth))


def _new_block_checks(fitted: Fitted) -> list[ModelCheck]:
    return held_out(compared_on_new_blocks(fitted))


def some_blocks(cells: pd.DataFrame, fits: Fits) -> pd.DataFrame:
    """Whole blocks up to ``_MOST_SHOTS``, taken at random where the season has more."""
    per_block = cells.groupby("block")["shots"].sum()
    if per_block.sum() <= _MOST_SHOTS:
        return cells
    order = per_block.sample(frac=1, random_state=fits.rng_seed % 2**32)
    return cells[cells["block"].isin(order.index[(order.cumsum() <= _MOST_SHOTS).to_numpy()])]


def calibration(comparison: Comparison | None) -> list[CalibrationBin]:
    """Calibration curves of both sides on blocks they had not seen; empty where nothing could be held out."""
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
    judged = f"{comparison.shots:,} first balls of {comparison.blocks} blocks, each predicted by fits without its block"
    return [
        _against_challenger(comparison, judged),
        ModelCheck(
            name="log loss of the model",
            value=model.log_loss,
            expected=f"below one rate for everyone, {rate.log_loss:.3f}",
            passed=model.log_loss < rate.log_loss,
            sentence=f"On {judged}, the model's log loss was {model.log_loss:.4f}; the challenger's "
            f"{rival.log_loss:.4f}; that of one strike rate for everyone {rate.log_loss:.4f}.",
        ),
        ModelCheck(
            name="Brier score of the model",
            value=model.brier,
            expected=f"below one rate for everyone, {rate.brier:.3f}",
            passed=model.brier < rate.brier,
            sentence=f"Mean squared error of the predicted strike: model {model.brier:.4f}, "
            f"challenger {rival.brier:.4f}, one rate for everyone {rate.brier:.4f}.",
        ),
        *_slopes({"model": model, "challenger": rival}),
    ]


def _against_challenger(comparison: Comparison, judged: str) -> ModelCheck:
    per_thousand, error = 1000 * comparison.gain, 1000 * comparison.gain_se
    lost = per_thousand < -_CLEAR * error
    if lost:
        verdict = "The challenger predicted clearly better, so the model is missing something that was logged"
    elif per_thousand > _CLEAR * error:
        verdict = "The model predicted clearly better than the challenger"
    else:
        verdict = "Model and challenger predicted about equally well"
    return ModelCheck(
        name="model against challenger",
        value=per_thousand,
        expected="not clearly below 0",
        passed=not lost,
        sentence=f"{verdict}: {per_thousand:+.1f} log loss per thousand shots in the model's favour, standard error "
        f"{error:.1f}, on {judged}.",
    )


def _slopes(scores: dict[str, Score]) -> list[ModelCheck]:
    out = []
    for name, score in scores.items():
        if math.isnan(score.slope):
            continue
        near, noisy = abs(score.slope - 1) <= _CLEAR * score.slope_se, score.slope_se > _VAGUE_SLOPE
        out.append(
            ModelCheck(
                name=f"calibration slope of the {name}",
                value=score.slope,
                expected=f"1, give or take {_CLEAR * score.slope_se:.2f}",
                passed=near if name == "model" and not noisy else None,
                sentence=f"On new blocks the predictions of the {name} {_slope_in_words(score, near, noisy)} "
                f"(calibration slope {score.slope:.2f}, standard error {score.slope_se:.2f}).",
            )
        )
    return out


def _slope_in_words(score: Score, near: bool, noisy: bool) -> str:
    if noisy:
        return "were too few or too much alike to judge their calibration"
    if near:
        return "were well calibrated"
    return "were too far apart" if score.slope < 1 else "were too close together"


def streak_checks(fitted: Fitted) -> list[ModelCheck]:
    """Runs test within games, and what the streakiness found does to the spread of scores."""
    test = runs_test(fitted.season.frame("cells/strike_runs"))
    if test is None:
        return []
    streaky = test.p < 0.05
    kind = "come in streaks" if test.z < 0 else "alternate more than chance"
    said = f"strikes {kind}" if streaky else "no streaks beyond chance were found"
    runs = ModelCheck(
        name="streaks within games",
        value=test.z,
        expected="between -1.96 and 1.96",
        passed=not streaky,
        sentence=f"Over {test.games:,} games, given each game's number of strikes, {said}: {test.runs:,} runs where "
        f"{test.expected:,.0f} are expected; correlation of neighbouring frames {test.correlation:+.3f}, "
        f"standard error {test.correlation_se:.3f}.",
    )
    return [runs, *_spread_check(fitted, test)]


def _spread_check(fitted: Fitted, test: RunsTest) -> list[ModelCheck]:
    every = game_shapes(fitted).items()
    shapes = [shape for bowler, shape in every if bowler in fitted.fits.rates.shots and 0 < shape.strike < 1]
    if not shapes:
        return []
    first, second = balls_of(
        np.array([shape.open_first for shape in shapes]),
        np.array([shape.miss_second for shape in shapes]),
        np.array([shape.strike for shape in shapes]),
        np.array([shape.spare for shape in shapes]),
    )
    beyond = test.correlation + math.copysign(_CLEAR * test.correlation_se, test.correlation)
    without, found, far = (float(score_spread(first, second, r).mean()) for r in (0.0, test.correlation, beyond))
    return [
        ModelCheck(
            name="streaks and the spread of scores",
            value=found - without,
            expected="near 0 pins",
            passed=None,
            sentence=f"A game's score varies by {without:.1f} pins (standard deviation) if frames are independent and "
            f"by {found:.1f} with the correlation found; with one two standard errors larger, by {far:.1f}.",
        )
    ]


def _strike_run_checks(fitted: Fitted) -> list[ModelCheck]:
    sequences = fitted.season.frame("cells/game_sequences", games=_GAMES)
    found = strike_runs(sequences, fitted.fits.worth, _REPLICATES, fitted.fits.generator("strike runs"))
    return [_replicated_check(item) for item in found]


def _entry_checks(fitted: Fitted) -> list[ModelCheck]:
    return _some(entry_bins(fitted.fits.entry, _REPLICATES, fitted.fits.generator("entry bins")))


def _leave_checks(fitted: Fitted) -> list[ModelCheck]:
    cells = fitted.season.frame("cells/leave_cells")
    return _some(leave_frequencies(cells, fitted.fits.leave, _REPLICATES, fitted.fits.generator("leave counts")))


def _some(found: Replicated | None) -> list[ModelCheck]:
    return [] if found is None else [_replicated_check(found)]


def _replicated_check(found: Replicated) -> ModelCheck:
    # a discrepancy can only be too large; other numbers can be off either way
    discrepancy = found.name.startswith(("strikes by", "leaves by"))
    usual = found.p >= _UNUSUAL and (discrepancy or found.p <= 1 - _UNUSUAL)
    verdict = "consistent with the model" if usual else "not what the model predicts"
    measured = "distance from the model (sum of squared standardised differences) " if discrepancy else ""
    return ModelCheck(
        name=found.name,
        value=found.observed,
        expected=f"{'up to' if discrepancy else f'{found.low:.3g} to'} {found.high:.3g}",
        passed=usual,
        sentence=f"Posterior predictive check, {found.name}: {verdict}; {measured}{found.observed:.3g} "
        f"against {found.expected:.3g} on average over {found.parts:,} {'bins' if discrepancy else 'games'}; "
        f"{100 * found.p:.0f} % of {_REPLICATES} replicated seasons show more.",
    )


CHECKS: dict[str, Callable[[Fitted], list[ModelCheck]]] = {
    "check on new blocks": _new_block_checks,
    "check for streaks": streak_checks,
    "check of strike runs": _strike_run_checks,
    "check of strikes by entry board": _entry_checks,
    "check of leaves": _leave_checks,
}
"""What is checked -> its checks, in the order of the report: new blocks, streaks, then replicated seasons."""
