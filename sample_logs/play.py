"""Bowl a season: blocks in order of date, and within a block every club's bowlers side by side as arrays.

The bowlers behave as bowlers do: they move with the lane, and they change balls when the last few shots did not carry.
So a ball's raw average says as much about when it was picked up as about the ball.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from sample_logs import mechanism as m
from sample_logs.world import World

TAIL_SHARE, TAIL_WIDTH = 0.06, 2.5  # share of loose shots, and how many times wider they spread
ANGLE_SD = 0.35
ARROW_SD = 0.6
FOUL_SHARE = 0.0006
PAIRS = 12


@dataclass(frozen=True)
class Slot:
    """One block of the calendar, played by the same places of the roster in every club."""

    number: int
    date: dt.date
    pattern: int
    posted: bool
    games: int
    places: np.ndarray
    moving: bool  # the bowlers move to another pair after each game
    first_pair: int
    event: str


@dataclass
class Played:
    """All deliveries, and the care given to balls on the way."""

    deliveries: pd.DataFrame
    maintenance: pd.DataFrame
    wear_now: np.ndarray  # games since the last resurfacing, by ball, at the season's end


@dataclass
class _Block:
    """State of one block while it is played; every array has one entry a unit (a bowler of a club)."""

    slot: Slot
    club: np.ndarray
    bowler: np.ndarray
    effect: np.ndarray
    pair: np.ndarray
    ball: np.ndarray
    arrow: np.ndarray
    carried: np.ndarray  # last five first deliveries, 1 where a strike
    off: np.ndarray  # last three entry boards, less the pocket's centre
    since_change: np.ndarray
    since_move: np.ndarray


@dataclass
class Play:
    """The simulator. ``run`` may be called once."""

    world: World
    rng: np.random.Generator
    clubs: int
    wear: np.ndarray = field(init=False)
    load: np.ndarray = field(init=False)
    _arsenal: np.ndarray = field(init=False)
    _rows: dict[str, list[np.ndarray]] = field(init=False, default_factory=dict)
    _care: list[tuple[dt.date, int, str]] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        world = self.world
        self.wear = np.where(world.ball_class == 0, 0.0, world.balls["games_before"].to_numpy(dtype=float))
        self._due = self.rng.uniform(22, 50, len(self.wear))
        most = int(np.bincount(world.owner).max())
        self._arsenal = np.full((len(world.bowlers), most), -1)
        for owner in range(len(world.bowlers)):
            mine = np.flatnonzero(world.owner == owner)
            self._arsenal[owner, : len(mine)] = mine

    def run(self, slots: list[Slot]) -> Played:
        """Play every block in order."""
        for slot in slots:
            self._block(slot)
            self._look_after_balls(slot)
        columns = {name: np.concatenate(parts) for name, parts in self._rows.items()}
        care = pd.DataFrame(self._care, columns=["date", "ball", "action"])
        return Played(pd.DataFrame(columns), care, self.wear.copy())

    # ---- one block

    def _block(self, slot: Slot) -> None:
        world, places = self.world, slot.places
        club = np.repeat(np.arange(self.clubs), len(places))
        bowler = club * (len(world.bowlers) // self.clubs) + np.tile(places, self.clubs)
        units = len(bowler)
        second_pair = np.tile((np.arange(len(places)) >= 3).astype(int), self.clubs)
        state = _Block(
            slot=slot,
            club=club,
            bowler=bowler,
            effect=self.rng.normal(0, world.block_sd, units),
            pair=(slot.first_pair + second_pair) % PAIRS,
            ball=np.zeros(units, dtype=int),
            arrow=np.zeros(units),
            carried=np.ones((units, 5)),
            off=np.zeros((units, 3)),
            since_change=np.zeros(units, dtype=int),
            since_move=np.zeros(units, dtype=int),
        )
        self.load = np.zeros((self.clubs, PAIRS))
        wanted = 0.55 + 0.03 * (world.volume[slot.pattern] - 24) - 0.10 * (world.revs[bowler] - 380) / 130
        state.ball = self._pick(state, np.arange(units), wanted, np.full(units, -1))
        state.arrow = np.clip(np.round(self._ideal(state, 1) + self.rng.normal(0, 2.0, units)), 4, 29)
        for game in range(1, slot.games + 1):
            for frame in range(1, 11):
                self._frame(state, game, frame)
            if slot.moving:
                state.pair = (state.pair + 2) % PAIRS

    def _ideal(self, state: _Block, game: int) -> np.ndarray:
        world, pattern = self.world, state.slot.pattern
        strength = self._strength(state.ball)
        load = self.load[state.club, state.pair]
        return m.ideal_arrow(world, state.bowler, strength, world.length[pattern], world.volume[pattern], game, load)

    def _strength(self, ball: np.ndarray) -> np.ndarray:
        return self.world.strength[ball] - self.world.hook_wear[ball] * self.wear[ball]

    def _pick(self, state: _Block, who: np.ndarray, wanted: np.ndarray, not_this: np.ndarray) -> np.ndarray:
        """The ball nearest the wanted strength, by a bowler who half knows what suits the pattern."""
        world = self.world
        mine = self._arsenal[state.bowler[who]]
        kind = world.ball_class[mine]
        fit = -4 * np.abs(world.strength[mine] - wanted[:, None])
        fit += m.CARRY[kind, world.pattern_class[state.slot.pattern]] + self.rng.gumbel(0, 0.4, mine.shape)
        fit[(mine < 0) | (kind == 0) | (mine == not_this[:, None])] = -np.inf
        return mine[np.arange(len(who)), np.argmax(fit, axis=1)]

    # ---- one frame

    def _frame(self, state: _Block, game: int, frame: int) -> None:
        everyone = np.arange(len(state.bowler))
        load = self.load[state.club, state.pair].copy()
        down, fouled = self._deliver(state, everyone, np.full(len(everyone), m.FULL), game, frame, 1, load)
        strike = (down == 0) & ~fouled
        if frame < 10:
            self._deliver(state, everyone[~strike], down[~strike], game, frame, 2, load)
        else:
            self._fill(state, down, strike, game, load)
        self._react(state, game)

    def _fill(self, state: _Block, down: np.ndarray, strike: np.ndarray, game: int, load: np.ndarray) -> None:
        everyone = np.arange(len(down))
        facing = np.where(strike, m.FULL, down)
        left, fouled = self._deliver(state, everyone, facing, game, 10, 2, load)
        cleared = (left == 0) & ~fouled
        third = strike | cleared
        last = np.where(cleared, m.FULL, left)
        self._deliver(state, everyone[third], last[third], game, 10, 3, load)

    def _deliver(
        self,
        state: _Block,
        who: np.ndarray,
        facing: np.ndarray,
        game: int,
        frame: int,
        delivery: int,
        load: np.ndarray,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Throw one delivery each; returns pins standing after it by the rules, and whether it was a foul."""
        count = len(who)
        full = facing == m.FULL
        ball = np.where(full, state.ball[who], self._arsenal[state.bowler[who], 0])
        entry, angle, chance = np.full(count, np.nan), np.full(count, np.nan), np.full(count, np.nan)
        left = np.zeros(count, dtype=int)
        if full.any():
            entry[full], angle[full], chance[full] = self._throw(state, who[full], game, load)
            struck = self.rng.random(int(full.sum())) < chance[full]
            left[full] = np.where(struck, 0, m.draw_leave(self.rng, entry[full]))
        rest = ~full
        if rest.any():
            chance[rest] = m.spare_probability(self.world, state.bowler[who[rest]], facing[rest])
            made = self.rng.random(int(rest.sum())) < chance[rest]
            left[rest] = np.where(made, 0, m.draw_miss(self.rng, facing[rest]))
        fouled = self.rng.random(count) < FOUL_SHARE
        after = np.where(fouled, facing, left)
        np.add.at(self.load, (state.club[who], state.pair[who]), 1)
        np.add.at(self.wear, ball[full], 0.1)
        first = full & ~fouled
        self._remember(state, who[first], after[first] == 0, entry[first])
        self._record(
            state,
            who,
            {
                "game": np.full(count, game),
                "frame": np.full(count, frame),
                "delivery": np.full(count, delivery),
                "lane": 2 * state.pair[who] + 1 + (frame + who) % 2,
                "ball": ball,
                "load": load[who],
                "wear": self.wear[ball],
                "arrow": np.where(full, state.arrow[who], np.nan),
                "entry": entry,
                "angle": angle,
                "chance": chance,
                "facing": facing,
                "left": left,
                "foul": fouled,
            },
        )
        return after, fouled

    def _throw(
        self, state: _Block, who: np.ndarray, game: int, load: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Entry board, entry angle and the chance of a strike for a ball at a full rack."""
        world, pattern = self.world, state.slot.pattern
        bowler, ball, arrow = state.bowler[who], state.ball[who], state.arrow[who]
        strength = self._strength(ball)
        ideal = m.ideal_arrow(world, bowler, strength, world.length[pattern], world.volume[pattern], game, load[who])
        spread = m.entry_spread(world, bowler, world.ratio[pattern])
        spread *= np.where(self.rng.random(len(who)) < TAIL_SHARE, TAIL_WIDTH, 1.0)
        entry = m.entry_mean(world, bowler, arrow, ideal) + spread * self.rng.normal(size=len(who))
        entry = np.clip(entry, 5, 35)
        angle = m.entry_angle(world, bowler, strength, arrow) + ANGLE_SD * self.rng.normal(size=len(who))
        kind = world.pattern_class[pattern]
        logit = m.strike_logit(world, bowler, ball, kind, game, self.wear[ball], angle, entry) + state.effect[who]
        return entry, angle, 1 / (1 + np.exp(-logit))

    def _remember(self, state: _Block, who: np.ndarray, struck: np.ndarray, entry: np.ndarray) -> None:
        state.carried[who] = np.column_stack([state.carried[who, 1:], struck])
        state.off[who] = np.column_stack([state.off[who, 1:], entry - m.CENTRE_BOARD])
        state.since_change[who] += 1
        state.since_move[who] += 1

    def _record(self, state: _Block, who: np.ndarray, columns: dict[str, np.ndarray]) -> None:
        whose = {
            "slot": np.full(len(who), state.slot.number),
            "club": state.club[who],
            "bowler": state.bowler[who],
            "pair": state.pair[who],
        }
        for name, column in (whose | columns).items():
            self._rows.setdefault(name, []).append(column)

    # ---- what bowlers do about it

    def _react(self, state: _Block, game: int) -> None:
        """Change balls when the last shots did not carry; else move the line with the lane."""
        off = state.off.mean(axis=1)
        tired = (state.carried.sum(axis=1) <= 1) & (state.since_change >= 5)
        change = np.flatnonzero(tired & (self.rng.random(len(off)) < 0.55))
        if len(change):
            before = self._ideal(state, game)
            step = np.where(off[change] > 0.4, -0.15, np.where(off[change] < -0.4, 0.15, 0.0))
            wanted = self.world.strength[state.ball[change]] + step
            state.ball[change] = self._pick(state, change, wanted, state.ball[change])
            shift = 0.8 * (self._ideal(state, game) - before)[change] + self.rng.normal(0, 1.0, len(change))
            state.arrow[change] = np.clip(np.round(state.arrow[change] + shift), 4, 29)
            state.since_change[change] = 0
            state.since_move[change] = 0
            state.off[change] = 0
        move = np.flatnonzero((np.abs(off) > 0.8) & (state.since_move >= 3))
        boards = np.clip(np.round(off[move] / 0.32 * 0.5), -3, 3)
        state.arrow[move] = np.clip(state.arrow[move] + boards, 4, 29)
        state.since_move[move] = 0

    def _look_after_balls(self, slot: Slot) -> None:
        due = np.flatnonzero((self.wear > self._due) & (self.world.ball_class > 0))
        for ball in due[self.rng.random(len(due)) < 0.7]:
            day = slot.date + dt.timedelta(days=int(self.rng.integers(1, 3)))
            self._care.append((day, int(ball), "resurface"))
            self.wear[ball] = 0.0
            self._due[ball] = self.rng.uniform(22, 50)
        here = np.unique(np.concatenate([np.asarray(self._arsenal[self._of(slot)]).ravel(), [-1]]))
        here = here[here >= 0]
        for ball in here[self.rng.random(len(here)) < 0.05]:
            self._care.append((slot.date, int(ball), "clean"))

    def _of(self, slot: Slot) -> np.ndarray:
        size = len(self.world.bowlers) // self.clubs
        return (np.arange(self.clubs)[:, None] * size + slot.places).ravel()
