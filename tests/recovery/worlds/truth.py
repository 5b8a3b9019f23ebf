"""What is really so in a world, over nights not bowled: any ball on a line held, or with the line following the lane.

Truths are means over a bank of nights: the lanes of the replicas, half way through each game, with the oil as the
club's
own traffic left it. Every choice is valued on the same lanes (common random numbers) and over every error of execution
by quadrature; what is left of Monte Carlo is which nights are in the bank. Pins are means over nights of the exact
mean score, form of the night left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from tests.recovery.worlds.club import PATTERN_CLASSES, Club, Slot
from tests.recovery.worlds.habits import START_SD, best_boards, moves
from tests.recovery.worlds.mechanism import (
    LOOSE_SHARE,
    LOOSE_WIDTH,
    POCKET,
    Mechanism,
    Misses,
    Shot,
    execution,
    mean_score,
)
from tests.recovery.worlds.seen import Seen

LINE_BOARDS = {
    "outside first arrow": 2,
    "first arrow": 5,
    "second arrow": 10,
    "third arrow": 15,
    "fourth arrow": 20,
    "fifth arrow": 25,
    "inside fifth arrow": 29,
}
"""Board aimed at on a line committed to: the arrow's own, tuned by a board either way."""
BOARDS = np.arange(0.0, 37.0)
NIGHTS = 36  # of the bank, for each pattern class and side
GAMES = 4
_SHOTS = 12  # first balls of a game


@dataclass
class Bank:
    """States of all replicas but the logged one, half way through each game.

    (slot, game) -> (replicas, pairs, 2, ...).
    """

    states: dict[tuple[int, int], np.ndarray] = field(default_factory=dict)
    slots: dict[int, Slot] = field(default_factory=dict)

    def keep(self, slot: Slot, game: int, states: np.ndarray) -> None:
        """Copy the lanes as they are."""
        self.slots[slot.number] = slot
        self.states[slot.number, game] = states[1:].copy()

    def nights(self, rng: np.random.Generator, patterns: np.ndarray, side: int) -> tuple[np.ndarray, list[np.ndarray]]:
        """Some nights of four games on these patterns, as often as met: their pattern, and states by game."""
        met = [s for s in self.slots.values() if s.pattern in patterns]
        long = [s for s in met if s.games >= GAMES] or met
        shape = next(iter(self.states.values())).shape[:2]
        chosen = []
        for k in range(NIGHTS):
            slot = met[k % len(met)]
            if slot.games < GAMES:  # only longer nights show the last game
                same = [s for s in long if s.pattern == slot.pattern] or long
                slot = same[k % len(same)]
            chosen.append((slot, int(rng.integers(shape[0])), int(rng.integers(shape[1]))))
        number = np.array([slot.pattern for slot, _, _ in chosen])
        games = [
            np.stack([self.states[slot.number, min(game, slot.games)][r, p, side] for slot, r, p in chosen])
            for game in range(1, GAMES + 1)
        ]
        return number, games


@dataclass(frozen=True)
class _Table:
    """One bowler on one pattern class: arrays (balls, nights, games, boards), on the boards of ``BOARDS``.

    ``entry`` is where a ball over that board comes in; ``strike`` and ``missed`` (3, ...) are for a ball aimed there.
    """

    balls: np.ndarray
    pattern: np.ndarray
    entry: np.ndarray
    strike: np.ndarray
    missed: np.ndarray

    @cached_property
    def score(self) -> np.ndarray:
        return mean_score(self.strike, self.missed)

    def on(self, pattern: int | None) -> _Table:
        """The nights on one pattern; all where it is None or was not met."""
        nights = np.flatnonzero(self.pattern == pattern)
        if len(nights) == 0:
            return self
        parts = (self.entry[:, nights], self.strike[:, nights], self.missed[:, :, nights])
        return _Table(self.balls, self.pattern[nights], *parts)

    def in_form(self, logits: float) -> _Table:
        """The same on nights whose form adds these log odds to the mean chance of a strike."""
        strike = self.strike / (self.strike + (1 - self.strike) * np.exp(-logits))
        missed = self.missed * (1 - strike) / (1 - self.strike)
        return _Table(self.balls, self.pattern, self.entry, strike, missed)


