"""What is really so in the invented world, for any grid of choices: chances, pins per game, wear and skill.

All are marginal over execution (where the ball comes in, and which board within a line is played), by numerical
integration, for a new block (bowler-block effect 0) and with each ball worn as it was on average over the season.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd

from pipeline.sport.score_distribution import mean_score
from sample_logs import mechanism as m
from sample_logs.play import ANGLE_SD, TAIL_SHARE, TAIL_WIDTH, Played, Slot
from sample_logs.world import CLASSES, PATTERN_CLASSES, World

LINE_BOARDS = {
    "outside first arrow": 1.5,
    "first arrow": 5.0,
    "second arrow": 10.0,
    "third arrow": 15.0,
    "fourth arrow": 20.0,
    "fifth arrow": 25.0,
    "inside fifth arrow": 29.0,
}
_OIL = {"length_ft": "length", "volume_ml": "volume", "ratio": "ratio"}
_LINE_HALF = 2.0  # a bowler on a line fine-tunes within this many boards of its arrow
_LINE_SD = 1.6  # close to how far the boards really played lie apart, see tests/recovery/test_truth.py
_WITHIN = np.array([-1.2, -0.4, 0.4, 1.2])  # equal-weight points of the boards played round the chosen one


@dataclass(frozen=True)
class Truth:
    """The hidden world, with means over what was really bowled.

    ``bowled`` has one row per first delivery: slot, bowler, ball, game, frame, delivery, load, wear, arrow, chance
    (true P(strike) given the entry board and block), numbers as in ``world``.
    """

    world: World
    slots: list[Slot]
    bowled: pd.DataFrame
    mean_wear: np.ndarray
    wear_now: np.ndarray

    def true_strike_probability(self, grid: pd.DataFrame) -> np.ndarray:
        """P(strike), shape [rows], for columns bowler, pattern_class, game, ball, line.

        Optional columns length_ft, volume_ml, ratio (where none is given: the average over the patterns of the class,
        as often as the bowlers met them) and pair_load (default: the mean met in that game). ``line`` may be None or
        missing: the best board is played. A column ``arrow`` gives the very board in place of one near the line's.
        """
        return self._integrate(grid)[0]

    def true_pins(self, grid: pd.DataFrame) -> np.ndarray:
        """Mean score of a game bowled wholly at each row of the grid, shape [rows]."""
        first, second = self.first_and_second(grid)
        return np.asarray(mean_score(first, second))

    def first_and_second(self, grid: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        """P(k pins on a first ball) [rows, 11] and P(j more | k) [rows, 11, 11]."""
        strike, leaves = self._integrate(grid)
        bowler = self.world.bowler_number(grid["bowler"])
        return self._pinfall(bowler, strike, leaves)

    def own_average(self) -> pd.Series:
        """True mean score per bowler id, averaged over the choices and boards really played (block effects 0)."""
        keys = ["bowler", "ball", "game", "slot", "line", "arrow"]
        cells = self.bowled.groupby(keys).agg(shots=("chance", "size"), pair_load=("load", "mean")).reset_index()
        total = self.true_pins(self._grid_of(cells)) * cells["shots"]
        average = total.groupby(cells["bowler"]).sum() / cells.groupby("bowler")["shots"].sum()
        ids = self.world.bowlers["bowler"].to_numpy()[average.index.to_numpy()]
        return pd.Series(average.to_numpy(), index=ids, name="average")

    def entry_curve(self, bowler: str, boards: np.ndarray) -> np.ndarray:
        """P(strike) [boards] where the ball enters at each board, over what the bowler threw (block effect 0)."""
        world = self.world
        mine = self.bowled[self.bowled["bowler"] == world.bowler_number(pd.Series([bowler]))[0]]
        who, ball, wear = (mine[name].to_numpy() for name in ("bowler", "ball", "wear"))
        kind = world.pattern_class[np.array([slot.pattern for slot in self.slots])[mine["slot"].to_numpy()]]
        strength = world.strength[ball] - world.hook_wear[ball] * wear
        angle = m.entry_angle(world, who, strength, mine["arrow"].to_numpy())
        logit = m.strike_logit(world, who, ball, kind, mine["game"].to_numpy(), wear, angle, m.CENTRE_BOARD)
        at_centre = m.place_logit(np.array(m.CENTRE_BOARD))
        change = m.place_logit(np.asarray(boards, dtype=float)) - at_centre - 0.10 * ANGLE_SD**2
        return (1 / (1 + np.exp(-(logit[:, None] + change)))).mean(axis=0)

    def wear_loss(self) -> pd.DataFrame:
        """Per ball: carry lost (logit and pins a game) and boards of hook lost per 10 games since resurfacing.

        Priced on the medium pattern in game 2 on the best board for the ball as it is, about its mean wear.
        """
        world = self.world
        count = len(world.balls)
        grid = pd.DataFrame(
            {
                "bowler": world.bowlers["bowler"].to_numpy()[world.owner],
                "pattern_class": "medium",
                "game": 2,
                "ball": world.balls["ball"],
            }
        )
        pins = [
            np.asarray(mean_score(*self._pinfall(world.owner, *self._integrate(grid, np.maximum(wear, 0)))))
            for wear in (self.mean_wear - 5, self.mean_wear + 5)
        ]
        return pd.DataFrame(
            {
                "ball": world.balls["ball"],
                "logit_per_10_games": -10 * world.carry_wear,
                "pins_per_10_games": pins[1] - pins[0],
                "arrow_boards_per_10_games": -70 * world.hook_wear * np.ones(count),
            }
        )

    def skills(self) -> pd.DataFrame:
        """Per bowler: carry skill and spare skill (logit), spread and bias of the entry board (boards)."""
        world = self.world
        return pd.DataFrame(
            {
                "bowler": world.bowlers["bowler"],
                "carry_skill": world.skill,
                "spare_skill": world.spare_skill,
                "entry_sd": world.entry_sd,
                "entry_bias": world.entry_bias,
            }
        )

    def as_json(self) -> dict[str, object]:
        """The hidden numbers as plain values, for truth.json."""
        world = self.world
        balls = pd.DataFrame(
            {
                "ball": world.balls["ball"],
                "ball_class": np.array(CLASSES)[world.ball_class],
                "strength": world.strength.round(4),
                "effect": world.ball_effect.round(4),
                "carry_wear_per_game": world.carry_wear.round(5),
                "hook_wear_per_game": world.hook_wear.round(5),
                "mean_wear_games": self.mean_wear.round(2),
            }
        )
        return {
            "block_sd": world.block_sd,
            "carry_by_class": {name: row.tolist() for name, row in zip(CLASSES, m.CARRY, strict=True)},
            "game_slope_by_class": dict(zip(CLASSES, m.GAME_SLOPE.tolist(), strict=True)),
            "bowlers": self.skills().round(4).to_dict("records"),
            "own_average": self.own_average().round(2).to_dict(),
            "balls": balls.to_dict("records"),
            "wear_loss": self.wear_loss().round(4).to_dict("records"),
        }

    # ---- integration

    def _integrate(self, grid: pd.DataFrame, wear: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        """P(strike) [rows] and P(leave | no strike) [rows, leaves]."""
        worn = self.mean_wear[self.world.ball_number(grid["ball"])] if wear is None else wear
        row, laid, share = self._on_each_pattern(grid.reset_index(drop=True))
        strike, leaves = self._on_one_pattern(laid, np.broadcast_to(worn, len(grid))[row])
        missed = np.zeros((len(grid), leaves.shape[1]))
        np.add.at(missed, row, (share * (1 - strike))[:, None] * leaves)
        return np.bincount(row, share * strike, len(grid)), missed / missed.sum(axis=1, keepdims=True)

    def _on_each_pattern(self, grid: pd.DataFrame) -> tuple[np.ndarray, pd.DataFrame, np.ndarray]:
        """A row for each pattern a row of the grid stands for: place in the grid, the row, its share.

        A row that gives no oil stands for all patterns of its class, as often as they were met.
        """
        given = grid.reindex(columns=list(_OIL)).notna().any(axis=1).to_numpy()
        rows = grid.assign(row=np.arange(len(grid)), share=1.0)
        spread = rows[~given].drop(columns=[*_OIL, "share"], errors="ignore")
        spread = spread.merge(self._patterns_met(), on="pattern_class", how="left").fillna({"share": 1.0})
        laid = pd.concat([rows[given], spread], ignore_index=True) if given.any() else spread
        return laid["row"].to_numpy(), laid, laid["share"].to_numpy(dtype=float)

    def _patterns_met(self) -> pd.DataFrame:
        """Oil of every posted pattern that was met, and its share of its class's first deliveries."""
        slot = self.bowled["slot"].to_numpy()
        posted = np.array([slot.posted for slot in self.slots])[slot]
        numbers, met = np.unique(np.array([slot.pattern for slot in self.slots])[slot][posted], return_counts=True)
        kind = self.world.pattern_class[numbers]
        oil = {column: getattr(self.world, name)[numbers] for column, name in _OIL.items()}
        share = met / np.bincount(kind, met)[kind]
        return pd.DataFrame({"pattern_class": np.array(PATTERN_CLASSES, dtype=object)[kind], **oil, "share": share})

    def _on_one_pattern(self, grid: pd.DataFrame, worn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The same where every row is one pattern: its own oil, or what is usual where no pattern was met."""
        world = self.world
        bowler, ball = world.bowler_number(grid["bowler"]), world.ball_number(grid["ball"])
        if (bowler < 0).any() or (ball < 0).any():
            raise KeyError("the grid names a bowler or a ball that this season does not know")
        lane = self._lane(grid)
        game = grid["game"].to_numpy(dtype=float)
        strength = world.strength[ball] - world.hook_wear[ball] * worn
        ideal = m.ideal_arrow(world, bowler, strength, lane["length"], lane["volume"], game, lane["load"])
        centre = ideal
        if "line" in grid:
            board = grid["line"].map(LINE_BOARDS).to_numpy(dtype=float)
            board = np.where(np.isnan(board), ideal, board)
            centre = np.clip(ideal, board - _LINE_HALF, board + _LINE_HALF)
        within = _WITHIN * _LINE_SD
        if "arrow" in grid:
            centre, within = grid["arrow"].to_numpy(dtype=float), np.zeros(1)
        spread = m.entry_spread(world, bowler, lane["ratio"])
        strike, missed = np.zeros(len(grid)), np.zeros((len(grid), len(m.LEAVE_MASKS)))
        nodes, weights = _execution()
        for step in within:
            arrow = centre + step
            angle = m.entry_angle(world, bowler, strength, arrow)
            mean = m.entry_mean(world, bowler, arrow, ideal)
            for node, weight in zip(nodes, weights, strict=True):
                entry = np.clip(mean + spread * node, 5, 35)
                logit = m.strike_logit(world, bowler, ball, lane["class"], game, worn, angle, entry)
                chance = 1 / (1 + np.exp(-(logit - 0.10 * ANGLE_SD**2)))
                strike += weight / len(within) * chance
                missed += (weight / len(within) * (1 - chance))[:, None] * m.leave_probabilities(entry)
        return strike, missed / missed.sum(axis=1, keepdims=True)

    def _lane(self, grid: pd.DataFrame) -> dict[str, np.ndarray]:
        """Class number, length, volume, ratio and load of each row, filled with what was met where not given."""
        kind = grid["pattern_class"].map({name: i for i, name in enumerate(PATTERN_CLASSES)})
        met = self._met()
        unposted = next((slot.pattern for slot in self.slots if not slot.posted), 0)
        number = kind.fillna(self.world.pattern_class[unposted]).astype(int).to_numpy()
        lane = {"class": number}
        for column, name in _OIL.items():
            usual = met[name].to_numpy()[number]
            usual = np.where(kind.isna(), getattr(self.world, name)[unposted], usual)
            lane[name] = _given(grid, column, usual)
        by_game = self.bowled.groupby("game")["load"].mean()
        usual = np.interp(grid["game"].to_numpy(dtype=float), by_game.index.to_numpy(dtype=float), by_game.to_numpy())
        lane["load"] = _given(grid, "pair_load", usual)
        return lane

    def _met(self) -> pd.DataFrame:
        """Mean length, volume and ratio by class, weighted by first deliveries."""
        world = self.world
        pattern = np.array([slot.pattern for slot in self.slots])[self.bowled["slot"].to_numpy()]
        frame = pd.DataFrame(
            {
                "class": world.pattern_class[pattern],
                "length": world.length[pattern],
                "volume": world.volume[pattern],
                "ratio": world.ratio[pattern],
            }
        )
        posted = np.array([slot.posted for slot in self.slots])[self.bowled["slot"].to_numpy()]
        means = frame[posted].groupby("class").mean()
        return means.reindex(range(len(PATTERN_CLASSES))).fillna(means.mean())

    def _grid_of(self, cells: pd.DataFrame) -> pd.DataFrame:
        world = self.world
        pattern = np.array([slot.pattern for slot in self.slots])[cells["slot"].to_numpy()]
        return pd.DataFrame(
            {
                "bowler": world.bowlers["bowler"].to_numpy()[cells["bowler"]],
                "ball": world.balls["ball"].to_numpy()[cells["ball"]],
                "pattern_class": np.array(PATTERN_CLASSES)[world.pattern_class[pattern]],
                "game": cells["game"].to_numpy(),
                "line": cells["line"].to_numpy(),
                "arrow": cells["arrow"].to_numpy(),
                "pair_load": cells["pair_load"].to_numpy(),
                "length_ft": world.length[pattern],
                "volume_ml": world.volume[pattern],
                "ratio": world.ratio[pattern],
            }
        )

    def _pinfall(self, bowler: np.ndarray, strike: np.ndarray, leaves: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """First and second ball pinfall from P(strike) and the leave mix."""
        rows = len(strike)
        first, second = np.zeros((rows, 11)), np.zeros((rows, 11, 11))
        first[:, 10] = strike
        for index, (mask, standing) in enumerate(zip(m.LEAVE_MASKS, m.LEAVE_PINS, strict=True)):
            down = 10 - int(standing)
            share = (1 - strike) * leaves[:, index]
            first[:, down] += share
            if standing == 10:
                continue
            made = m.spare_probability(self.world, bowler, np.full(rows, mask))
            second[:, down, standing] += share * made
            stays = 1.0 if standing == 1 else m.MISS_ALL
            second[:, down, 0] += share * (1 - made) * stays
            second[:, down, standing - 1] += share * (1 - made) * (1 - stays) if standing > 1 else 0
        total = second.sum(axis=2, keepdims=True)
        second = np.divide(second, total, out=np.zeros_like(second), where=total > 0)
        second[:, 0, :] = first  # after a ball that hit nothing the rack is full again
        empty = second.sum(axis=2) == 0
        second[empty, 0] = 1.0
        return first, second


def make_truth(world: World, slots: list[Slot], played: Played) -> Truth:
    """Collect the truth of a season that was played."""
    rows = played.deliveries
    first = rows[(rows["facing"] == m.FULL) & ~rows["foul"]]
    bowled = first[["slot", "bowler", "ball", "game", "frame", "delivery", "load", "wear", "arrow", "chance"]]
    bowled = bowled.reset_index(drop=True)
    boards = np.array(list(LINE_BOARDS.values())[1:6])
    nearest = np.abs(bowled["arrow"].to_numpy()[:, None] - boards).argmin(axis=1)
    line = np.array(list(LINE_BOARDS)[1:6], dtype=object)[nearest]
    bowled["line"] = np.where(bowled["arrow"] > 27.5, "inside fifth arrow", line)
    sums = bowled.groupby("ball")["wear"].mean()
    mean_wear = played.wear_now.copy()
    mean_wear[sums.index.to_numpy()] = sums.to_numpy()
    return Truth(world, slots, bowled, mean_wear, played.wear_now)


def _given(grid: pd.DataFrame, column: str, usual: np.ndarray) -> np.ndarray:
    if column not in grid:
        return usual
    return grid[column].astype(float).fillna(pd.Series(usual, index=grid.index)).to_numpy()


@lru_cache(maxsize=1)
def _execution() -> tuple[np.ndarray, np.ndarray]:
    """Nodes (in standard deviations) and weights of the spread: mostly normal, some shots loose."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(17)
    weights = weights / weights.sum()
    return (
        np.concatenate([nodes, TAIL_WIDTH * nodes]),
        np.concatenate([(1 - TAIL_SHARE) * weights, TAIL_SHARE * weights]),
    )
