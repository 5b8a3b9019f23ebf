"""Truth of a plan for one pattern in the worlds where patterns are left out (``new_oil.py``)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import pandas as pd
from scipy.special import expit, logit
from scipy.stats import norm

from pipeline.sport.score_distribution import mean_score
from sample_logs.generate import SimulatedSeason, simulate_season
from sample_logs.world import PATTERN_CLASSES
from tests.recovery.drawn_world import LINES, drawn_season
from tests.recovery.in_memory import Simulated
from tests.recovery.worlds import WORLDS as MECHANISMS
from tests.recovery.worlds.club import PATTERN_CLASSES as KINDS
from tests.recovery.worlds.season import BLOCK_SD, WorldSeason

GAMES = 4
_LUCK = norm.ppf((np.arange(9) + 0.5) / 9)  # equally likely blocks, in sds of a block


class Oil(Protocol):
    """One pattern of a simulated season, by its number, and what is so on it."""

    def met(self) -> bool:
        """Whether anybody bowled on it."""
        ...

    def name(self) -> str:
        """Its id."""
        ...

    def numbers(self) -> tuple[float, float, float]:
        """Length, volume and ratio as posted."""
        ...

    def bowlers(self) -> list[str]:
        """Who bowled on it."""
        ...

    def own(self, bowler: str) -> float:
        """True pins per game of what the bowler threw there in the first games."""
        ...

    def possible(self, bowler: str) -> float:
        """The same of the best of all balls in every game."""
        ...

    def by_block(self, grid: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        """True mean scores of equally likely blocks of the ball and line of each game: followed, and kept."""
        ...


@dataclass(frozen=True)
class LeftOut:
    """A simulated season without the deliveries on the pattern of this id."""

    whole: Simulated
    pattern: str

    @property
    def frames(self) -> dict[str, pd.DataFrame]:
        """As logged; the pattern and its blocks stay listed."""
        return self.whole.frames

    @property
    def _kept(self) -> np.ndarray:
        blocks = self.frames["blocks"]
        return ~self.whole.shots["block"].isin(blocks.loc[blocks["pattern"] == self.pattern, "block"]).to_numpy()

    @property
    def racks(self) -> pd.DataFrame:
        """Racks of the deliveries that stay."""
        return self.whole.racks[self._kept].reset_index(drop=True)

    @property
    def shots(self) -> pd.DataFrame:
        """The deliveries that stay."""
        return self.whole.shots[self._kept].reset_index(drop=True)


@dataclass(frozen=True)
class SampleOil:
    """A pattern of the worlds of ``sample_logs``, whose nights are alike: a line follows by playing the best board."""

    season: SimulatedSeason
    pattern: int

    def met(self) -> bool:
        return bool(self._thrown.any())

    def name(self) -> str:
        return str(self.season.truth.world.patterns["pattern"].iloc[self.pattern])

    def numbers(self) -> tuple[float, float, float]:
        world = self.season.truth.world
        return float(world.length[self.pattern]), float(world.volume[self.pattern]), float(world.ratio[self.pattern])

    def bowlers(self) -> list[str]:
        return sorted(self._own().index)

    def own(self, bowler: str) -> float:
        return float(self._own()[bowler])

    def possible(self, bowler: str) -> float:
        balls = self.season.truth.world.balls
        mine = balls.loc[(balls["bowler"] == bowler) & ~balls["spare_ball"].astype(bool), "ball"]
        games = pd.MultiIndex.from_product([mine, LINES, range(1, GAMES + 1)], names=["ball", "line", "game"])
        grid = self._here(games.to_frame(index=False).assign(bowler=bowler))
        pins = pd.Series(self.season.truth.true_pins(grid)).groupby(grid["game"].to_numpy()).max()
        return float(pins.mean())

    def by_block(self, grid: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        followed = grid if self.drawn else grid.drop(columns="line")
        return self._by_luck(followed), self._by_luck(grid)

    @property
    def drawn(self) -> bool:
        """Whether it is the drawn world, where no board is better than another of a line."""
        return hasattr(self.season.truth, "effects")

    @property
    def _thrown(self) -> np.ndarray:
        truth = self.season.truth
        slots = np.array([slot.pattern for slot in truth.slots])[truth.bowled["slot"].to_numpy()]
        on: np.ndarray = slots == self.pattern
        return on

    def _here(self, grid: pd.DataFrame) -> pd.DataFrame:
        length, volume, ratio = self.numbers()
        kind = PATTERN_CLASSES[self.season.truth.world.pattern_class[self.pattern]]
        return grid.assign(pattern_class=kind, length_ft=length, volume_ml=volume, ratio=ratio)

    def _by_luck(self, grid: pd.DataFrame) -> np.ndarray:
        truth = self.season.truth
        first, second = truth.first_and_second(self._here(grid))
        rows = []
        for luck in _LUCK * truth.world.block_sd:
            struck = expit(logit(first[:, 10]) + luck)
            missed = first[:, :10] * ((1 - struck) / (1 - first[:, 10]))[:, None]
            shifted = np.column_stack([missed, struck])
            again = second.copy()
            again[:, 0, :] = shifted  # after a ball that hit nothing the rack is full again
            rows.append(mean_score(shifted, again).mean())
        return np.array(rows)

    def _own(self) -> pd.Series:
        """By bowler, over the first games, each counted alike."""
        truth = self.season.truth
        thrown = truth.bowled[self._thrown & (truth.bowled["game"] <= GAMES).to_numpy()]
        cells = thrown.groupby(["bowler", "ball", "game", "arrow"]).size().reset_index(name="shots")
        names = {name: getattr(truth.world, f"{name}s")[name].to_numpy()[cells[name]] for name in ("bowler", "ball")}
        lines = np.array(LINES)[(np.round(cells["arrow"] / 5).clip(1, 5) - 1).astype(int)]
        grid = self._here(cells[["game", "arrow"]].assign(**names, line=lines))
        by = [grid["bowler"], grid["game"]]
        total = pd.Series(truth.true_pins(grid) * cells["shots"].to_numpy()).groupby(by).sum()
        return (total / cells["shots"].groupby(by).sum()).groupby(level=0).mean()


@dataclass(frozen=True)
class WorldOil:
    """A pattern of the worlds of ``worlds``, whose nights differ."""

    season: WorldSeason
    pattern: int

    def met(self) -> bool:
        truth = self.season.truth
        return self.pattern < len(truth.club.length) and any(s.pattern == self.pattern for s in truth.club.slots)

    def name(self) -> str:
        return str(self.season.truth.club.patterns["pattern"].iloc[self.pattern])

    def numbers(self) -> tuple[float, float, float]:
        club = self.season.truth.club
        return float(club.length[self.pattern]), float(club.volume[self.pattern]), float(club.ratio[self.pattern])

    def bowlers(self) -> list[str]:
        club = self.season.truth.club
        here = np.unique(np.concatenate([s.bowlers for s in club.slots if s.pattern == self.pattern]))
        return [str(name) for name in club.bowlers["bowler"].to_numpy()[here]]

    def own(self, bowler: str) -> float:
        games = range(1, GAMES + 1)
        return float(np.mean([self.season.truth.own_pins(bowler, self._kind, game, self.pattern) for game in games]))

    def possible(self, bowler: str) -> float:
        truth = self.season.truth
        games = pd.MultiIndex.from_product([truth.balls(bowler), range(1, GAMES + 1)], names=["ball", "game"])
        grid = self._here(games.to_frame(index=False).assign(bowler=bowler))
        return float(truth.following(grid)["pins"].groupby(grid["game"]).max().mean())

    def by_block(self, grid: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        return self.season.truth.by_block(self._here(grid), _LUCK * BLOCK_SD)

    @property
    def _kind(self) -> str:
        return KINDS[self.season.truth.club.pattern_class[self.pattern]]

    def _here(self, grid: pd.DataFrame) -> pd.DataFrame:
        return grid.assign(pattern_class=self._kind, pattern=self.pattern)


WORLDS: dict[str, tuple[Callable[[int], Any], Callable[[Any, int], Oil]]] = {
    "rich": (simulate_season, SampleOil),
    "drawn": (drawn_season, SampleOil),
    **{name: (make, WorldOil) for name, make in MECHANISMS.items()},
}
