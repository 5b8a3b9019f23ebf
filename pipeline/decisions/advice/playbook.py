"""The playbook: for each bowler, pattern class and phase, which ball on which line, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.arrays import Draws
from pipeline.decisions.advice.ball_by_phase import Advised, advised, ranked_places
from pipeline.decisions.advice.gain import gain_over_now, games_by_cell
from pipeline.decisions.advice.next_ball import change_of_ball
from pipeline.decisions.advice.next_line import next_move, phase_named
from pipeline.decisions.advice.policy import playing
from pipeline.decisions.candidates import TRIED, Candidates, CellKey, candidates
from pipeline.decisions.estimates import estimate, estimates
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import PHASES, ComboWorth, PhaseAdvice
from pipeline.decisions.wording.playbook import Ranking, advice_sentence, why_neither
from pipeline.inference.sample_size import (
    SIZES,
    noise_of_one_shot,
    perfect_information,
    shots_to_narrow,
    shots_to_settle,
)
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.pinfall import pinfalls
from pipeline.settings import Evidence, Settings
from pipeline.sport.lane import first_game, last_game

_Z80 = 1.2816  # half the width of a normal's central 80 % interval, in sd
_IN_CONTENTION = 0.05  # probability of being the best from which a choice needs shots before the best is known
_EITHER_WILL_DO = 1.0  # pins per game; if knowing the best gains no more than this, the choice does not matter


@dataclass(frozen=True)
class _Choice:
    """One logged choice of one cell, with its place among the candidates' draws."""

    worth: ComboWorth
    at: int


@dataclass(frozen=True)
class _Book:
    """The inputs of every cell's advice; ``ranked``: places of the lines ranked, of all cells."""

    fits: Fits
    options: Candidates
    cells: dict[CellKey, list[_Choice]]
    answers: Mapping[CellKey, Advised]
    ranked: frozenset[int]


def playbook(fitted: Fitted) -> tuple[list[ComboWorth], list[PhaseAdvice]]:
    """Every combination logged often enough, priced, and the advice for every bowler, pattern class and phase logged.

    A combination with fewer than ``TRIED`` shots (or ``min_shots``, if that is less) has no price: it was dropped too
    soon for its shots to be representative. It is ranked if it has the settings' ``min_shots`` and an 80 % interval no
    wider than ``interval_width_pins``; only ranked combinations can be the best.
    """
    options = candidates(fitted)
    raw = _raw_worth(fitted, options)
    compared = ranked_places(options, fitted.fits.settings.evidence)
    cells = {
        key: _choices(options, key, at, raw, compared[key], fitted.fits.settings.evidence)
        for key, at in options.cells()
    }
    games, answers = games_by_cell(fitted.season), advised(fitted)
    ranked = frozenset(choice.at for choices in cells.values() for choice in choices if choice.worth.ranked)
    book = _Book(fitted.fits, options, cells, answers, ranked)
    advice = [_advise(book, key, games.get(key, 0)) for key in cells]
    fewest = _fewest_priced(fitted.fits.settings.evidence)
    thrown = (choice.worth for choices in cells.values() for choice in choices)
    return [worth for worth in thrown if worth.shots >= fewest], advice


def _fewest_priced(rules: Evidence) -> int:
    return min(TRIED, rules.min_shots)


def _raw_worth(fitted: Fitted, options: Candidates) -> list[float]:
    """Unadjusted worth of every candidate: own strikes there against the bowler's own rate, at the bowler's spares."""
    shapes = pinfalls(fitted)
    result = np.zeros(len(options.rows))
    for bowler, at in options.rows.groupby("bowler").indices.items():
        shape = shapes[str(bowler)]
        rows = options.rows.iloc[at]
        rate = np.where(rows["shots"] > 0, rows["strikes"] / rows["shots"].clip(lower=1), shape.strike)
        result[at] = shape.mean(rate) - shape.mean(shape.strike)
    return [float(value) for value in result]


def _choices(
    options: Candidates, key: CellKey, at: NDArray[np.intp], raw: list[float], compared: list[int], rules: Evidence
) -> list[_Choice]:
    logged = [(options.choices[i], int(i)) for i in at if options.choices[i]["shots"] > 0]
    where = [i for _, i in logged]
    pins = options.priced.pins[:, where]
    worth = estimates(pins)
    following = estimates(options.following.pins[:, where])
    drawn = options.priced.strike[:, where]
    strike = estimates(drawn)
    ranked = [i in compared for i in where]
    best = np.zeros(len(logged))
    best[ranked] = probability_best(pins[:, ranked])
    return [
        _Choice(
            ComboWorth(
                bowler=key[0],
                pattern_class=key[1],
                phase=phase_named(key[2]),
                ball=row["ball"],
                ball_name=row["ball_name"],
                ball_class=row["ball_class"],
                line=row["line"],
                shots=row["shots"],
                worth=worth[k],
                worth_following=following[k],
                raw_worth=raw[i],
                strike=strike[k],
                p_best=None if ranked[k] and sum(ranked) == 1 else float(best[k]),
                p_200=float(options.priced.p200[:, i].mean()),
                ranked=ranked[k],
                shots_needed=0 if ranked[k] else _until_ranked(row["shots"], pins[:, k], drawn[:, k], rules),
            ),
            i,
        )
        for k, (row, i) in enumerate(logged)
    ]


