"""Checks of the models in words: name, expectation and result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.decisions.records import HeldOutGain
from pipeline.decisions.wording.names import ball_named
from pipeline.decisions.wording.terms import interval, on_pattern, pins_a_game, plural, sentence, signed

Side = Literal["model", "challenger"]
Rival = Literal["better", "worse", "level"]
"""The challenger beside the model."""
Calibration = Literal["good", "vague", "too far apart", "too close together"]
Streaks = Literal["none", "streaks", "alternates"]

_RIVALS: dict[Rival, str] = {
    "better": "The challenger predicted clearly better, so the model misses something that was logged",
    "worse": "The model predicted clearly better than the challenger",
    "level": "Model and challenger predicted about equally well",
}
_CALIBRATIONS: dict[Calibration, str] = {
    "good": "were well calibrated",
    "vague": "were too few or too much alike to judge their calibration",
    "too far apart": "were too far apart",
    "too close together": "were too close together",
}
_STREAKS: dict[Streaks, str] = {
    "none": "no streaks beyond chance were found",
    "streaks": "strikes come in streaks",
    "alternates": "strikes alternate more than chance",
}
_MEASURES = {
    "longest_run": "longest strike run per game",
    "three_in_a_row": "games with three strikes in a row",
    "strike_spread": "spread of strikes per game",
    "strikes_by_entry": "strikes by entry board",
    "leaves_by_cell": "leaves by pattern class and phase",
}


@dataclass(frozen=True)
class Named:
    """Name of a check, what is expected, and the result."""

    name: str
    expected: str
    sentence: str


@dataclass(frozen=True)
class OnNewBlocks:
    """Shots and blocks judged by fits without them."""

    shots: int
    blocks: int

    def __str__(self) -> str:
        """As a sentence names them."""
        return f"{self.shots:,} first balls of {self.blocks} blocks, each predicted by fits without its block"


@dataclass(frozen=True)
class Losses:
    """A loss of the model, of the challenger, and of one strike rate for everyone."""

    model: float
    challenger: float
    rate: float


def log_loss(losses: Losses, on: OnNewBlocks) -> Named:
    """The log loss on new blocks."""
    return Named(
        "log loss of the model",
        _below(losses.rate),
        f"The model's log loss was {losses.model:.4f}, the challenger's {losses.challenger:.4f}, that of one strike "
        f"rate for everyone {losses.rate:.4f}. Judged on {on}.",
    )


def brier_score(losses: Losses) -> Named:
    """The Brier score on new blocks."""
    return Named(
        "Brier score of the model",
        _below(losses.rate),
        f"Mean squared error of the predicted strike: model {losses.model:.4f}, challenger {losses.challenger:.4f}, "
        f"one rate for everyone {losses.rate:.4f}.",
    )


def _below(rate: float) -> str:
    return f"below one rate for everyone, {rate:.3f}"


def against_challenger(rival: Rival, per_thousand: float, error: float, on: OnNewBlocks) -> Named:
    """Log loss per thousand shots in the model's favour, with its standard error."""
    return Named(
        "model against challenger",
        "not clearly below 0",
        f"{_RIVALS[rival]}: {per_thousand:+.1f} log loss per thousand shots in the model's favour "
        f"(standard error {error:.1f}). Judged on {on}.",
    )


def calibration_slope(side: Side, calibration: Calibration, slope: float, error: float, within: float) -> Named:
    """The slope of outcomes on predictions; ``within``: how far from 1 it may lie."""
    return Named(
        f"calibration slope of the {side}",
        f"1, give or take {within:.2f}",
        f"On new blocks the predictions of the {side} {_CALIBRATIONS[calibration]} "
        f"(calibration slope {slope:.2f}, standard error {error:.2f}).",
    )


def streaks_in_games(
    streaks: Streaks, games: int, runs: int, expected: float, correlation: float, correlation_se: float
) -> Named:
    """Runs of strikes within games, and the correlation of neighbouring frames."""
    return Named(
        "streaks within games",
        "between -1.96 and 1.96",
        f"Over {games:,} games, given each game's number of strikes, {_STREAKS[streaks]}: {runs:,} runs, "
        f"{expected:,.0f} expected. The correlation of neighbouring frames is {correlation:+.3f} "
        f"(standard error {correlation_se:.3f}).",
    )


def spread_of_scores(independent: float, with_correlation: float, larger: float) -> Named:
    """The sd of a game's score without streaks, with the correlation found, and with one two standard errors larger."""
    return Named(
        "streaks and the spread of scores",
        "near 0 pins",
        f"A game's score has a standard deviation of {independent:.1f} pins if frames are independent, and of "
        f"{with_correlation:.1f} with the correlation found. With one two standard errors larger it is {larger:.1f}.",
    )


@dataclass(frozen=True)
class Replicates:
    """One number of the season beside replicated seasons.

    Attributes:
        measure: what is counted.
        distance: whether it is a distance from the model, which can only be too large.
        usual: whether the season's number is within the range of the replicates.
        observed, expected: the season's, and the mean over replicates.
        low, high: central 95 % of the replicates.
        p: share of the replicates at least as large.
        parts: bins or games behind it.
        replicates: how many there are.
    """

    measure: str
    distance: bool
    usual: bool
    observed: float
    expected: float
    low: float
    high: float
    p: float
    parts: int
    replicates: int


def posterior_predictive(replicated: Replicates) -> Named:
    """A posterior predictive check."""
    name, distance = _MEASURES[replicated.measure], replicated.distance
    verdict = "consistent with the model" if replicated.usual else "not what the model predicts"
    more = f"{100 * replicated.p:.0f} % of them show more"
    squares = "The distance from the model (sum of squared standardised differences) is"
    measured = f"{squares if distance else 'The season shows'} {replicated.observed:.3g}"
    return Named(
        name,
        f"{'up to' if distance else f'{replicated.low:.3g} to'} {replicated.high:.3g}",
        f"Posterior predictive check, {name}: {verdict}. "
        f"{measured} over {replicated.parts:,} {'bins' if distance else 'games'}. "
        f"In {replicated.replicates} replicated seasons it averages {replicated.expected:.3g}; {more}.",
    )


def contrast_question(ball: str, other: str, pattern_class: str) -> str:
    """Which two balls are compared and on what; ``ball`` and ``other`` are ids."""
    return f"{ball_named(ball)} against {ball_named(other)} {on_pattern(pattern_class)}"


def held_out_sentence(record: HeldOutGain) -> str:
    """The gain of the choice of ball on nights that had no part in it."""
    gain = f"{pins_a_game(record.gain.mean, 1)} over what was thrown ({interval(record.gain, 1)})"
    blocks = f"On {plural(record.blocks, 'block')} that had no part in the choice"
    foreseen = "" if record.predicted is None else f" The model predicted {signed(record.predicted, 1)}."
    return f"{sentence(record.verdict)}. {blocks}, the first-ranked ball was worth {gain}.{foreseen}"
