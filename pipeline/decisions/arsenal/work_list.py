"""The arsenal as a work list: per ball what to do, to which grit, by when, how sure, and the alternatives.

It reads the verdicts' own draws, so list and verdict cannot disagree. Gains are over keeping the ball as it is.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.decisions.arsenal.due import HORIZON, Pace, games_until_due
from pipeline.decisions.arsenal.grit import GritLog
from pipeline.decisions.arsenal.stand_in import stand_in
from pipeline.decisions.arsenal.verdict_rules import ACTIONS
from pipeline.decisions.arsenal.verdicts import Ball, everybodys_balls, judged_balls
from pipeline.decisions.candidates import candidates
from pipeline.decisions.estimates import estimates, quantiles
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import WITHHELD, ArsenalTask, CareOption, DueBy, GritEvidence, StandIn
from pipeline.decisions.wording.ball_care import task_sentence, what_settles
from pipeline.decisions.wording.names import ball_named
from pipeline.models.fitted import Fitted

_STEP = 0.1  # logits over which the price of a grit is taken; the strike probability is nearly linear there


def work_list(fitted: Fitted) -> list[ArsenalTask]:
    """One task for every ball with a verdict, most pins per season first."""
    balls = judged_balls(fitted)
    if not balls:
        return []
    bag = everybodys_balls(fitted)
    classes = dict(zip(bag.states["ball"].astype(str), bag.states["ball_class"].astype(str), strict=True))
    grits = GritLog(bag.surfaces, balls[0].fit, classes, fitted.fits.settings.evidence.min_shots)
    options, days = candidates(fitted), _days(bag.days)
    reported = fitted.season.frame("cells/games_reported").set_index("ball")["games"]
    tasks = []
    for ball in balls:
        bowler = str(ball.state["bowler"])
        logged = float(ball.state["games_total"]) - float(ball.state["games_before"])
        first, last = days[bowler]
        pace = Pace(logged, (last - first).days, last.date())
        grit, games = grits.of(ball.id, _price(ball)), float(reported.get(ball.id, 0.0))
        tasks.append(_task(ball, pace, games, grit, stand_in(options, bowler, ball.id)))
    return sorted(tasks, key=lambda task: (-task.pins_a_season, task.bowler, task.ball))


def _days(rows: pd.DataFrame) -> dict[str, tuple[pd.Timestamp, pd.Timestamp]]:
    """Bowler -> first and last day logged."""
    named = zip(rows["bowler"], rows["first_day"], rows["last_day"], strict=True)
    return {str(bowler): (pd.Timestamp(first), pd.Timestamp(last)) for bowler, first, last in named}


def _price(ball: Ball) -> Floats:
    """(n,) pins per game per unit of the logit of a strike, for the ball with a fresh surface."""
    up, down = (ball.fit.strike(ball.id, 0.0, 0.0, ball.ages[2], level)[:, 0] for level in (_STEP / 2, -_STEP / 2))
    return ball.pins * (up - down) / _STEP


def _task(ball: Ball, pace: Pace, games: float, grit: GritEvidence, instead: StandIn | None) -> ArsenalTask:
    worth, shots = ball.utilities, int(ball.state["shots"])
    do, probability, needed = ball.call
    gains = worth - worth[:, :1]
    best = int(worth.mean(axis=0).argmax())
    options = [
        CareOption(
            act=act, gain=gain, p_gain=None if act == "keep" else float((gains[:, at] > 0).mean()), p_best=float(sure)
        )
        for at, (act, gain, sure) in enumerate(zip(ACTIONS, estimates(gains), probability_best(worth), strict=True))
    ]
    task = ArsenalTask(
        bowler=str(ball.state["bowler"]),
        ball=ball.id,
        ball_name=ball_named(ball.id),
        do=do,
        looks_best=ACTIONS[best],
        probability=probability,
        pins_a_season=options[best].gain.mean * games,
        games_a_season=games,
        grit=grit,
        due=_due(ball, pace),
        options=options,
        stand_in=instead,
        settles=what_settles(needed) if do in WITHHELD else "",
        shots=shots,
        sentence="",
    )
    return task.model_copy(update={"sentence": task_sentence(task)})


def _due(ball: Ball, pace: Pace) -> DueBy:
    costs = ball.settings.costs
    games = games_until_due(ball.fit, ball.id, ball.ages, ball.surface, ball.pins, costs)
    latest = float(HORIZON * costs.games_ahead)
    ends = quantiles(np.minimum(games, 2 * latest)[:, None], np.array([0.1, 0.5, 0.9]))[0]
    low, middle, high = (float(np.round(end)) for end in ends)
    known = middle if middle <= latest else None
    return DueBy(
        games=known,
        lo80=min(low, latest),
        hi80=high if high <= latest else None,
        date=None if known is None else pace.day_after(known),
    )