@dataclass
class WorldTruth:
    """Truth of one season.

    Attributes:
        own: what everybody was about to throw half way through each game of every replica: replica, bowler, class,
        game,
            pattern, ball, arrow, strike and score (true means over execution).
        logged: the logged first balls of every frame, the night's form included: slot, bowler, game, frame, strike, and
            spare, first_pins and open_pins given no strike.
        mean_wear: games on each ball's surface, at which it is valued.
        mean_grit: grit of each ball's surface, likewise.
        seen: strikes by entry board, over what ``own`` holds.
    """

    club: Club
    lane: Mechanism
    misses: Misses
    bank: Bank
    own: pd.DataFrame
    logged: pd.DataFrame
    mean_wear: np.ndarray
    mean_grit: np.ndarray
    seen: Seen
    _tables: dict[tuple[int, int], _Table] = field(default_factory=dict, repr=False)

    # ---- what a grid asks for; columns bowler, pattern_class, game (may lie between two), ball, (held) line,
    # and pattern (a number) where one pattern of the class is meant and not all as often as they were met

    def held(self, grid: pd.DataFrame) -> pd.DataFrame:
        """``strike`` and ``pins`` [rows] of a ball on one line committed to.

        Aimed at the arrow's own board, or the one beside it that is better in that game.
        """
        return self._over(grid, self._held)

    def following(self, grid: pd.DataFrame) -> pd.DataFrame:
        """The same with the line following the lane: from a usual start, by the bowler's own habit of moving."""
        return self._over(grid.drop(columns="line", errors="ignore"), self._followed)

    def perfectly_followed(self, grid: pd.DataFrame) -> pd.DataFrame:
        """The same with the best board of every night and game known."""
        without_line = grid.drop(columns="line", errors="ignore")
        return self._over(without_line, lambda table, ball, _line: _best_board(table, ball))

    def played_from(
        self, bowler: str, pattern_class: str, ball: str, board: float, brought_in: int, games: range
    ) -> float:
        """Mean pins over these games of a ball brought in on that board in game ``brought_in``, then followed."""
        table = self._table_of(bowler, pattern_class)
        place = self._place(table, ball)
        score = self._each_night_followed(table, place, board, brought_in)[1]
        return float(score[:, [game - 1 for game in games]].mean())

    def by_block(self, steps: pd.DataFrame, luck: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mean pins over the games of one bowler's plan for one pattern (pattern_class, game, ball, line, pattern).

        Returns:
            With the line following the lane (nights, luck), and on the lines of ``steps`` (luck,), the mean over
            nights; ``luck`` is what the block's form adds to the log odds of a strike.
        """
        bowler, kind, number = (steps[name].iloc[0] for name in ("bowler", "pattern_class", "pattern"))
        usual = self._table_of(bowler, kind).on(number)
        followed, held = [], []
        for form in luck:
            table, each, kept = usual.in_form(float(form)), [], []
            for (ball, line), part in steps.groupby(["ball", "line"]):
                place = self._place(table, str(ball))
                games = part["game"].to_numpy(dtype=int) - 1
                each.append(self._each_night_followed(table, place)[1][:, games])
                kept.append(self._held(table, place, str(line))[1][games])
            followed.append(np.concatenate(each, axis=1).mean(axis=1))
            held.append(np.concatenate(kept).mean())
        return np.column_stack(followed), np.array(held)

    def own_pins(
        self, bowler: str, pattern_class: str | None = None, game: float | None = None, pattern: int | None = None
    ) -> float:
        """Mean score of the bowler's own throwing, in all or in a cell, over every replica but the logged one."""
        own = self._by_cell
        rows = own.loc[[self._number(bowler)]]
        if pattern_class is not None:
            rows = rows[rows["class"] == PATTERN_CLASSES.index(pattern_class)]
        if pattern is not None and (rows["pattern"] == pattern).any():
            rows = rows[rows["pattern"] == pattern]
        if game is not None:
            return _at_games(rows.groupby("game")["total"].sum() / rows.groupby("game")["count"].sum(), game)
        return float(rows["total"].sum() / rows["count"].sum())

    def lost_by_habit(self, bowler: str, pattern_class: str, game: float) -> float:
        """Pins by which own throwing in a cell falls short of the very balls thrown, ``following`` the lane.

        Those start on the board that is best on an average night and are never changed for; bowlers start where they
        believe the board to be, and a ball brought in late is seldom right at once.
        """
        return _at_games(self._habit.loc[self._number(bowler), PATTERN_CLASSES.index(pattern_class)], game)

    def clairvoyant_pins(self, bowler: str, pattern_class: str, game: float) -> float:
        """Mean score of the best ball and board of every night and game."""
        table = self._table_of(bowler, pattern_class)
        return _at_game(table.score.max(axis=(0, 3)).mean(axis=0), game)

    def balls(self, bowler: str) -> list[str]:
        """Strike balls in the bag."""
        return self.club.balls["ball"].to_numpy()[self.club.bags[self._number(bowler)]].tolist()

    # ---- how

    @cached_property
    def _by_cell(self) -> pd.DataFrame:
        fresh = self.own[self.own["replica"] > 0]
        sums = fresh.groupby(["bowler", "class", "pattern", "game"])["score"].agg(total="sum", count="size")
        return sums.reset_index(["class", "pattern", "game"])

    @cached_property
    def _habit(self) -> pd.Series:
        """Pins lost, by bowler, class and game, over every replica but the logged one."""
        key = ["bowler", "class", "game"]
        thrown = self.own[(self.own["replica"] > 0) & (self.own["game"] <= GAMES)]
        cells = thrown.groupby([*key, "ball"])["score"].agg(total="sum", count="size").reset_index()
        names = {"bowler": self.club.bowlers["bowler"].to_numpy(), "ball": self.club.balls["ball"].to_numpy()}
        grid = pd.DataFrame({name: names[name][cells[name]] for name in names})
        grid = grid.assign(pattern_class=np.array(PATTERN_CLASSES)[cells["class"]], game=cells["game"].astype(float))
        cells["lost"] = cells["count"] * self.following(grid)["pins"] - cells["total"]
        sums = cells.groupby(key)[["lost", "count"]].sum()
        return sums["lost"] / sums["count"]

    def _number(self, bowler: str) -> int:
        return self.club.bowlers["bowler"].tolist().index(bowler)

    def _table_of(self, bowler: str, pattern_class: str) -> _Table:
        return self.table(self._number(bowler), PATTERN_CLASSES.index(pattern_class))

    def _place(self, table: _Table, ball: str) -> int:
        """Of a ball among those of a table."""
        return int(np.flatnonzero(table.balls == self.club.balls["ball"].tolist().index(ball))[0])

    def _over(self, grid, value) -> pd.DataFrame:  # type: ignore[no-untyped-def]
        by_name: dict[tuple[object, ...], tuple[np.ndarray, np.ndarray]] = {}
        lines = grid["line"] if "line" in grid else [None] * len(grid)
        patterns = grid["pattern"] if "pattern" in grid else [None] * len(grid)
        out = []
        rows = zip(grid["bowler"], grid["pattern_class"], grid["ball"], lines, grid["game"], patterns, strict=True)
        for bowler, kind, ball, line, game, pattern in rows:
            key = (bowler, kind, ball, line, pattern)
            if key not in by_name:
                table = self._table_of(bowler, kind).on(pattern)
                by_name[key] = value(table, self._place(table, ball), line)
            out.append([_at_game(values, float(game)) for values in by_name[key]])
        return pd.DataFrame(out, columns=["strike", "pins"], index=grid.index)

    @staticmethod
    def _held(table: _Table, ball: int, line: str) -> tuple[np.ndarray, np.ndarray]:
        boards = LINE_BOARDS[line] + np.arange(-1, 2)
        strike, score = table.strike[ball][:, :, boards], table.score[ball][:, :, boards]
        return strike.max(axis=2).mean(axis=0), score.max(axis=2).mean(axis=0)

    def _followed(self, table: _Table, ball: int, _line: object) -> tuple[np.ndarray, np.ndarray]:
        strike, score = self._each_night_followed(table, ball)
        return strike.mean(axis=0), score.mean(axis=0)

    def _each_night_followed(
        self, table: _Table, ball: int, board: float | None = None, first: int = 1
    ) -> tuple[np.ndarray, np.ndarray]:
        """Strike and score (nights, games): the games bowled shot by shot, moving as the bowler moves.

        The first shot, of game ``first``, is about ``board``, or where the ball is best on the average fresh lane.
        """
        club, number = self.club, int(table.balls[ball])
        who = int(club.owner[number])
        rng = np.random.default_rng([7, number])
        nights, games = table.entry.shape[1:3]
        copies = 4
        start = self._starts[number, table.pattern] if board is None else np.full(nights, board)
        night = np.tile(np.arange(nights), copies)
        arrow = np.clip(np.round(start[night] + rng.normal(0, START_SD, len(night))), 2, 33)
        off, since = np.zeros((len(night), 3)), np.zeros(len(night), dtype=int)
        strike, score = np.zeros((nights, games)), np.zeros((nights, games))
        for game in range(first - 1, games):
            for _ in range(_SHOTS):
                at = arrow.astype(int)
                strike[:, game] += _by_night(table.strike[ball, night, game, at], copies)
                score[:, game] += _by_night(table.score[ball, night, game, at], copies)
                thrown = np.clip(np.rint(arrow + club.aim_sd[who] * rng.normal(size=len(night))), 0, 36).astype(int)
                width = np.where(rng.random(len(night)) < LOOSE_SHARE, LOOSE_WIDTH, 1.0) * club.entry_sd[who]
                noise = width * rng.normal(size=len(night)) + rng.normal(0, 0.5, len(night))
                off = np.column_stack([off[:, 1:], table.entry[ball, night, game, thrown] + noise - POCKET])
                since += 1
                step = moves(off, since, club.follow[who], self.lane.per_board)
                arrow, since = np.clip(arrow + step, 2, 33), np.where(step != 0, 0, since)
        return strike, score

    @cached_property
    def _starts(self) -> np.ndarray:
        return best_boards(self.club, self.lane)

    def table(self, bowler: int, kind: int) -> _Table:
        """Chances of every strike ball in the bag over every board on the bank's nights; made once."""
        if (bowler, kind) not in self._tables:
            self._tables[bowler, kind] = self._make_table(bowler, kind)
        return self._tables[bowler, kind]

    def _make_table(self, bowler: int, kind: int) -> _Table:
        club = self.club
        patterns = np.flatnonzero(club.pattern_class == kind)
        side = int(club.side[bowler])
        pattern, games = self.bank.nights(np.random.default_rng([kind, side]), patterns, side)
        balls = club.bags[bowler]
        shape = (len(balls), len(pattern), len(games), len(BOARDS))
        b, n, g, a = (index.ravel() for index in np.indices(shape))
        state = np.stack(games, axis=1)[n, g]
        wear = self.mean_wear[balls]
        where, grit = np.clip(BOARDS[a], 1, 35), self.mean_grit[balls]
        shot = Shot(pattern[n], np.full(len(b), bowler), balls[b], wear[b], where, grit[b])
        entry, angle = self.lane.arrive(state, shot)
        strike, missed = np.zeros(len(b)), np.zeros((3, len(b)))
        for node, weight in zip(*execution(), strict=True):
            place = np.clip(entry + node * club.entry_sd[bowler], 2, 37)
            chance = 1 / (1 + np.exp(-self.lane.strike_logit(state, shot, place, angle)))
            strike += weight * chance
            missed += weight * (1 - chance) * self.misses.at(shot.bowler, place)
        spread = np.exp(-0.5 * ((BOARDS[:, None] - BOARDS[None, :]) / club.aim_sd[bowler]) ** 2)
        spread /= spread.sum(axis=0)
        return _Table(
            balls, pattern, entry.reshape(shape), strike.reshape(shape) @ spread, missed.reshape(3, *shape) @ spread
        )


def _by_night(values: np.ndarray, copies: int) -> np.ndarray:
    """Share (nights,) of a game's mean that one shot of every copy of the nights is."""
    by_night: np.ndarray = values.reshape(copies, -1).mean(axis=0) / _SHOTS
    return by_night


def _best_board(table: _Table, ball: int) -> tuple[np.ndarray, np.ndarray]:
    return table.strike[ball].max(axis=2).mean(axis=0), table.score[ball].max(axis=2).mean(axis=0)


def _at_games(by_game: pd.Series, game: float) -> float:
    """By number of the game, at one that may lie between two."""
    return float(np.interp(game, by_game.index.to_numpy(dtype=float), by_game.to_numpy()))


def _at_game(by_game: np.ndarray, game: float) -> float:
    return float(np.interp(game, np.arange(1, len(by_game) + 1), by_game))
