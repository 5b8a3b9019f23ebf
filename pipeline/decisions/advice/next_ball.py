"""The change of ball as the next phase begins: to the ball advised there, if it is a different one."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.decisions.advice.ball_by_phase import Advised, Way, shots_so
from pipeline.decisions.advice.next_line import phase_named
from pipeline.decisions.candidates import Candidates, CellKey, ChoiceRow, priceable
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import PHASES, NextStep
from pipeline.decisions.wording.next_step import change_sentence
from pipeline.models.fits import Fits
from pipeline.sport.lane import first_game, line_name


def change_of_ball(
    fits: Fits, options: Candidates, key: CellKey, answers: Mapping[CellKey, Advised]
) -> NextStep | None:
    """The step into the next phase with a comparison; None if the ball stays in hand, or if there is no such phase.

    Each ball is priced as it is best played there (``ball_by_phase.py``). A ball with too few shots so late is left
    whatever its price, because that is biased upward.
    """
    later = PHASES[PHASES.index(phase_named(key[2])) + 1 :]
    phase = next((name for name in later if (key[0], key[1], name) in answers), None)
    now = answers.get(key)
    if phase is None or now is None or answers[key[0], key[1], phase].ball == now.ball:
        return None
    then = answers[key[0], key[1], phase]
    left = then.ways.get(now.ball) or _untried(options, options.places[key[0], key[1], phase].tolist(), now.way)
    row, other = options.choices[then.way.at], options.choices[left.at]
    draws = then.way.pins - left.pins
    step = NextStep(
        from_game=first_game(phase, fits.settings.phases),
        ball=row["ball"],
        ball_name=row["ball_name"],
        line=line_played(fits, row, then.way),
        over_ball=other["ball"],
        over_line=line_played(fits, other, left),
        gain=estimate(draws),
        probability=float((draws > 0).mean()),
        shots=shots_so(options, then.way),
        sentence="",
    )
    worth = None if now.ball in then.ways else estimate(then.way.pins)
    return step.model_copy(update={"sentence": change_sentence(step, str(other["ball_name"]), worth)})


def _untried(options: Candidates, places: list[int], way: Way) -> Way:
    """The ball of another phase's way as it would be played among these places, in which it has too few shots."""
    old = options.choices[way.at]
    at = next(
        i for i in places if (options.choices[i]["ball"], options.choices[i]["line"]) == (old["ball"], old["line"])
    )
    prices = options.priced if way.keeps_line else options.following
    return Way(at, way.line, prices.pins[:, at])


def line_played(fits: Fits, row: ChoiceRow, way: Way) -> str:
    """The line to keep or, for a ball that moves, the line nearest to where it is usually played in the row's cell."""
    if way.keeps_line or not fits.worth.lines_logged:
        return str(row["line"])
    return line_name(float(fits.worth.usual_boards(priceable(pd.DataFrame([row])))[0]))