def _until_ranked(shots: int, pins: Draws, strike: Draws, rules: Evidence) -> int:
    """About how many more shots a choice takes until it is ranked, from its draws (n,)."""
    noise = noise_of_one_shot(pins, strike)
    narrow = shots_to_narrow(float(pins.std()), noise, rules.interval_width_pins / (2 * _Z80))
    return max(rules.min_shots - shots, narrow, 1)


def _until_settled(options: Candidates, best: int, rivals: list[int], rules: Evidence) -> int:
    """About how many more shots, split evenly between the choices in these places, settle whether ``best`` is the best.

    0 if knowing it would gain less than a pin per game.
    """
    pins, strike = options.priced.pins, options.priced.strike
    if perfect_information(pins[:, [best, *rivals]]) <= _EITHER_WILL_DO:
        return 0
    lead = pins[:, best] - pins[:, rivals].max(axis=1)
    of_best, *of_rivals = (noise_of_one_shot(pins[:, at], strike[:, at]) for at in (best, *rivals))
    noise = (1 + len(of_rivals)) * (of_best + float(np.mean(of_rivals)))
    mean, sd = float(lead.mean()), float(lead.std())
    sure, often = rules.settled_probability, rules.best_probability
    return shots_to_settle(mean, sd, noise, sure, _EITHER_WILL_DO, often) or SIZES[0]


def _advise(book: _Book, key: CellKey, games: int) -> PhaseAdvice:
    fits, options, cells, answers = book.fits, book.options, book.cells, book.answers
    (bowler, pattern_class, phase), settings = key, fits.settings
    order = sorted((c for c in cells[key] if c.worth.ranked), key=lambda c: -c.worth.worth.mean)
    unranked = _next_to_rank(cells[key])
    best, second = (*order, None, None)[:2]
    pins = options.priced.pins
    move = None if best is None else next_move(options, key, best.worth, book.ranked, settings.phases)
    change = change_of_ball(fits, options, key, answers)
    ranking = _ranking(options, order, unranked, settings.evidence)
    neither = best is not None and move is None and change is None
    policy = playing(fits, options, answers[key]) if key in answers else None
    return PhaseAdvice(
        bowler=bowler,
        pattern_class=pattern_class,
        phase=phase_named(phase),
        from_game=first_game(phase, settings.phases),
        to_game=last_game(phase, settings.phases),
        best=None if best is None else best.worth,
        runner_up=None if second is None else second.worth,
        margin=None if best is None or second is None else estimate(pins[:, best.at] - pins[:, second.at]),
        gain_over_now=None if policy is None else gain_over_now(options, key, policy, games, settings.phases),
        policy=None if policy is None else policy.record,
        verdict=ranking.verdict,
        shots_needed=ranking.shots_needed,
        move=move,
        change=change,
        why_neither=_why_neither(key, best.worth, cells, settings) if best is not None and neither else "",
        sentence=advice_sentence(pattern_class, phase, settings.phases, ranking),
    )


def _next_to_rank(choices: list[_Choice]) -> list[ComboWorth]:
    """The choices of a cell that are not ranked, those that need the fewest shots first."""
    return sorted((c.worth for c in choices if not c.worth.ranked), key=lambda worth: worth.shots_needed)


def _ranking(options: Candidates, order: list[_Choice], unranked: list[ComboWorth], rules: Evidence) -> Ranking:
    """How the ranked choices compare, best first in ``order``, and those next to be ranked."""
    nearest = unranked[0] if unranked else None
    until_ranked = 0 if nearest is None else nearest.shots_needed
    if not order:
        return Ranking("not enough shots", until_ranked, nearest=nearest)
    best, *others = order
    if not others:
        return Ranking("not compared", until_ranked, best.worth, nearest=nearest)
    above = _priced_above(best.worth, unranked, rules)
    if (best.worth.p_best or 0.0) >= rules.settled_probability:
        return Ranking("settled", 0, best.worth, above=above)
    rivals = [others[0], *(c for c in others[1:] if (c.worth.p_best or 0.0) >= _IN_CONTENTION)]
    more = _until_settled(options, best.at, [rival.at for rival in rivals], rules)
    return Ranking("leaning", more, best.worth, [rival.worth for rival in rivals], above=above)


def _priced_above(best: ComboWorth, unranked: list[ComboWorth], rules: Evidence) -> ComboWorth | None:
    """The unranked choice with the highest price, if that is above the best ranked one; else None."""
    priced = [worth for worth in unranked if worth.shots >= _fewest_priced(rules)]
    top = max(priced, key=lambda worth: worth.worth.mean, default=None)
    return None if top is None or top.worth.mean <= best.worth.mean else top


def _why_neither(key: CellKey, now: ComboWorth, cells: dict[CellKey, list[_Choice]], settings: Settings) -> str:
    """Why neither a move nor a change is advised into the next phase logged; empty in the last one."""
    later = ((key[0], key[1], phase) for phase in PHASES[PHASES.index(phase_named(key[2])) + 1 :])
    then = next((cell for cell in later if cell in cells), None)
    if then is None:
        return ""
    others = [c for c in cells[then] if (c.worth.ball, c.worth.line) != (now.ball, now.line)]
    compared, nearest = any(c.worth.ranked for c in others), next(iter(_next_to_rank(others)), None)
    return why_neither(then[2], settings.phases, compared, nearest)
