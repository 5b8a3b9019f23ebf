"""A second world, drawn from what the models believe beforehand, to tell a wrong method from a wrong belief.

Intervals of a Bayesian fit cover as they say, on average, where truths are drawn from its priors; so a shortfall here
is a mistake of the method (Cook, Gelman & Rubin, J. Comput. Graph. Stat. 15, 2006, from memory). The strike is
logistic in effects of ball class, strength, pattern, line, game, oil, load, bowler, block, ball, their combinations
and wear; all are drawn anew each season with the sds of the priors, and sds of bowler, block and ball that a club may
have. Balls age as the ageing model believes: each by its own wear, with a level for each stretch between
resurfacings. Spares are beta-binomial. Two things are not as believed: of a ball's age the worth model sees the usual
wear alone, and how far a line lies from the usual one does nothing. The entry board is not logged. Bowlers change
balls when the last shots did not strike, as they do in the other world, so raw averages stay confounded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.interpolate import CubicSpline
from scipy.special import expit, logit

from pipeline.inference.mixed_logit.design import Numeric
from pipeline.models.balls import ball_wear
from pipeline.models.balls.ball_strength import ball_strength
from pipeline.models.lines.entry_slope import PRIOR
from pipeline.models.spares import spare_pooling
from pipeline.models.strikes import strike_worth
from pipeline.sport.classes import BALL_CLASSES
from pipeline.sport.leaves import leave_type
from sample_logs import mechanism as m
from sample_logs.generate import BLOCKS, SimulatedSeason, assemble, calendar
from sample_logs.play import Play
from sample_logs.truth import LINE_BOARDS, Truth, make_truth
from sample_logs.world import World, make_world

LINES = tuple(LINE_BOARDS)[1:6]
_KINDS, _CLASSES, _PATTERNS = 8, 3, 7
# Means and sds of the calendar's games, loads and oil, by which the priors' standard columns are undone.
_GAME, _LOAD, _LENGTH, _VOLUME, _RATIO = (3.3, 1.8), (74.0, 72.0), (40.0, 4.3), (24.6, 3.6), (4.9, 2.4)
_BEND = CubicSpline([1, 3, 8], [1.2, -0.9, 3.8], bc_type="natural")  # about the bend the worth model learns there
_BOWLER_SD, _BALL_SD = 0.35, 0.2


@dataclass(frozen=True)
class Ages:
    """What a ball has behind it beside its wear; each (balls,): games since any care, games in all, and the level, in
    logits, of the surface as it was last resurfaced."""

    care: np.ndarray
    total: np.ndarray
    surface: np.ndarray

    def after(self, games: float) -> Ages:
        """The same after so many games more."""
        return replace(self, care=self.care + games, total=self.total + games)

    def cared_for(self) -> Ages:
        """The same just cleaned."""
        return replace(self, care=np.zeros_like(self.care))

    def resurfaced(self) -> Ages:
        """The same just resurfaced, to the level a resurfacing brings on average."""
        return replace(self.cared_for(), surface=np.zeros_like(self.surface))

    def new(self) -> Ages:
        """New balls."""
        return replace(self.resurfaced(), total=np.zeros_like(self.total))


@dataclass(frozen=True)
class Effects:
    """Effects on the logit. Axes are numbers of ball class, pattern class, pattern, line, bowler, ball."""

    level: float
    kind: np.ndarray
    kind_class: np.ndarray
    pattern_class: np.ndarray
    line: np.ndarray
    line_class: np.ndarray
    game: float
    bend: float
    kind_game: np.ndarray
    ball_game: np.ndarray
    line_game: np.ndarray
    class_game: np.ndarray
    load: float
    oil: np.ndarray  # length, volume, ratio
    line_length: np.ndarray
    strengths: np.ndarray  # of each ball, in sds over the balls that are not spare balls
    strength: float
    strength_bend: float
    grip: np.ndarray  # of one sd more strength, by one sd more length, one of volume, and of games
    bowler: np.ndarray
    bowler_class: np.ndarray
    bowler_line: np.ndarray
    pattern: np.ndarray
    pattern_line: np.ndarray
    pattern_ball: np.ndarray
    ball: np.ndarray
    ball_class: np.ndarray  # ball, pattern class (a ball has one bowler)
    wear: np.ndarray  # by ball, per game since the last resurfacing
    usual_wear: float
    care: float  # per game since any care
    total: float  # per game in all
    surface_sd: float

    def ageing(self, ball: np.ndarray, wear: np.ndarray, ages: Ages) -> np.ndarray:
        """What the age of a ball does to the log odds; ``wear`` in games since its last resurfacing."""
        rest = self.care * ages.care + self.total * ages.total + ages.surface
        result: np.ndarray = self.wear[ball] * wear + rest[ball]
        return result

    def logit(
        self,
        world: World,
        bowler: np.ndarray,
        ball: np.ndarray,
        pattern: np.ndarray,
        line: np.ndarray,
        game: np.ndarray,
        load: np.ndarray,
    ) -> np.ndarray:
        """Log odds of a strike with a new ball, block effect 0; numbers of the world, ``line`` one of ``LINES``."""
        kind, sort = world.ball_class[ball], world.pattern_class[pattern]
        length = _standard(world.length[pattern], _LENGTH)
        oil = np.stack([length, _standard(world.volume[pattern], _VOLUME), _standard(world.ratio[pattern], _RATIO)])
        late = _standard(game, _GAME)
        fixed = self.level + self.kind[kind] + self.pattern_class[sort] + self.line[line] + self.oil @ oil
        fixed += self.kind_class[kind, sort] + self.line_class[line, sort] + self.line_length[line] * length
        fixed += late * (self.game + self.kind_game[kind] + self.line_game[line] + self.class_game[sort])
        fixed += late * self.ball_game[ball]
        length_volume_late = np.stack(np.broadcast_arrays(*oil[:2], late))
        strength = self.strengths[ball]
        fixed += strength * (self.strength + np.tensordot(self.grip, length_volume_late, 1))
        fixed += self.strength_bend * (np.minimum(strength**2, 2.5**2) - 1)
        fixed += self.bend * _BEND(game) + self.load * _standard(load, _LOAD)
        own = self.bowler[bowler] + self.bowler_class[bowler, sort] + self.bowler_line[bowler, line]
        own += self.ball[ball] + self.ball_class[ball, sort]
        own += self.pattern[pattern] + self.pattern_line[pattern, line] + self.pattern_ball[pattern, ball]
        result: np.ndarray = fixed + own
        return result


def _standard(value: np.ndarray, usual: tuple[float, float]) -> np.ndarray:
    return (np.asarray(value, dtype=float) - usual[0]) / usual[1]


def strengths(world: World) -> np.ndarray:
    """Strength of every ball as its numbers say it, which is all that is known where no entry board is logged."""
    balls = world.balls
    listed = balls.assign(
        ball_class=np.array(BALL_CLASSES)[world.ball_class], grit_doublings=np.log2(balls["surface_grit"])
    )
    no_cells = pd.DataFrame({"entries": [], "arrow_board": [], "ball": []})
    of_ball = ball_strength(no_cells, listed, PRIOR).of_ball
    values = np.array([of_ball[ball] for ball in balls["ball"]])
    strike = ~balls["spare_ball"].to_numpy(dtype=bool)
    return _standard(values, (values[strike].mean(), values[strike].std()))


def _prior_sds() -> dict[str, float]:
    """Prior sd of each kind of fixed effect by name, in logits, before the multiplier they share."""
    return {part.column if isinstance(part, Numeric) else part.name: part.sd for part in strike_worth.SHARED_EFFECTS}


def draw_effects(rng: np.random.Generator, world: World) -> Effects:
    """Draw every effect anew. A spare ball does not wear."""
    bowlers, balls, kind = len(world.bowlers), len(world.balls), world.ball_class
    scale = np.exp(rng.normal(np.log(strike_worth.SCALE_MULTIPLIER.median), strike_worth.SCALE_MULTIPLIER.log_sd))
    sds = {name: sd * scale for name, sd in _prior_sds().items()}
    spread = {group.name: group.sd_scale * abs(rng.standard_t(4)) for group in strike_worth.GROUPS}

    def fixed(name: str, *shape: int) -> np.ndarray:
        return rng.normal(0, sds[name], shape)

    def own(name: str, *shape: int) -> np.ndarray:
        return rng.normal(0, spread[name], shape)

    usual_wear = rng.normal(0, ball_wear.WEAR_SD) / 10
    wear = usual_wear + rng.normal(0, ball_wear.WEAR_SPREAD * abs(rng.standard_t(4)), balls) / 10
    return Effects(
        level=float(rng.normal(-0.3, 0.2)),
        kind=fixed("ball_class", _KINDS),
        kind_class=own("ball_class:pattern_class", _KINDS, _CLASSES),
        pattern_class=fixed("pattern_class", _CLASSES),
        line=fixed("line", len(LINES)),
        line_class=fixed("line:pattern_class", len(LINES), _CLASSES),
        game=float(fixed("game_1")),
        bend=float(fixed("game_2")),
        kind_game=own("ball_class:game_1", _KINDS),
        ball_game=own("ball:game_1", balls),
        line_game=fixed("line:game_1", len(LINES)),
        class_game=fixed("pattern_class:game_1", _CLASSES),
        load=float(fixed("load_z")),
        oil=np.array([float(fixed(f"{column}_z")) for column in ("length_ft", "volume_ml", "ratio")]),
        line_length=fixed("line:length_ft_z", len(LINES)),
        strengths=strengths(world),
        strength=float(fixed("strength")),
        strength_bend=float(fixed("strength_bend")),
        grip=rng.normal(0, [part.sd for part in strike_worth.GRIP]),
        bowler=rng.normal(0, _BOWLER_SD, bowlers),
        bowler_class=own("bowler:pattern_class", bowlers, _CLASSES),
        bowler_line=own("bowler:line", bowlers, len(LINES)),
        pattern=own("pattern", _PATTERNS),
        pattern_line=own("pattern:line", _PATTERNS, len(LINES)),
        pattern_ball=own("pattern:ball", _PATTERNS, balls),
        ball=rng.normal(0, _BALL_SD, balls),
        ball_class=own("bowler:pattern_class:ball", balls, _CLASSES),
        wear=np.where(kind == 0, 0.0, wear),
        usual_wear=float(usual_wear),
        care=float(rng.normal(0, ball_wear.CARE_SD)) / 10,
        total=float(rng.normal(0, ball_wear.TOTAL_SD)) / 10,
        surface_sd=float(ball_wear.SURFACE_SPREAD * abs(rng.standard_t(4))),
    )


def draw_spares(rng: np.random.Generator, world: World) -> World:
    """The world with every bowler's rate on every leave drawn as the conversion model takes it beforehand."""
    sd_single, sd_several, sd_bowler, phi = np.exp(rng.normal(spare_pooling.HYPER_CENTRE, spare_pooling.HYPER_WIDTH))
    kinds = [leave_type(int(mask)) for mask in m.LEAVE_MASKS]
    types = dict(zip(sorted(set(kinds)), rng.normal(spare_pooling.TYPE_CENTRE, 1.0, len(kinds)), strict=False))
    single = m.LEAVE_PINS == 1
    leave = np.array([types[kind] for kind in kinds]) + rng.normal(0, np.where(single, sd_single, sd_several))
    r = spare_pooling.KIND_CORRELATION
    ability = sd_bowler * rng.multivariate_normal([0, 0], [[1, r], [r, 1]], len(world.bowlers))
    mean = np.clip(expit(leave + ability[:, np.where(single, 0, 1)]), 1e-6, 1 - 1e-6)
    rate = np.clip(rng.beta(phi * mean, phi * (1 - mean)), 1e-9, 1 - 1e-9)
    return replace(world, spare_own=logit(rate) - world.spare_skill[:, None] - m.LEAVE_EASE)


