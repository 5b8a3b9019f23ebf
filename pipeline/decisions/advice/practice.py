"""What to practise with: one session of some games on one pattern class, the balls and lines that teach most.

Balls are priced as they are bowled, with their lines following the lane, so session and cards read the same numbers. A
session goes through the phases as a block does; its shots are allocated by knowledge gradient. Over simulated beliefs
that gained more than allocation by Thompson sampling or in equal shares
(``tests/inference/test_knowledge_gradient.py``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipeline.decisions.candidates import TRIED, Candidates, ChoiceRow, candidates
from pipeline.decisions.records import PHASES, PracticeSession, PracticeShots
from pipeline.decisions.wording.practice import no_session, session_sentence
from pipeline.inference.knowledge_gradient import Batch, Belief, best_batch, perfect_gain
from pipeline.inference.sample_size import noise_of_one_shot
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from pipeline.sport.lane import phase_of

SHOTS_A_GAME = 12
"""First deliveries of a game; what matters is their order of size."""
_TURNS = 2  # a game's shots may go to two balls
_POWER = 0.8  # probability of showing that a lead needs to be called visible


@dataclass(frozen=True)
class _Class:
    """One bowler's options on one pattern class: ``rows``, one per ball and phase, and the belief about them."""

    pattern_class: str
    rows: list[ChoiceRow]
    belief: Belief
    draws: NDArray[np.float64]
    share: float


@dataclass(frozen=True)
class _Session:
    options: _Class
    batch: Batch
    games: list[int]  # of each slot filled


def practice(fitted: Fitted) -> list[PracticeSession]:
    """One session per bowler, on the class in which it gains most over the season; without shots if none is worth it.

    A session is proposed if it is expected to gain ``practice.least_gain`` pins per game on its class.
    """
    priced, settings = candidates(fitted), fitted.fits.settings
    by_bowler: dict[str, dict[str, list[int]]] = {}
    for (bowler, pattern_class, _), at in priced.places.items():
        by_bowler.setdefault(bowler, {}).setdefault(pattern_class, []).extend(int(i) for i in at)
    result = []
    for bowler, classes in sorted(by_bowler.items()):
        logged = sum(priced.choices[i]["shots"] for at in classes.values() for i in at)
        options = [_options(priced, kind, at, logged) for kind, at in classes.items()]
        sessions = [_session(of_class, fitted.fits, bowler) for of_class in options if of_class is not None]
        result.append(_record(bowler, sessions, logged, settings))
    return result


def _options(options: Candidates, pattern_class: str, places: list[int], logged: int) -> _Class | None:
    """Balls thrown on the class often enough to be priced, by phase; None if nothing is to choose there."""
    lines = _lines_of_balls(options, places)
    if len({ball for _, ball in lines}) < 2:
        return None
    order = sorted(lines, key=lambda key: (PHASES.index(key[0]), key[1]))
    # All lines of a ball are priced alike here; the one to start on is the one it was thrown on most in that phase.
    usual = [max(lines[key], key=lambda i: _shots_here_and_on_class(options.choices[i])) for key in order]
    rows = [
        options.choices[i] | {"shots": sum(options.choices[k]["shots"] for k in lines[key])}
        for i, key in zip(usual, order, strict=True)
    ]
    draws, strike = options.following.pins[:, usual], options.following.strike[:, usual]
    noise = np.array([noise_of_one_shot(draws[:, k], strike[:, k]) for k in range(len(usual))])
    phases = [phase for phase in PHASES if any(key[0] == phase for key in order)]
    sets = [np.array([k for k, key in enumerate(order) if key[0] == phase], dtype=np.intp) for phase in phases]
    thrown = [sum(_shots(options, places, "phase", phase)) for phase in phases]
    weights = [shots / max(sum(thrown), 1) for shots in thrown]
    belief = Belief.from_draws(draws, noise, sets, weights)
    return _Class(pattern_class, rows, belief, draws, sum(thrown) / max(logged, 1))


