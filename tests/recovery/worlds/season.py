"""Bowl a season in any world: once as it is logged, and many times more on other nights, for the truth by simulation.

All replicas are bowled side by side as arrays: replica 0 is the season that is logged; the others are the same club
with
the same bags and habits on nights drawn anew. They give each bowler's own throwing its true worth, and a bank of lanes,
worn as this club wears them, on which any other choice is valued with common random numbers (``truth.py``).

Bowlers behave as bowlers do: they start where they believe the ball is to be played and learn it from night to night,
move with what they see, copy a mate on the same pair who strikes more, change balls when shots stop carrying, and take
to the balls that struck for them. So where and what they throw answers what nobody logs.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from sample_logs import mechanism as m
from sample_logs.logbook import racks_frame
from tests.recovery.worlds.club import PAIRS, Club, Slot
from tests.recovery.worlds.habits import Habits
from tests.recovery.worlds.logs import written_frames
from tests.recovery.worlds.mechanism import LOOSE_SHARE, LOOSE_WIDTH, Mechanism, Misses, Shot, execution, mean_score
from tests.recovery.worlds.seen import Seen
from tests.recovery.worlds.truth import Bank, WorldTruth

REPLICAS = 24
BLOCK_SD = 0.12  # logits: form of a bowler on a night
ANGLE_SD = 0.35


@dataclass(frozen=True)
class WorldSeason:
    """``frames`` and ``racks`` as a simulated season of ``sample_logs`` has them; ``truth`` what was not logged."""

    frames: dict[str, pd.DataFrame]
    racks: pd.DataFrame
    truth: WorldTruth

    @property
    def shots(self) -> pd.DataFrame:
        """All logged deliveries."""
        return self.frames["shots"]


@dataclass(frozen=True)
class Upkeep:
    """When surfaces are set again: games between ``due``, and to what.

    ``grits``, ascending: to the ball's own or one of these beside it; None: to its own alone.
    """

    due: tuple[float, float] = (25.0, 55.0)
    grits: tuple[int, ...] | None = None


@dataclass
class Night:
    """One block in every replica; arrays (replicas, bowlers) unless said otherwise."""

    slot: Slot
    states: np.ndarray  # (replicas, pairs, 2, ...)
    form: np.ndarray
    pair: np.ndarray
    ball: np.ndarray
    arrow: np.ndarray
    carried: np.ndarray  # (replicas, bowlers, 5) last first balls, 1 where a strike
    off: np.ndarray  # (replicas, bowlers, 3) boards from the pocket's centre, as seen
    since_change: np.ndarray
    since_move: np.ndarray


@dataclass
class Play:
    """The simulator; ``run`` may be called once."""

    club: Club
    lane: Mechanism
    rng: np.random.Generator
    replicas: int = REPLICAS
    upkeep: Upkeep = Upkeep()
    rows: dict[str, list[np.ndarray]] = field(default_factory=dict)
    care: list[tuple[object, int, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        club = self.club
        self.wear = np.tile(club.balls["games_before"].to_numpy(dtype=float), (self.replicas, 1))
        self.grit = np.tile(club.grit, (self.replicas, 1))
        self._due = self.rng.uniform(*self.upkeep.due, self.wear.shape)
        self.habits = Habits(club, self.lane, self.rng, self.replicas)
        self.misses = Misses(club.spare_chance)
        self.bank = Bank()
        self.seen = Seen(len(club.owner), len(club.length))
        self.own: list[pd.DataFrame] = []
        self.logged: list[pd.DataFrame] = []
        self._thrown = np.zeros((len(club.owner), 3))

    def run(self) -> None:
        """Bowl every block in order of date."""
        for slot in self.club.slots:
            self._block(slot)
            self._look_after(slot)

    @property
    def mean_wear(self) -> np.ndarray:
        """Games on each ball's surface, over its logged first deliveries."""
        count, total, _ = self._thrown.T
        return np.where(count > 0, total / np.maximum(count, 1), self.wear[0])

    @property
    def mean_grit(self) -> np.ndarray:
        """Grit of each ball's surface over its logged first deliveries, the mean in doublings."""
        count, _, total = self._thrown.T
        return np.where(count > 0, 2.0 ** (total / np.maximum(count, 1)), self.grit[0])

    def _block(self, slot: Slot) -> None:
        shape = (self.replicas, len(slot.bowlers))
        ball, arrow = self.habits.start(slot, self.wear)
        night = Night(
            slot=slot,
            states=self.lane.nights(self.rng, slot.pattern, self.replicas, PAIRS),
            form=self.rng.normal(0, BLOCK_SD, shape),
            pair=np.tile(slot.pair, (self.replicas, 1)),
            ball=ball,
            arrow=arrow,
            carried=np.ones((*shape, 5)),
            off=np.zeros((*shape, 3)),
            since_change=np.zeros(shape, dtype=int),
            since_move=np.zeros(shape, dtype=int),
        )
        for game in range(1, slot.games + 1):
            for frame in range(1, 11):
                if frame == 6:
                    self.bank.keep(slot, game, night.states)
                    self._keep_own(night, game)
                self._frame(night, game, frame)
            self.habits.after_game(night, game)
            if slot.moving:
                night.pair = (night.pair + 1) % PAIRS

    def _frame(self, night: Night, game: int, frame: int) -> None:
        self._keep_logged(night, game, frame)
        self._keep_seen(night, game)
        shape = night.ball.shape
        everyone = np.ones(shape, dtype=bool)
        left = self._deliver(night, everyone, np.full(shape, m.FULL), game, frame, 1)
        strike = left == 0
        if frame < 10:
            self._deliver(night, ~strike, left, game, frame, 2)
        else:
            second = self._deliver(night, everyone, np.where(strike, m.FULL, left), game, 10, 2)
            cleared = second == 0
            self._deliver(night, strike | cleared, np.where(cleared, m.FULL, second), game, 10, 3)
        self.habits.react(night, self.wear)

    def shot(self, night: Night, replica: np.ndarray, place: np.ndarray) -> tuple[np.ndarray, Shot]:
        """Index into the flat states, and the shot aimed, of these units."""
        bowler = night.slot.bowlers[place]
        ball = night.ball[replica, place]
        side = self.club.side[bowler]
        at = (replica * PAIRS + night.pair[replica, place]) * 2 + side
        pattern = np.full(len(place), night.slot.pattern)
        wear, grit = self.wear[replica, ball], self.grit[replica, ball]
        return at, Shot(pattern, bowler, ball, wear, night.arrow[replica, place], grit)

    def _deliver(
        self, night: Night, who: np.ndarray, facing: np.ndarray, game: int, frame: int, delivery: int
    ) -> np.ndarray:
        """Throw one delivery of each unit in ``who``; returns pins standing after it (replicas, bowlers)."""
        result = facing.copy()
        first = who & (facing == m.FULL)
        spare = who & ~first
        entry, angle = np.full(who.shape, np.nan), np.full(who.shape, np.nan)
        arrow = np.full(who.shape, np.nan)
        if first.any():
            result[first], entry[first], angle[first], arrow[first] = self._throw(night, first)
        if spare.any():
            bowler = np.broadcast_to(night.slot.bowlers, who.shape)[spare]
            made = self.rng.random(int(spare.sum())) < self.club.spare_chance[bowler, facing[spare]]
            result[spare] = np.where(made, 0, m.draw_miss(self.rng, facing[spare]))
        self._record(night, who[0], facing[0], result[0], entry[0], angle[0], arrow[0], (game, frame, delivery))
        return result

    def _throw(self, night: Night, first: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        replica, place = np.nonzero(first)
        at, aimed = self.shot(night, replica, place)
        club, rng, count = self.club, self.rng, len(place)
        arrow = np.clip(aimed.arrow + club.aim_sd[aimed.bowler] * rng.normal(size=count), 1, 35)
        shot = replace(aimed, arrow=arrow)
        flat = night.states.reshape(-1, *night.states.shape[3:])
        state = flat[at]
        entry, angle = self.lane.arrive(state, shot)
        width = np.where(rng.random(count) < LOOSE_SHARE, LOOSE_WIDTH, 1.0)
        entry = np.clip(entry + width * club.entry_sd[shot.bowler] * rng.normal(size=count), 2, 37)
        logit = self.lane.strike_logit(state, shot, entry, angle) + night.form[first]
        struck = rng.random(count) < 1 / (1 + np.exp(-logit))
        left = np.where(struck, 0, m.draw_leave(rng, entry))
        self.lane.wear_lane(rng, flat, at, shot)
        self.wear[replica, shot.ball] += 1 / 12
        logged = replica == 0
        doublings = np.log2(self.grit[0, shot.ball[logged]])
        thrown = np.column_stack([np.ones(logged.sum()), shot.wear[logged], doublings])
        np.add.at(self._thrown, shot.ball[logged], thrown)
        self._remember(night, first, struck, entry)
        return left, entry, angle + ANGLE_SD * rng.normal(size=count), arrow

    def _remember(self, night: Night, first: np.ndarray, struck: np.ndarray, entry: np.ndarray) -> None:
        seen = entry - m.CENTRE_BOARD + self.rng.normal(0, 0.5, len(entry))
        night.carried[first] = np.column_stack([night.carried[first][:, 1:], struck])
        night.off[first] = np.column_stack([night.off[first][:, 1:], seen])
        night.since_change[first] += 1
        night.since_move[first] += 1

    def _record(
        self,
        night: Night,
        who: np.ndarray,
        facing: np.ndarray,
        left: np.ndarray,
        entry: np.ndarray,
        angle: np.ndarray,
        arrow: np.ndarray,
        when: tuple[int, int, int],
    ) -> None:
        at = np.flatnonzero(who)
        bowler = night.slot.bowlers[at]
        full = facing[at] == m.FULL
        columns = {
            "slot": np.full(len(at), night.slot.number),
            "bowler": bowler,
            "game": np.full(len(at), when[0]),
            "frame": np.full(len(at), when[1]),
            "delivery": np.full(len(at), when[2]),
            "lane": 2 * night.pair[0, at] + 1 + (when[1] + at) % 2,
            "ball": np.where(full, night.ball[0, at], self.club.spare_ball[bowler]),
            "aimed": np.where(full, night.arrow[0, at], np.nan),
            "arrow": arrow[at],
            "entry": entry[at],
            "angle": angle[at],
            "facing": facing[at],
            "left": left[at],
        }
        for name, values in columns.items():
            self.rows.setdefault(name, []).append(values)

    def _keep_own(self, night: Night, game: int) -> None:
        """True chances, over execution, of what everybody is about to throw half way through a game."""
        replica, place = (index.ravel() for index in np.indices(night.ball.shape))
        at, shot = self.shot(night, replica, place)
        state = night.states.reshape(-1, *night.states.shape[3:])[at]
        strike, missed = integrated(self.club, self.lane, self.misses, state, shot)
        kind = self.club.pattern_class[night.slot.pattern]
        own = {"replica": replica, "bowler": shot.bowler, "class": kind, "game": game, "pattern": night.slot.pattern}
        own |= {"ball": shot.ball, "arrow": shot.arrow, "strike": strike, "score": mean_score(strike, missed)}
        self.own.append(pd.DataFrame(own))

    def _keep_seen(self, night: Night, game: int) -> None:
        """What would be seen of everybody's shots in a frame of all replicas.

        A log holds first frames, in which nobody knows the lane yet, as well as later ones.
        """
        replica, place = (index.ravel() for index in np.indices(night.ball.shape))
        at, shot = self.shot(night, replica, place)
        state = night.states.reshape(-1, *night.states.shape[3:])[at]
        integrated(self.club, self.lane, self.misses, state, shot, seen=(self.seen, game))

    def _keep_logged(self, night: Night, game: int, frame: int) -> None:
        """True chances, over execution and with the night's form, of the logged first balls of a frame."""
        place = np.arange(len(night.slot.bowlers))
        at, shot = self.shot(night, np.zeros_like(place), place)
        state = night.states.reshape(-1, *night.states.shape[3:])[at]
        strike, missed = integrated(self.club, self.lane, self.misses, state, shot, night.form[0])
        kept = {"slot": night.slot.number, "bowler": shot.bowler, "game": game, "frame": frame, "strike": strike}
        kept |= dict(zip(("spare", "first_pins", "open_pins"), missed / (1 - strike), strict=True))
        self.logged.append(pd.DataFrame(kept))

    def _look_after(self, slot: Slot) -> None:
        replica, ball = np.nonzero(self.wear > self._due)
        due = self.rng.random(len(ball)) < 0.6
        replica, ball = replica[due], ball[due]
        self.wear[replica, ball] = 0.0
        self._due[replica, ball] = self.rng.uniform(*self.upkeep.due, len(ball))
        if self.upkeep.grits is not None:
            self.grit[replica, ball] = self._new_grits(ball, np.array(self.upkeep.grits))
        self.care += [(slot.date, int(b), int(self.grit[0, b])) for b in ball[replica == 0]]

    def _new_grits(self, ball: np.ndarray, grits: np.ndarray) -> np.ndarray:
        """The ball's own grit half of the time, otherwise the next finer or coarser."""
        at = np.searchsorted(grits, self.club.grit[ball])
        step = self.rng.choice([-1, 0, 0, 1], len(ball))
        new: np.ndarray = grits[np.clip(at + step, 0, len(grits) - 1)]
        return new


def integrated(
    club: Club,
    lane: Mechanism,
    misses: Misses,
    state: np.ndarray,
    shot: Shot,
    form: np.ndarray | float = 0.0,
    seen: tuple[Seen, int] | None = None,
) -> tuple[np.ndarray, np.ndarray]:
    """P(strike) (k,) and sums of ``Misses`` (3, k) of shots aimed at ``shot.arrow``, over all errors of execution.

    ``form``: log odds (k,) that the night adds; ``seen``: what takes them by what is seen, and the game.
    """
    aims, aim_weights = np.polynomial.hermite_e.hermegauss(7)
    nodes, weights = execution()
    strike, missed = np.zeros(len(shot.ball)), np.zeros((3, len(shot.ball)))
    for aim, share in zip(aims, aim_weights / aim_weights.sum(), strict=True):
        arrow = np.clip(shot.arrow + aim * club.aim_sd[shot.bowler], 1, 35)
        thrown = replace(shot, arrow=arrow)
        mean, angle = lane.arrive(state, thrown)
        entry = np.clip(mean + nodes[:, None] * club.entry_sd[shot.bowler], 2, 37)
        chance = 1 / (1 + np.exp(-lane.strike_logit(state, thrown, entry, angle) - form))
        weight = share * weights[:, None]
        strikes, rest = weight * chance, weight * (1 - chance) * misses.at(shot.bowler, entry)
        strike += strikes.sum(axis=0)
        missed += rest.sum(axis=1)
        if seen is not None:
            every = np.broadcast_to(weight, chance.shape)
            seen[0].add(thrown, seen[1], entry, np.stack([every, strikes, *rest]))
    return strike, missed


def play_season(
    club: Club,
    lane: Mechanism,
    rng: np.random.Generator,
    replicas: int = REPLICAS,
    upkeep: Upkeep = Upkeep(),
) -> WorldSeason:
    """Bowl it, write it down, and gather its truth."""
    play = Play(club, lane, rng, replicas, upkeep)
    play.run()
    rows = pd.DataFrame({name: np.concatenate(parts) for name, parts in play.rows.items()}).assign(foul=False)
    order = np.lexsort([rows["delivery"], rows["frame"], rows["game"], rows["bowler"], rows["slot"]])
    rows = rows.iloc[order].reset_index(drop=True)
    own, logged = (pd.concat(kept, ignore_index=True) for kept in (play.own, play.logged))
    truth = WorldTruth(club, lane, play.misses, play.bank, own, logged, play.mean_wear, play.mean_grit, play.seen)
    return WorldSeason(written_frames(rng, club, rows, play.care), racks_frame(rows), truth)