class DrawnPlay(Play):
    """The same calendar and habits, with the drawn strike; ``start`` before it is run."""

    effects: Effects
    ages: Ages
    _sums: np.ndarray  # (balls, 4): deliveries, and over them the sums of the ages

    def start(self, effects: Effects) -> None:
        """Take the effects, and the balls as they are at the season's start."""
        before = self.world.balls["games_before"].to_numpy(dtype=float)
        self.effects = effects
        self.ages = Ages(before.copy(), before.copy(), self.rng.normal(0, effects.surface_sd, len(before)))
        self._sums = np.zeros((len(before), 4))

    def mean_ages(self) -> Ages:
        """Ages of every ball on average over its deliveries; as they are now where it was not thrown."""
        count = self._sums[:, 0]
        now = (self.ages.care, self.ages.total, self.ages.surface)
        return Ages(*(np.where(count > 0, self._sums[:, k + 1] / np.maximum(count, 1), now[k]) for k in range(3)))

    def _throw(self, state, who, game, load):  # type: ignore[no-untyped-def]
        ball, bowler = state.ball[who], state.bowler[who]
        line = (state.arrow[who] / 5).astype(int) - 1
        pattern, games = np.full(len(who), state.slot.pattern), np.full(len(who), game)
        mean = self.effects.logit(self.world, bowler, ball, pattern, line, games, load[who])
        mean += self.effects.ageing(ball, self.wear[ball], self.ages)
        ages = (self.ages.care, self.ages.total, self.ages.surface)
        np.add.at(self._sums, ball, np.column_stack([np.ones(len(ball)), *(age[ball] for age in ages)]))
        for age in ages[:2]:
            np.add.at(age, ball, 0.1)
        entry = m.CENTRE_BOARD + self.rng.normal(size=len(who))
        return entry, np.full(len(who), 5.5), expit(mean + state.effect[who])

    def _look_after_balls(self, slot):  # type: ignore[no-untyped-def]
        before = len(self._care)
        super()._look_after_balls(slot)
        for _, ball, action in self._care[before:]:
            self.ages.care[ball] = 0.0
            if action == "resurface":
                self.ages.surface[ball] = self.rng.normal(0, self.effects.surface_sd)

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
class DrawnTruth(Truth):
    """Truth of the drawn world: the logit itself, no execution to integrate over.

    ``mean_ages`` goes with ``mean_wear``, ``ages_now`` with ``wear_now``.
    """

    effects: Effects
    mean_ages: Ages
    ages_now: Ages

    def _on_one_pattern(self, grid: pd.DataFrame, worn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        world = self.world
        bowler, ball = world.bowler_number(grid["bowler"]), world.ball_number(grid["ball"])
        # A slip of the pen may log a board beyond the arrows played; it stands for the nearest arrow.
        place = pd.Index(tuple(LINE_BOARDS)).get_indexer(pd.Index(grid["line"]))
        line = np.where(place < 0, -1, np.clip(place - 1, 0, len(LINES) - 1))
        if (line < 0).any() or (bowler < 0).any() or (ball < 0).any():
            raise KeyError("the grid names a bowler, a ball or a line that this season does not know")
        lane = self._lane(grid)
        pattern = np.abs(lane["length"][:, None] - world.length).argmin(axis=1)  # no two are of one length
        game = grid["game"].to_numpy(dtype=float)
        mean = self.effects.logit(world, bowler, ball, pattern, line, game, lane["load"])
        mean += self.effects.ageing(ball, worn, self.mean_ages)
        nodes, weights = np.polynomial.hermite_e.hermegauss(25)
        mix = (weights / weights.sum()) @ m.leave_probabilities(m.CENTRE_BOARD + nodes)
        return expit(mean), np.tile(mix, (len(grid), 1))


def drawn_season(seed: int, blocks: int = BLOCKS) -> SimulatedSeason:
    """One season of the drawn world, with a truth that answers as the rich world's does; every block is posted."""
    rng = np.random.default_rng(seed)
    world = draw_spares(rng, make_world(rng))
    slots = [replace(slot, posted=True) for slot in calendar(rng, blocks)]
    play = DrawnPlay(world, rng, 1)
    play.start(draw_effects(rng, world))
    played = play.run(slots)
    base = make_truth(world, slots, played)
    known = {name: getattr(base, name) for name in base.__dataclass_fields__}
    truth = DrawnTruth(**known, effects=play.effects, mean_ages=play.mean_ages(), ages_now=play.ages)
    season = assemble(rng, world, slots, played, truth)
    for name, frame in season.frames.items():
        if name.startswith("shots"):
            season.frames[name] = frame.assign(entry_board=np.nan, entry_angle_deg=np.nan)
    return season