def _lines_of_balls(options: Candidates, places: list[int]) -> dict[tuple[str, str], list[int]]:
    """(phase, ball) -> places of its lines, of strike balls with ``TRIED`` shots in these places."""
    lines: dict[tuple[str, str], list[int]] = {}
    for i in places:
        row = options.choices[i]
        if not row["spare_ball"] and sum(_shots(options, places, "ball", row["ball"])) >= TRIED:
            lines.setdefault((row["phase"], row["ball"]), []).append(i)
    return lines


def _shots(options: Candidates, places: list[int], column: str, value: str) -> Iterable[int]:
    """Shots of the choices in these places whose ``column`` is ``value``."""
    return (row["shots"] for row in (options.choices[i] for i in places) if row[column] == value)


def _shots_here_and_on_class(row: ChoiceRow) -> tuple[int, int]:
    return row["shots"], row["class_shots"]


def _session(options: _Class, fits: Fits, bowler: str) -> _Session:
    """The best session of the settings' games on one class; games of a phase never logged there are left out."""
    phases = {options.rows[int(at[0])]["phase"]: at for at in options.belief.sets}
    slots, games = [], []
    for game in range(1, fits.settings.practice.games + 1):
        allowed = phases.get(phase_of(game, fits.settings.phases))
        if allowed is not None:
            slots += [allowed] * _TURNS
            games += [game] * _TURNS
    rng = fits.generator(f"practice of {bowler} on {options.pattern_class}")
    return _Session(options, best_batch(options.belief, slots, SHOTS_A_GAME // _TURNS, rng), games)


def _record(bowler: str, sessions: list[_Session], logged: int, settings: Settings) -> PracticeSession:
    games, least = settings.practice.games, settings.practice.least_gain
    if not sessions:
        return PracticeSession(bowler=bowler, games=games, sentence=no_session(games, least, None))
    worth = [made for made in sessions if made.batch.gain >= least]
    best = max(worth, key=_over_the_season) if worth else max(sessions, key=lambda made: made.batch.gain)
    options, batch, items = best.options, best.batch, _items(best) if worth else []
    noise, p_change = float(np.median(options.belief.noise)), max(best.batch.p_change)
    smallest = _smallest(noise, SHOTS_A_GAME * games, settings), _smallest(noise, logged, settings)
    proposed = session_sentence(options.pattern_class, games, items, batch.gain, p_change, *smallest)
    return PracticeSession(
        bowler=bowler,
        games=games,
        pattern_class=options.pattern_class if worth else None,
        shots=items,
        gain=batch.gain,
        gain_if_known=perfect_gain(options.belief, options.draws),
        share=options.share,
        p_change=p_change if worth else None,
        smallest_in_session=smallest[0],
        smallest_in_season=smallest[1],
        sentence=proposed if worth else no_session(games, least, (batch.gain, options.pattern_class)),
    )


def _over_the_season(made: _Session) -> float:
    return made.batch.gain * made.options.share


def _smallest(noise: float, shots: int, settings: Settings) -> float:
    """The smallest lead, in pins per game, between two choices sharing these shots that would probably show.

    A lead shows if its probability reaches ``evidence.best_probability``. Luck of the block, which both share, is
    left out.
    """
    sure = float(ndtri(settings.evidence.best_probability) + ndtri(_POWER))
    return sure * math.sqrt(4 * noise / shots)


def _items(made: _Session) -> list[PracticeShots]:
    """Shots by phase and ball, in the order of the games."""
    size = SHOTS_A_GAME // _TURNS
    by_option: dict[int, list[int]] = {}
    for option, game in zip(made.batch.choices, made.games, strict=True):
        by_option.setdefault(option, []).append(game)
    ordered: Iterable[tuple[int, list[int]]] = sorted(by_option.items(), key=lambda item: (min(item[1]), -len(item[1])))
    return [
        PracticeShots(
            phase=PHASES[PHASES.index(made.options.rows[option]["phase"])],
            from_game=min(games),
            to_game=max(games),
            ball=made.options.rows[option]["ball"],
            ball_name=made.options.rows[option]["ball_name"],
            line=made.options.rows[option]["line"],
            shots=size * len(games),
            logged=int(made.options.rows[option]["shots"]),
        )
        for option, games in ordered
    ]
