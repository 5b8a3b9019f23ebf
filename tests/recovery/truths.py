"""A second, simpler world, of the very form the worth model assumes, to tell a wrong method from a wrong form.

The strike depends on nothing but ball class, pattern class, line, games into the block and independent normal effects
of bowler, bowler and block, ball, and their combinations; wear, the entry board and the pair's load do nothing. Bowlers
still change balls when the last shots did not strike, so raw averages stay confounded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from sample_logs import mechanism as m
from sample_logs.generate import BLOCKS, SimulatedSeason, assemble, calendar
from sample_logs.play import Play
from sample_logs.truth import LINE_BOARDS, Truth, make_truth
from sample_logs.world import World, make_world

LINES = tuple(LINE_BOARDS)[1:6]


@dataclass(frozen=True)
class Effects:
    """Effects on the logit; axes are numbers of class (8), pattern class (3), line (5), bowler, ball. Games from 3."""

    level: float
    kind: np.ndarray
    kind_pattern: np.ndarray
    pattern: np.ndarray
    line: np.ndarray
    line_pattern: np.ndarray
    game: float
    kind_game: np.ndarray
    line_game: np.ndarray
    bowler: np.ndarray
    ball: np.ndarray
    ball_pattern: np.ndarray  # ball, pattern class (a ball has one bowler)
    combination: np.ndarray  # ball, pattern class, line

    def logit(
        self,
        kind: np.ndarray,
        bowler: np.ndarray,
        ball: np.ndarray,
        pattern: np.ndarray,
        line: np.ndarray,
        game: np.ndarray,
    ) -> np.ndarray:
        """Log odds of a strike, block effect 0."""
        return (
            self.level
            + self.kind[kind]
            + self.kind_pattern[kind, pattern]
            + self.pattern[pattern]
            + self.line[line]
            + self.line_pattern[line, pattern]
            + self.bowler[bowler]
            + self.ball[ball]
            + self.ball_pattern[ball, pattern]
            + self.combination[ball, pattern, line]
            + (game - 3.0) * (self.game + self.kind_game[kind] + self.line_game[line])
        )


def draw_effects(rng: np.random.Generator, bowlers: int, balls: int) -> Effects:
    """Draw every effect anew; sds are a plausible season's.

    Those of the combinations are drawn as the worth model takes them beforehand: half-t, 4 degrees of freedom, 0.05.
    """
    ball_pattern_sd, combination_sd = np.abs(0.05 * rng.standard_t(4, 2))
    return Effects(
        level=float(rng.normal(-0.4, 0.2)),
        kind=rng.normal(0, 0.3, 8),
        kind_pattern=rng.normal(0, 0.25, (8, 3)),
        pattern=rng.normal(0, 0.3, 3),
        line=rng.normal(0, 0.2, 5),
        line_pattern=rng.normal(0, 0.3, (5, 3)),
        game=float(rng.normal(-0.04, 0.05)),
        kind_game=rng.normal(0, 0.06, 8),
        line_game=rng.normal(0, 0.08, 5),
        bowler=rng.normal(0, 0.35, bowlers),
        ball=rng.normal(0, 0.2, balls),
        ball_pattern=rng.normal(0, ball_pattern_sd, (balls, 3)),
        combination=rng.normal(0, combination_sd, (balls, 3, 5)),
    )


class SimplePlay(Play):
    """The same calendar and habits, with the simple strike."""

    effects: Effects

    def _throw(self, state, who, game, load):  # type: ignore[no-untyped-def]
        world, ball, bowler = self.world, state.ball[who], state.bowler[who]
        pattern = np.full(len(who), world.pattern_class[state.slot.pattern])
        line = (state.arrow[who] / 5).astype(int) - 1
        logit = self.effects.logit(world.ball_class[ball], bowler, ball, pattern, line, np.full(len(who), game))
        entry = m.CENTRE_BOARD + self.rng.normal(size=len(who))
        return entry, np.full(len(who), 5.5), 1 / (1 + np.exp(-(logit + state.effect[who])))

    def _ideal(self, state, game):  # type: ignore[no-untyped-def]
        return np.clip(np.round(super()._ideal(state, game) / 5) * 5, 5, 25)

    def _react(self, state, game):  # type: ignore[no-untyped-def]
        off_line = np.abs(state.arrow / 5 - np.round(state.arrow / 5)) > 1e-9
        state.arrow[off_line] = np.clip(np.round(state.arrow[off_line] / 5) * 5, 5, 25)
        misses = 5 - state.carried.sum(axis=1)
        settled = state.since_change >= 5
        change = np.flatnonzero(settled & (misses >= 4) & (self.rng.random(len(misses)) < 0.55))
        if len(change):
            wanted = self.world.strength[state.ball[change]] + self.rng.normal(0, 0.15, len(change))
            state.ball[change] = self._pick(state, change, wanted, state.ball[change])
            state.since_change[change] = 0
        move = np.flatnonzero((misses >= 3) & (state.since_move >= 4) & (self.rng.random(len(misses)) < 0.35))
        steps = self.rng.choice([-5, 5, 5], len(move))
        state.arrow[move] = np.clip(state.arrow[move] + steps, 5, 25)
        state.since_move[move] = 0


@dataclass(frozen=True)
class SimpleTruth(Truth):
    """Truth of the simple world: the logit itself, no execution to integrate over."""

    effects: Effects

    def _integrate(self, grid: pd.DataFrame, wear: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        world = self.world
        bowler, ball = world.bowler_number(grid["bowler"]), world.ball_number(grid["ball"])
        # A slip of the pen may log a board beyond the arrows played; it stands for the nearest arrow.
        place = pd.Index(tuple(LINE_BOARDS)).get_indexer(pd.Index(grid["line"]))
        line = np.where(place < 0, -1, np.clip(place - 1, 0, len(LINES) - 1))
        if (line < 0).any() or (bowler < 0).any() or (ball < 0).any():
            raise KeyError("the grid names a bowler, a ball or a line that this season does not know")
        pattern = self._lane(grid)["class"]
        game = grid["game"].to_numpy(dtype=float)
        logit = self.effects.logit(world.ball_class[ball], bowler, ball, pattern, line, game)
        nodes, weights = np.polynomial.hermite_e.hermegauss(25)
        mix = (weights / weights.sum()) @ m.leave_probabilities(m.CENTRE_BOARD + nodes)
        return 1 / (1 + np.exp(-logit)), np.tile(mix, (len(grid), 1))

    def wear_loss(self) -> pd.DataFrame:
        """Nothing wears in the simple world."""
        zero = np.zeros(len(self.world.balls))
        return pd.DataFrame(
            {
                "ball": self.world.balls["ball"],
                "logit_per_10_games": zero,
                "pins_per_10_games": zero,
                "arrow_boards_per_10_games": zero,
            }
        )


def simple_season(seed: int, blocks: int = BLOCKS) -> SimulatedSeason:
    """One season of the simple world, with a truth that answers as the rich world's does; every block is posted."""
    rng = np.random.default_rng(seed)
    world: World = make_world(rng)
    slots = [replace(slot, posted=True) for slot in calendar(rng, blocks)]
    play = SimplePlay(world, rng, 1)
    play.effects = draw_effects(rng, len(world.bowlers), len(world.balls))
    played = play.run(slots)
    base = make_truth(world, slots, played)
    truth = SimpleTruth(**{name: getattr(base, name) for name in base.__dataclass_fields__}, effects=play.effects)
    season = assemble(rng, world, slots, played, truth)
    for name, frame in season.frames.items():
        if name.startswith("shots"):
            season.frames[name] = frame.assign(entry_board=np.nan, entry_angle_deg=np.nan)
    return season
