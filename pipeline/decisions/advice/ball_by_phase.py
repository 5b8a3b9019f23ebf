"""The one answer for a pattern class: which ball each phase asks for, and how it is played there.

Cards, what leads at each game and plans all take their ball from here. Each ball compared in a phase is priced as it
would be bowled: with its line following the lane as this bowler moves it or, in a phase in which one line kept is
very likely better than the best ball that moves, on its best line kept. The sequence of balls with the
highest total of pins over the phases is taken, less the cost of each change.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.arrays import Draws
from pipeline.decisions.advice.change_cost import best_sequence
from pipeline.decisions.candidates import CELL, Candidates, CellKey, candidates
from pipeline.decisions.estimates import estimates
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import PHASES
from pipeline.models.fitted import Fitted, once
from pipeline.settings import BlockPhases, Evidence
from pipeline.sport.lane import first_game

STAYING_LIKELY = 0.7
"""Probability that the best line kept beats the best ball that moves, from which keeping it is advised.

Higher than for other advice: where lanes wear board by board, a line kept is worth less than the models say.
"""


@dataclass(frozen=True)
class Way:
    """A ball in one phase, played the better of two ways.

    Attributes:
        at: its place among the candidates: the line to keep or, if it moves with the lane, its best line.
        line: the line to keep; None if it moves with the lane.
        pins: (n,) pins per game against the bowler's own average, played so.
        drawn_in: the part of ``pins`` that draws it toward what is thrown in the cell.
    """

    at: int
    line: str | None
    pins: Draws
    drawn_in: float = 0.0

    @property
    def keeps_line(self) -> bool:
        """Whether the ball stays on one line."""
        return self.line is not None


@dataclass(frozen=True)
class Advised:
    """What is advised in one cell: ``ball``, one of the ``ways`` compared there (by ball id)."""

    ball: str
    ways: Mapping[str, Way]

    @property
    def way(self) -> Way:
        """How the ball advised is played."""
        return self.ways[self.ball]

    @property
    def best(self) -> str:
        """The ball worth most in this cell alone."""
        return max(self.ways, key=lambda ball: float(self.ways[ball].pins.mean()))

    def p_best(self) -> float | None:
        """Probability that no other ball compared is better; None with one ball."""
        if len(self.ways) < 2:
            return None
        others = [way.pins for ball, way in self.ways.items() if ball != self.ball]
        return float(probability_best(np.column_stack([self.way.pins, *others]))[0])


@dataclass(frozen=True)
class _Phases:
    """One class's phases as ``best_sequence`` reads games; ``pins`` (n, phases, balls), ``tried`` (phases, balls)."""

    pins: Draws
    tried: NDArray[np.bool_]


def ranked_places(options: Candidates, rules: Evidence) -> dict[CellKey, list[int]]:
    """The lines to keep that are compared in each cell, best first.

    Compared is what was logged there ``min_shots`` times and is priced within ``interval_width_pins``.
    """
    enough = _enough(options.rows["shots"], options.priced.pins, rules)
    mean = options.priced.pins.mean(axis=0)
    return {cell: sorted((int(i) for i in at if enough[i]), key=lambda i: -mean[i]) for cell, at in options.cells()}


def ball_places(options: Candidates, rules: Evidence) -> dict[CellKey, list[int]]:
    """The balls that are compared in each cell moving with the lane, by the line of each that was thrown most there.

    Compared is a ball that was logged there ``min_shots`` times, on whatever lines, and is priced as closely.
    """
    shots = options.rows.groupby([*CELL, "ball"], sort=False)["shots"]
    enough = _enough(shots.transform("sum"), options.following.pins, rules)
    most = options.rows.index.isin(shots.idxmax())
    return {cell: [int(i) for i in at if enough[i] and most[i]] for cell, at in options.cells()}


def _enough(shots: pd.Series, pins: Draws, rules: Evidence) -> NDArray[np.bool_]:
    """Whether each column of ``pins`` has enough shots and a narrow enough interval to be compared."""
    many = shots.to_numpy() >= max(rules.min_shots, 1)
    at = np.flatnonzero(many)
    narrow = [value.hi80 - value.lo80 <= rules.interval_width_pins for value in estimates(pins[:, at])]
    result: NDArray[np.bool_] = many
    result[at] = narrow
    return result


