"""Rules of thumb on trial: each maxim as a contrast of the fitted models, for every bowler and for everyone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.arrays import Draws
from pipeline.decisions.candidates import TRIED, some_at_a_time
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import MaximTrial, RuleVerdict
from pipeline.decisions.rules_of_thumb.rules import MAXIMS, Maxim
from pipeline.decisions.wording.rules_of_thumb import not_tested_sentence, rule_source, rule_text, trial_sentence
from pipeline.everyone import EVERYONE
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted, once
from pipeline.models.strikes.oil_rules import fit_oil_rules
from pipeline.pricing.pins_per_strike import pins_per_strike
from pipeline.store.season import Season


@dataclass(frozen=True)
class Trial:
    """One rule for one bowler: its draws in pins per game, and the shots on its thinner side."""

    pins: Draws
    shots: int
    thin: int


@dataclass(frozen=True)
class _Tried:
    """``bowlers`` that rules could be tried on; ``contrasts`` by rule (its id) and bowler, None without shots."""

    bowlers: list[str]
    contrasts: dict[str, dict[str, Trial | None]]


def maxims(fitted: Fitted) -> list[MaximTrial]:
    """Every rule of ``MAXIMS`` tried on every bowler reported, and on everyone.

    A rule compares shots that keep to it with shots that do not, within strata with everything else equal (the
    same pattern class, phase, and line or ball). It is not tested if either side has fewer shots than ``min_shots``.
    ``everyone`` is the mean over the bowlers tested, weighted by their shots, whoever is reported.
    """
    tried = tried_on_everybody(fitted)
    fits = fitted.fits
    reported = [bowler for bowler in tried.bowlers if bowler in fits.mix.shots]
    result = []
    for maxim in MAXIMS:
        contrasts = tried.contrasts[maxim.name]
        fair = {b: c for b, c in contrasts.items() if c is not None and c.thin >= fits.settings.evidence.min_shots}
        result += [_trial(maxim, bowler, None, fair.get(bowler), contrasts.get(bowler), fits) for bowler in reported]
        result.append(_trial(maxim, EVERYONE, len(fair), _together(list(fair.values())), None, fits))
    return result


@once(of=Fitted.everybody)
def tried_on_everybody(fitted: Fitted) -> _Tried:
    """Every rule tried on everybody."""
    tables, revs = _tables(fitted), rev_dominant(fitted.season)
    bowlers = sorted(tables["choices"])
    contrasts: dict[str, dict[str, Trial | None]] = {}
    for maxim in MAXIMS:
        rows = {b: rows for b, rows in tables[maxim.table].items() if not maxim.rev_dominant_only or b in revs}
        contrasts[maxim.name] = {b: contrast(maxim, *rows[b]) for b in bowlers if b in rows}
    return _Tried(bowlers, contrasts)


def rev_dominant(season: Season) -> set[str]:
    """Bowlers whose revs per unit of speed are above the mean of those who logged both."""
    balance = season.frame("cells/bowler_balance")
    ratio = (balance["rev_rpm"] / balance["speed_mph"]).to_numpy(dtype=float)
    above = ratio > np.nanmean(ratio) if np.isfinite(ratio).any() else np.zeros(len(ratio), dtype=bool)
    return set(balance["bowler"].astype(str)[above])


def _tables(fitted: Fitted) -> dict[str, dict[str, tuple[pd.DataFrame, Draws]]]:
    """By table and bowler: logged rows and their draws in pins per game (the oil model's at the bowler's own slope).

    Choices with fewer than ``TRIED`` shots are left out: they are overrated, especially those that a rule advises
    against.
    """
    oil = fit_oil_rules(fitted.season, fitted.fits.mix.shots, fitted.fits.n_draws, fitted.fits.generator("oil rules"))
    slopes = pins_per_strike(fitted.fits)
    choices, rules = {}, {}
    for options in some_at_a_time(fitted):
        for bowler, at in options.rows[options.rows["shots"] >= TRIED].groupby("bowler").groups.items():
            choices[str(bowler)] = (options.rows.loc[at].reset_index(drop=True), options.priced.pins[:, at.to_numpy()])
    for bowler, at in oil.rows.groupby("bowler").groups.items():
        pins = oil.strike[:, at.to_numpy()] * slopes[str(bowler)][:, None]
        rules[str(bowler)] = (oil.rows.loc[at].reset_index(drop=True), pins)
    return {"choices": choices, "oil": rules}


def contrast(maxim: Maxim, rows: pd.DataFrame, pins: Draws) -> Trial | None:
    """Shots that keep to the rule minus shots that do not, in pins per game; None if no stratum holds both.

    Args:
        maxim: the rule.
        rows: one bowler's logged rows, with ``shots``.
        pins: (n, rows) their draws.
    """
    phase = rows["phase"].to_numpy()
    then = _split(maxim, rows, phase == maxim.phase if maxim.phase else None)
    if then is None:
        return None
    weight, shots, thin = then
    if maxim.less_phase:
        before = _split(maxim, rows, phase == maxim.less_phase)
        if before is None:
            return None
        weight, shots, thin = weight - before[0], shots + before[1], min(thin, before[2])
    used = np.flatnonzero(weight)
    return Trial(pins[:, used] @ weight[used], shots, thin)


def _split(maxim: Maxim, rows: pd.DataFrame, when: NDArray[np.bool_] | None) -> tuple[Draws, int, int] | None:
    """Weights of a matched difference: (weights over rows, shots on both sides, shots on the thinner side)."""
    held = maxim.where(rows)
    if when is not None:
        held = held & when
    keeps, breaks = held & maxim.keeps(rows), held & maxim.breaks(rows)
    shots = rows["shots"].to_numpy(dtype=float)
    weight, total, sides = np.zeros(len(rows)), 0.0, np.zeros(2)
    if not (keeps.any() and breaks.any()):
        return None
    for _, at in rows.groupby(list(maxim.within)).indices.items():
        a, b = at[keeps[at]], at[breaks[at]]
        each = np.array([shots[a].sum(), shots[b].sum()])
        if each.min() == 0:
            continue
        size = float(each.prod() / each.sum())
        weight[a] += size * shots[a] / each[0]
        weight[b] -= size * shots[b] / each[1]
        total += size
        sides += each
    if total == 0:
        return None
    return weight / total, int(sides.sum()), int(sides.min())


def _together(contrasts: list[Trial]) -> Trial | None:
    if not contrasts:
        return None
    weight = np.array([c.shots for c in contrasts], dtype=float)
    pins = np.column_stack([c.pins for c in contrasts]) @ (weight / weight.sum())
    return Trial(pins, sum(c.shots for c in contrasts), sum(c.thin for c in contrasts))


def _trial(
    maxim: Maxim, bowler: str, bowlers: int | None, fair: Trial | None, tried: Trial | None, fits: Fits
) -> MaximTrial:
    """The record of one rule for one bowler, or for everyone (``bowlers``: how many)."""
    thin = tried.thin if tried else 0
    trial = MaximTrial(
        maxim=rule_text(maxim.name),
        bowler=bowler,
        verdict="not tested",
        pins=None,
        probability=0.5,
        shots=tried.shots if tried else 0,
        source=rule_source(maxim.from_memory),
        sentence=not_tested_sentence(thin),
    )
    if fair is None:
        return trial
    likely = float((fair.pins > 0).mean())
    verdict = _verdict(likely, fits.settings.evidence.best_probability)
    fields = {"verdict": verdict, "pins": estimate(fair.pins), "probability": likely, "shots": fair.shots}
    trial = trial.model_copy(update=fields)
    return trial.model_copy(update={"sentence": trial_sentence(trial, bowlers)})


def _verdict(likely: float, sure: float) -> RuleVerdict:
    if likely >= sure:
        return "holds for you"
    return "does not hold" if likely <= 1 - sure else "cannot tell"
