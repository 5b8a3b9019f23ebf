"""Keep, clean, resurface or retire: what each would be worth for every ball over the games ahead.

Utility, in pins per game against the ball as it strikes today: the expected strikes over the next
``costs.games_ahead`` games, priced at the bowler's own level, less the cost of the act.

- keep: the ball goes on ageing from where it is;
- clean: only the games since any care start again;
- resurface: the surface starts again, at the level a resurfacing brings on average;
- retire: a new ball, typical of the same class, takes its place.

The verdict is the act of highest expected utility, its probability the share of posterior draws in which that act has
the highest utility. It is withheld below the limits of evidence in ``verdict_rules.py``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.decisions.arsenal.verdict_rules import ACTIONS, choose
from pipeline.decisions.candidates import row_dicts
from pipeline.decisions.estimates import estimate, estimates
from pipeline.decisions.records import AgePoint, BallVerdict, CareEffect, CareVerdict, LifePoint
from pipeline.decisions.wording.ball_care import verdict_sentence
from pipeline.decisions.wording.balls import catalogue
from pipeline.decisions.wording.names import ball_named
from pipeline.models.balls.ball_wear import AgeingFit, fit_ageing_cells
from pipeline.models.balls.entry_drift import Drift, fit_drift
from pipeline.models.fitted import Fitted, once
from pipeline.pricing.pins_per_strike import pins_per_strike
from pipeline.settings import Settings

_AHEAD_POINTS = 6  # the strike probability is nearly straight in age, so a few midpoints average the games ahead
_LIFE_STEP = 5.0  # games per point of raw strikes
_CURVE_STEP = 10.0  # games between points of the ageing curve


@dataclass(frozen=True)
class WornBag:
    """Everybody's balls over the whole log: rows of the queries in ``_learned``, and the model of their wear."""

    cells: pd.DataFrame
    states: pd.DataFrame
    care: pd.DataFrame
    surfaces: pd.DataFrame
    days: pd.DataFrame
    fit: AgeingFit | None
    drift: Drift


@dataclass(frozen=True)
class Ball:
    """One ball with the inputs of its verdict: a row of ``ball_states``, its cells, care, and the price of a strike."""

    state: Mapping[str, Any]
    cells: pd.DataFrame
    care: pd.DataFrame
    fit: AgeingFit
    drift: Drift
    pins: Floats
    settings: Settings

    @property
    def id(self) -> str:
        """Its id."""
        return str(self.state["ball"])

    @property
    def ages(self) -> tuple[float, float, float]:
        """Games since resurfacing, since any care, and in total, today."""
        names = ("games_since_resurface", "games_since_care", "games_total")
        since, care, total = (float(self.state[name]) for name in names)
        return since, care, total

    @property
    def surface(self) -> Floats:
        """(n,) draws of the level of the surface it has."""
        return self.fit.surface(self.id, int(self.state["surface_number"]))

    @cached_property
    def utilities(self) -> Floats:
        """As the function of this name, for the ball as it is."""
        return utilities(self.fit, self.id, self.ages, self.surface, self.pins, self.settings)

    @cached_property
    def strike_now(self) -> Floats:
        """(n,) draws of the strike probability today."""
        return self.fit.strike(self.id, *self.ages, self.surface)[:, 0]

    @cached_property
    def call(self) -> tuple[CareVerdict, float, int]:
        """The result of ``choose``, shared by work list and verdict."""
        return choose(self.utilities, self.strike_now, int(self.state["shots"]), self.settings)


def arsenal(fitted: Fitted) -> list[BallVerdict]:
    """One verdict for every ball that is not a spare ball, by bowler and ball; empty if none was thrown."""
    return [_verdict(ball) for ball in judged_balls(fitted)]


@once(stored=False)
def judged_balls(fitted: Fitted) -> list[Ball]:
    """The balls that get a verdict, in that order."""
    bag = everybodys_balls(fitted)
    if bag.fit is None:
        return []
    worth = pins_per_strike(fitted.fits)
    by_ball = dict(tuple(bag.cells.groupby("ball")))
    acts = dict(tuple(bag.care.groupby("ball")))
    balls = []
    listed = set(fitted.season.table("balls")["ball"])
    for state in row_dicts(bag.states):
        if state["bowler"] in worth and state["ball"] in listed:
            rows, done = by_ball.get(state["ball"], bag.cells.iloc[:0]), acts.get(state["ball"], bag.care.iloc[:0])
            price = worth[state["bowler"]]
            balls.append(Ball(state, rows, done, bag.fit, bag.drift, price, fitted.fits.settings))
    return balls


@once(of=Fitted.everybody)
def everybodys_balls(fitted: Fitted) -> WornBag:
    """How everybody's balls wear."""
    season, fits = fitted.season, fitted.fits
    usual = fits.settings.costs.resurface_every_games
    queries = ("cells/ball_age_cells", "cells/ball_states", "cells/ball_care")
    cells, states, care = (season.frame(query, usual=usual) for query in queries)
    fit = fit_ageing_cells(cells, states, fits.n_draws, fits.generator("ageing"))
    surfaces, days = season.frame("cells/ball_surfaces"), season.frame("cells/days_logged")
    return WornBag(cells, states, care, surfaces, days, fit, fit_drift(cells, fits.n_draws, fits.generator("drift")))


