"""Steps into the next phase for a bowler who keeps lines: stay on the line in hand, or move to another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.candidates import Candidates, CellKey
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import PHASES, ComboWorth, NextStep, Phase
from pipeline.decisions.wording.next_step import Move, move_sentence
from pipeline.settings import BlockPhases
from pipeline.sport.lane import NO_LINE, first_game

WORTH_SAYING = 0.6
"""A step less likely than this to be better is no advice."""


def next_move(
    options: Candidates, key: CellKey, now: ComboWorth, ranked: frozenset[int], phases: BlockPhases
) -> NextStep | None:
    """The move of line advised into the next phase the bowler logged on that class, for a bowler who keeps lines.

    A move is to another line with the same ball, or the advice to stay if staying is more likely to be better. None
    if neither is likely enough. What is advised must be ranked in its phase, as the best of a phase is.

    Args:
        options: the choices, priced.
        key: bowler, pattern class and phase.
        now: the choice in hand.
        ranked: places among the candidates of those ranked in their phase.
        phases: which games are which phase.
    """
    phase = next_logged(options, key)
    if phase is None:
        return None
    return _PhaseOptions(options, options.places[key[0], key[1], phase], now, ranked, first_game(phase, phases)).move()


def next_logged(options: Candidates, key: CellKey) -> Phase | None:
    """The next phase the bowler logged on that class; None in the last one."""
    later = PHASES[PHASES.index(phase_named(key[2])) + 1 :]
    return next((phase for phase in later if (key[0], key[1], phase) in options.places), None)


def phase_named(text: str) -> Phase:
    """A phase by its name."""
    return PHASES[PHASES.index(text)]


class _PhaseOptions:
    """The choices of the next phase at the places ``at``: rows, draws (n, rows), and the one in hand among them."""

    def __init__(
        self, options: Candidates, at: NDArray[np.intp], now: ComboWorth, ranked: frozenset[int], game: int
    ) -> None:
        self.rows, self.pins, self.game = [options.choices[i] for i in at], options.priced.pins[:, at], game
        self.ranked = [k for k, place in enumerate(at) if int(place) in ranked]
        self.stay = next(k for k, row in enumerate(self.rows) if (row["ball"], row["line"]) == (now.ball, now.line))
        same_ball = [k for k in self.ranked if k != self.stay and self.rows[k]["ball"] == now.ball]
        self.lines = [k for k in same_ball if NO_LINE not in (self.rows[k]["line"], now.line)]

    def move(self) -> NextStep | None:
        """To another line with the same ball, or to stay; None if neither is likely enough."""
        if not self.lines:
            return None
        to = self._best(self.lines)
        going = self._step(to, self.stay, "move")
        if going or self.stay not in self.ranked:
            return going
        return self._step(self.stay, to, "stay")

    def _best(self, options: list[int]) -> int:
        return options[int(np.argmax(self.pins[:, options].mean(axis=0)))]

    def _step(self, to: int, instead_of: int, move: Move) -> NextStep | None:
        draws = self.pins[:, to] - self.pins[:, instead_of]
        gain, likely = estimate(draws), float((draws > 0).mean())
        if gain.mean <= 0 or likely < WORTH_SAYING:
            return None
        row, other = self.rows[to], self.rows[instead_of]
        step = NextStep(
            from_game=self.game,
            ball=row["ball"],
            ball_name=row["ball_name"],
            line=row["line"],
            over_ball=other["ball"],
            over_line=other["line"],
            gain=gain,
            probability=likely,
            shots=row["shots"],
            sentence="",
        )
        return step.model_copy(update={"sentence": move_sentence(step, move)})