def ways_to_play(options: Candidates, lines: list[int], balls: list[int]) -> dict[str, Way]:
    """How each ball among these places of one cell is best played: ``balls`` may move, ``lines`` may be kept."""
    moving: dict[str, Way] = {}
    for i in [*lines[::-1], *balls]:
        way = Way(i, None, options.following.pins[:, i], options.drawn_in_by(i, line_kept=False))
        moving[str(options.choices[i]["ball"])] = way
    staying: dict[str, Way] = {}
    for i in sorted(lines, key=lambda i: -float(options.priced.pins[:, i].mean())):
        row = options.choices[i]
        way = Way(i, str(row["line"]), options.priced.pins[:, i], options.drawn_in_by(i, line_kept=True))
        staying.setdefault(str(row["ball"]), way)
    if not staying:
        return moving
    best_moving, best_staying = (max(ways.values(), key=_mean) for ways in (moving, staying))
    if float((best_staying.pins > best_moving.pins).mean()) < STAYING_LIKELY:
        return moving
    return {ball: max(way, staying.get(ball, way), key=_mean) for ball, way in moving.items()}


def _mean(way: Way) -> float:
    return float(way.pins.mean())


@once()
def advised(fitted: Fitted) -> dict[CellKey, Advised]:
    """What is advised in every cell in which something is compared."""
    options, fits = candidates(fitted), fitted.fits
    by_class: dict[tuple[str, str], dict[str, dict[str, Way]]] = {}
    rules = fits.settings.evidence
    lines, balls = ranked_places(options, rules), ball_places(options, rules)
    for cell in lines:
        if ways := ways_to_play(options, lines[cell], balls[cell]):
            by_class.setdefault(cell[:2], {})[cell[2]] = ways
    result = {}
    for (bowler, pattern_class), ways_by_phase in by_class.items():
        games = {
            phase: games_in(phase, _game(options, (bowler, pattern_class, phase)), fits.settings.phases)
            for phase in ways_by_phase
        }
        for phase, ball in best_balls(ways_by_phase, games).items():
            result[bowler, pattern_class, phase] = Advised(ball, ways_by_phase[phase])
    return result


def best_balls(ways: Mapping[str, Mapping[str, Way]], games: Mapping[str, float]) -> dict[str, str]:
    """Phase -> ball, for the sequence with the highest total of pins.

    Args:
        ways: phase -> ball -> how it is played, phases in the order they are bowled.
        games: phase -> how many games it has.
    """
    balls = sorted({ball for of_phase in ways.values() for ball in of_phase})
    n = len(next(iter(next(iter(ways.values())).values())).pins)
    nothing = np.zeros(n)
    pins = np.stack(
        [
            np.column_stack([games[phase] * of_phase[ball].pins if ball in of_phase else nothing for ball in balls])
            for phase, of_phase in ways.items()
        ],
        axis=1,
    )
    tried = np.array([[ball in of_phase for ball in balls] for of_phase in ways.values()])
    order = best_sequence(_Phases(pins, tried))
    return {phase: balls[at] for phase, at in zip(ways, order, strict=True)}


def _game(options: Candidates, cell: CellKey) -> float:
    return float(options.choices[int(options.places[cell][0])]["game"])


def games_in(phase: str, mean_game: float, phases: BlockPhases) -> float:
    """Games of a phase whose mean game is ``mean_game``, counted from its first: at least one, at most all it has."""
    first = first_game(phase, phases)
    later = [name for name in PHASES if first_game(name, phases) > first]
    most = first_game(later[0], phases) - first if later else np.inf
    return float(np.clip(2 * (mean_game - first) + 1, 1.0, most))


def shots_so(options: Candidates, way: Way) -> int:
    """First deliveries in the cell on the line kept or, if the ball moves with the lane, with the ball."""
    row = options.choices[way.at]
    if way.keeps_line:
        return int(row["shots"])
    places = options.places[row["bowler"], row["pattern_class"], row["phase"]]
    return sum(int(options.choices[i]["shots"]) for i in places if options.choices[i]["ball"] == row["ball"])
