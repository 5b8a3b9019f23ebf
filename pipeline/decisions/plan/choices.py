"""The balls a plan compares.

On a pattern class the bowler knows these are the balls that the advice by phase compares (``advice/ball_by_phase.py``),
each played as it is there: moving with the lane, or kept on a line. Elsewhere whatever was logged is compared, moving.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.arrays import Draws
from pipeline.decisions.advice.ball_by_phase import Advised
from pipeline.decisions.candidates import TRIED, ChoiceRow, choice_rows, row_dicts
from pipeline.decisions.records import PHASES
from pipeline.errors import RackledgerError
from pipeline.models.fitted import Fitted

_MOST_CHOICES = 20  # lines compared if nothing on the class is: those thrown most; rarer ones cannot lead a plan

Lane = dict[str, str | float | None]
AdviceByPhase = Mapping[str, Advised]
"""What is advised on the plan's pattern class, by phase; empty if nothing is compared there."""


class PlanError(RackledgerError):
    """A plan that cannot be made; the message says what is missing."""


@dataclass(frozen=True)
class OwnMix:
    """The balls that the bowler throws now, each with its line following the lane.

    Attributes:
        shares: phase -> ball -> share of the first deliveries.
        drawn_in: phase -> ball -> pins that draw it toward what is thrown there, as on its card.
        others: lines of the balls thrown that the plan does not compare.
    """

    shares: Mapping[str, Mapping[str, float]]
    drawn_in: Mapping[str, Mapping[str, float]]
    others: list[ChoiceRow]


@dataclass(frozen=True)
class Round:
    """What is priced: the lines logged (records of ``choices``) on a ``lane`` for so many games.

    ``nearest`` is the lane with its oil moved into the range logged; ``distance`` is how far, by ``novelty``.
    ``answers`` say which balls are compared, and how each is played. ``own``: what the bowler throws now.
    """

    rows: list[ChoiceRow]
    lane: Lane
    nearest: Lane
    games: int
    distance: float
    answers: AdviceByPhase
    own: OwnMix


@dataclass(frozen=True)
class Options:
    """The balls compared.

    Attributes:
        rows: their records, with ``shots`` on the pattern class and ``shots_elsewhere`` on others; by game ``lines``
            (to keep, or to start on), ``keeps`` (whether the line is kept) and ``boards`` (where the ball is usually
            played then, None if it is kept or no line was logged).
        tried: (games, balls): compared in the game's phase, so that it may be advised there.
        phase: (games,) the phase of each game.
        own: (n, games) draws of the expected score of what the bowler throws now.
        pins, strike, score: (n, games, balls) draws of pins per game against the bowler's own average, of the
            probability of a strike and of the expected score, each ball played that way.
        kept: the same shape: expected score on the line to start on, kept whatever the lane does.
    """

    rows: list[ChoiceRow]
    tried: NDArray[np.bool_]
    phase: list[str]
    own: Draws
    pins: Draws
    kept: Draws
    strike: Draws
    score: Draws

    def only(self, keep: list[int]) -> Options:
        """These balls alone; in a phase in which none of them was tried, all of them may be thrown."""
        tried = self.tried[:, keep]
        tried = np.where(tried.any(axis=1, keepdims=True), tried, True)
        parts = (part[:, :, keep] for part in (self.pins, self.kept, self.strike, self.score))
        return Options([self.rows[k] for k in keep], tried, self.phase, self.own, *parts)


def choices(fitted: Fitted, bowler: str, pattern_class: str, balls: frozenset[str] = frozenset()) -> list[ChoiceRow]:
    """The balls on their lines that a plan compares, with shots on the class, on others, and by phase (``in_phase``).

    Every line logged on the class with the ``balls`` named. Without a name, lines with enough shots by the bowler on
    that pattern class; if none has, whatever was logged there; if nothing was, whatever was logged anywhere.

    Raises:
        PlanError: no first delivery of that bowler.
    """
    rows = choice_rows(fitted)
    thrown = rows[(rows["bowler"] == bowler) & (rows["shots"] > 0)]
    if thrown.empty:
        known = ", ".join(sorted(rows["bowler"].unique()))
        raise PlanError(f"No first delivery of {bowler!r} is logged; bowlers with shots are {known}.")
    thrown = thrown.assign(here=thrown["shots"].where(thrown["pattern_class"] == pattern_class, 0))
    used = thrown if thrown["here"].sum() == 0 else thrown[thrown["here"] > 0]
    by_choice = used.groupby(["ball", "line"], as_index=False).agg(
        ball_name=("ball_name", "first"), ball_class=("ball_class", "first"), counted=("shots", "sum")
    )
    most = (
        by_choice[by_choice["ball"].isin(balls)]
        if balls
        else _thrown_most(by_choice, fitted.fits.settings.evidence.min_shots)
    )
    by_phase = used.groupby(["ball", "line", "phase"])["shots"].sum().to_dict()
    counts = thrown.groupby(["ball", "line"], as_index=False)[["shots", "here"]].sum()
    in_all = {(row["ball"], row["line"]): (int(row["shots"]), int(row["here"])) for row in row_dicts(counts)}
    result = []
    for row in row_dicts(most):
        which = (row["ball"], row["line"])
        shots, here = in_all[which]
        in_phase = {phase: int(by_phase.get((*which, phase), 0)) for phase in PHASES}
        result.append({**row, "shots": here, "shots_elsewhere": shots - here, "in_phase": in_phase})
    return result


def _thrown_most(rows: pd.DataFrame, min_shots: int) -> pd.DataFrame:
    """The lines thrown often enough, at most so many; all of them if fewer than two balls would be left."""
    enough = rows[rows["counted"] >= min_shots]
    rows = enough if enough["ball"].nunique() > 1 else rows  # with one ball there would be no backup
    return rows.sort_values(["counted", "ball", "line"], ascending=[False, True, True]).head(_MOST_CHOICES)


def compared_in(balls: list[ChoiceRow], phase: list[str], answers: AdviceByPhase) -> NDArray[np.bool_]:
    """Balls (games, balls) compared in each game's phase; if none is, those logged enough there."""
    tried = tried_in(balls, phase)
    for game, name in enumerate(phase):
        if name in answers:
            tried[game] = [row["ball"] in answers[name].ways for row in balls]
    return tried


def tried_in(balls: list[ChoiceRow], phase: list[str]) -> NDArray[np.bool_]:
    """Balls (games, balls) logged enough in each game's phase; if none was, the most logged; else all."""
    shots = np.array([[row["in_phase"][name] for row in balls] for name in phase])
    most = shots.max(axis=1, keepdims=True)
    result: NDArray[np.bool_] = shots >= np.minimum(most, TRIED)
    return result
