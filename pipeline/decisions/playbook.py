"""The playbook: for each bowler, pattern class and phase, which ball on which line, and what to do next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.candidates import TRIED, Candidates, Cell, candidates
from pipeline.decisions.estimates import estimate, estimates, probability_best, shots_to_settle
from pipeline.decisions.game_shape import game_shapes
from pipeline.decisions.next_phase import next_steps
from pipeline.decisions.results import PHASES, ComboWorth, Estimate, Phase, PhaseAdvice
from pipeline.decisions.words import (
    in_phase,
    interval,
    on_pattern,
    percent,
    pins_a_game,
    plural,
    sentence,
    with_ball,
)
from pipeline.models.fits import Fits
from pipeline.models.season import Season
from pipeline.settings import Evidence, Settings

_Z80 = 1.2816  # half the width of a normal's central 80 % interval, in sd

Draws = NDArray[np.float64]


@dataclass(frozen=True)
class _Choice:
    """One logged choice of one cell, with its place among the candidates' draws."""

    worth: ComboWorth
    at: int


def playbook(season: Season, fits: Fits) -> tuple[list[ComboWorth], list[PhaseAdvice]]:
    """Every combination logged often enough, priced, and the advice for every bowler, pattern class and phase logged.

    One with fewer than ``TRIED`` shots (or ``min_shots``, if that is less) has no price: that few were thrown says
    more of it than the shots do. A combination is ranked where it has the settings' ``min_shots`` and an 80 % interval
    no wider than ``interval_width_pins``; only ranked ones can be the best.
    """
    found = candidates(season, fits)
    raw = _raw_worth(season, found)
    cells = {key: _choices(found, key, at, raw, fits.settings.evidence) for key, at in found.places.items()}
    ranked = frozenset(choice.at for choices in cells.values() for choice in choices if choice.worth.settled)
    advice = [_advise(found, key, cells[key], ranked, fits.settings) for key in cells]
    fewest = min(TRIED, fits.settings.evidence.min_shots)
    thrown = (choice.worth for choices in cells.values() for choice in choices)
    return [worth for worth in thrown if worth.shots >= fewest], advice


def _raw_worth(season: Season, found: Candidates) -> list[float]:
    """Unadjusted worth of every candidate: own strikes there against the bowler's own rate, at the bowler's spares."""
    shapes = game_shapes(season)
    result = np.zeros(len(found.rows))
    for bowler, at in found.rows.groupby("bowler").indices.items():
        shape = shapes[str(bowler)]
        own = found.rows.iloc[at]
        rate = np.where(own["shots"] > 0, own["strikes"] / own["shots"].clip(lower=1), shape.strike)
        result[at] = shape.mean(rate) - shape.mean(shape.strike)
    return [float(value) for value in result]


def _choices(found: Candidates, key: Cell, at: NDArray[np.intp], raw: list[float], rules: Evidence) -> list[_Choice]:
    logged = [(found.records[i], int(i)) for i in at if found.records[i]["shots"] > 0]
    where = [i for _, i in logged]
    pins = found.priced.pins[:, where]
    worth = estimates(pins)
    strike = estimates(found.priced.strike[:, where])
    ranked = [
        row["shots"] >= rules.min_shots and value.hi80 - value.lo80 <= rules.interval_width_pins
        for (row, _), value in zip(logged, worth, strict=True)
    ]
    best = np.zeros(len(logged))
    best[ranked] = probability_best(pins[:, ranked])
    return [
        _Choice(
            ComboWorth(
                bowler=key[0],
                pattern_class=key[1],
                phase=_phase(key[2]),
                ball=row["ball"],
                ball_name=row["ball_name"],
                ball_class=row["ball_class"],
                line=row["line"],
                shots=row["shots"],
                worth=worth[k],
                raw_worth=raw[i],
                strike=strike[k],
                p_best=float(best[k]),
                p_200=float(found.priced.p200[:, i].mean()),
                settled=ranked[k],
                shots_needed=0 if ranked[k] else _shots_needed(row["shots"], pins[:, k], rules),
            ),
            i,
        )
        for k, (row, i) in enumerate(logged)
    ]


def _shots_needed(shots: int, pins: Draws, rules: Evidence) -> int:
    narrow = shots_to_settle(float(pins.std()), shots, rules.interval_width_pins / (2 * _Z80))
    return max(rules.min_shots - shots, narrow, 1)


def _phase(text: str) -> Phase:
    return PHASES[PHASES.index(text)]


def _advise(
    found: Candidates, key: Cell, choices: list[_Choice], ranked: frozenset[int], settings: Settings
) -> PhaseAdvice:
    bowler, pattern_class, phase = key
    best_first = sorted((c for c in choices if c.at in ranked), key=lambda c: -c.worth.worth.mean)
    common = {"bowler": bowler, "pattern_class": pattern_class, "phase": _phase(phase)}
    if not best_first:
        return PhaseAdvice(
            **common,
            best=None,
            runner_up=None,
            margin=None,
            verdict="not enough shots",
            move=None,
            change=None,
            sentence=_unsettled_sentence(key, choices, settings),
        )
    best, second = best_first[0], best_first[1] if len(best_first) > 1 else None
    margin = None if second is None else estimate(found.priced.pins[:, best.at] - found.priced.pins[:, second.at])
    settled = second is not None and best.worth.p_best >= settings.evidence.best_probability
    move, change = next_steps(found, key, best.worth, ranked, settings.phases)
    return PhaseAdvice(
        **common,
        best=best.worth,
        runner_up=None if second is None else second.worth,
        margin=margin,
        verdict="settled" if settled else "leaning",
        move=move,
        change=change,
        sentence=_sentence(key, best.worth, None if second is None else second.worth, margin, settings),
    )


def _sentence(
    key: Cell, best: ComboWorth, second: ComboWorth | None, margin: Estimate | None, settings: Settings
) -> str:
    where = sentence(f"{on_pattern(key[1])} {in_phase(key[2], settings.phases)}")
    shots = plural(best.shots, "shot")
    value = f"{where}, {with_ball(best.ball_name, best.line)} was worth {pins_a_game(best.worth.mean)}"
    if second is None or margin is None:
        return f"{value} ({interval(best.worth)}, {shots}); nothing else has enough shots to compare it with."
    text = f"{value} ({interval(best.worth)}, {shots}, {percent(best.p_best)} likely the best)."
    if best.p_best >= settings.evidence.best_probability:
        return text
    ahead = round(margin.mean)
    other = with_ball(second.ball_name, second.line)
    behind = f"only {plural(ahead, 'pin')} behind" if ahead > 0 else "level with it"
    return f"{text} Not settled: {other} is {behind}."


def _unsettled_sentence(key: Cell, choices: list[_Choice], settings: Settings) -> str:
    where = sentence(f"{on_pattern(key[1])} {in_phase(key[2], settings.phases)}")
    nearest = min((c.worth for c in choices), key=lambda worth: worth.shots_needed)
    more = plural(nearest.shots_needed, "more shot")
    return (
        f"{where}, not enough shots on any ball and line yet; "
        f"about {more} with {with_ball(nearest.ball_name, nearest.line)} would settle what it is worth."
    )