def utilities(
    fit: AgeingFit,
    ball: str,
    ages: tuple[float, float, float],
    surface: Floats,
    pins: Floats,
    settings: Settings,
) -> Floats:
    """Draws of the utility of each of ``ACTIONS``: (n, 4), pins per game against the ball as it strikes today.

    ``ages``: games since resurfacing, since any care and in total, today. ``surface``: (n,) level of its surface.
    ``pins``: (n,) pins per game per unit of strike probability.
    """
    costs = settings.costs
    ahead = (np.arange(_AHEAD_POINTS) + 0.5) / _AHEAD_POINTS * costs.games_ahead
    since, care, total = ages
    today = fit.strike(ball, since, care, total, surface)
    keep = fit.strike(ball, since + ahead, care + ahead, total + ahead, surface)
    clean = fit.strike(ball, since + ahead, ahead, total + ahead, surface)
    resurface = fit.strike(ball, ahead, ahead, total + ahead)
    retire = fit.strike(ball, ahead, ahead, ahead, typical=True)
    gain = np.column_stack([act.mean(axis=1) - today[:, 0] for act in (keep, clean, resurface, retire)])
    return pins[:, None] * gain - np.array([0.0, costs.clean, costs.resurface, costs.retire])


def _verdict(ball: Ball) -> BallVerdict:
    since, care, total = ball.ages
    worth, now = ball.utilities, ball.strike_now
    choice, probability, needed = ball.call
    best = int(worth.mean(axis=0).argmax())
    typical = ball.fit.strike(ball.id, since, care, total, typical=True)[:, 0]
    new = ball.fit.strike(ball.id, 0.0, 0.0, 0.0)[:, 0]
    carry, against, stake, loss, lost = estimates(
        np.column_stack([now, now - typical, worth[:, best] - worth[:, 0], _loss(ball), ball.pins * (new - now)])
    )
    entry, missed = ball.drift.entry.get(ball.id), ball.drift.missed_hook.get(ball.id)
    verdict = BallVerdict(
        bowler=str(ball.state["bowler"]),
        ball=ball.id,
        ball_name=ball_named(ball.id),
        ball_class=str(ball.state["ball_class"]),
        catalogue=catalogue(ball.state),
        shots=int(ball.state["shots"]),
        games_total=total,
        games_since_resurface=since,
        carry=carry,
        against_class=against,
        drift_per_10_games=None if entry is None else estimate(entry),
        drift_so_far=None if entry is None else estimate(entry * since / 10),
        missed_hook_per_10_games=None if missed is None else estimate(missed),
        loss_per_10_games=loss,
        lost_in_all=lost,
        curve=_curve(ball),
        care=_care(ball),
        life=_life(ball.cells),
        verdict=choice,
        probability=probability,
        utilities=dict(zip(ACTIONS, estimates(worth), strict=True)),
        at_stake=stake,
        shots_needed=needed,
        sentence="",
    )
    return verdict.model_copy(update={"sentence": verdict_sentence(verdict, ACTIONS[best])})


def _loss(ball: Ball) -> Floats:
    """Pins per game lost by the 10 games of surface wear about half-way to today's age."""
    since, care, total = ball.ages
    start = max(since / 2 - 5, 0.0)
    strike = ball.fit.strike(ball.id, [start, start + 10], care, total, ball.surface)
    return ball.pins * (strike[:, 0] - strike[:, 1])


def _curve(ball: Ball) -> list[AgePoint]:
    """Strike probability at every tenth game since resurfacing that was logged, at today's total games."""
    since, care, total = ball.ages
    seen = ball.cells["games_since_resurface"].to_numpy(dtype=float)
    oldest = max(since, float(seen.max()) if len(seen) else 0.0)
    games = np.arange(0.0, oldest + _CURVE_STEP, _CURVE_STEP)
    draws = ball.fit.strike(ball.id, games, np.minimum(games, care), total, ball.surface)
    near = np.round(seen / _CURVE_STEP).astype(int)
    shots = np.bincount(near, weights=ball.cells["shots"].to_numpy(dtype=float), minlength=len(games) + 1)
    return [
        AgePoint(games=float(age), carry=strike_rate, shots=int(count))
        for age, strike_rate, count in zip(games, estimates(draws), shots[: len(games)], strict=True)
    ]


def _life(cells: pd.DataFrame) -> list[LifePoint]:
    """Strikes as logged, by ``_LIFE_STEP`` games on the ball, with a new step at each new surface."""
    stretch = (cells["games_total"].astype(float) // _LIFE_STEP).rename("stretch")
    counts = cells.groupby(["surface_number", stretch], sort=True)[["shots", "strikes"]].sum()
    return [
        LifePoint(
            games_total=float((step + 0.5) * _LIFE_STEP),
            surface_number=int(number),
            shots=int(row["shots"]),
            strikes=int(row["strikes"]),
        )
        for (number, step), row in zip(counts.index, row_dicts(counts), strict=True)
    ]


def _care(ball: Ball) -> list[CareEffect]:
    """The effect of each act on the surface; plain cleans are judged together, in the utility of a clean."""
    effects = []
    for act in row_dicts(ball.care[ball.care["action"] != "clean"]):
        number = int(act["surface_number"])
        total, at, care = ball.ages[2], float(act["games_at"]), float(act["games_since_care"])
        old = ball.fit.surface(ball.id, number)
        before = ball.fit.strike(ball.id, at, care, total, old)[:, 0]
        if act["action"] == "resurface":
            after = ball.fit.strike(ball.id, 0.0, 0.0, total, ball.fit.surface(ball.id, number + 1))[:, 0]
        else:
            after = ball.fit.strike(ball.id, at, 0.0, total, old)[:, 0]
        effects.append(
            CareEffect(
                date=pd.Timestamp(act["date"]).date(),
                action=str(act["action"]),
                games_at=at,
                recovery=estimate(ball.pins * (after - before)),
                shots_before=int(act["shots_before"]),
                shots_after=int(act["shots_after"]),
            )
        )
    return effects
