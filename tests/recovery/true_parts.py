"""Parts of the ledger beside the same split with true chances, in the drawn world and in every world of lanes.

The split is the pipeline's own, of the very deliveries logged; what is put in place of its estimates is what each
choice truly brings. In a world of lanes that is the mean of the true chances of every shot of its owner that is seen
over that line with that ball in that game on that pattern, on all nights of all replicas; and likewise of those seen to
come in on that entry board as well, so that over the boards of a line the chances come to that of the line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol
from unittest.mock import patch

import numpy as np
import pandas as pd

from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger import stages as ledger_stages
from pipeline.pricing.ledger.class_usual import OWN, class_usual, mixed
from pipeline.pricing.ledger.deliveries import PARTS, Account, Ledger
from pipeline.pricing.ledger.stages import stages_of
from pipeline.pricing.ledger.sums import Entries, entries, sums
from pipeline.pricing.rate_draws import RateDraws
from pipeline.sport.state_values import Chances
from sample_logs import mechanism as m
from sample_logs.truth import LINE_BOARDS
from tests.recovery.drawn_world import DrawnTruth
from tests.recovery.quantities import rows
from tests.recovery.worlds.truth import WorldTruth

SHOWN = {
    "lane": ("lane",),
    "ball": ("ball",),
    "line": ("line",),
    "entry": ("entry",),
    "carry": ("carry",),
    "entry and carry": ("entry", "carry", "entry_and_carry"),
    "leave": ("leave",),
    "spare": ("spare",),
}
"""Name of a row -> the parts it is the sum of."""


class TrueChances(Protocol):
    """What is so in a world."""

    def choices(self, grid: pd.DataFrame) -> RateDraws:
        """How each row (bowler, pattern, pattern_class, game, ball, line) is truly bowled, (1, rows)."""
        ...

    def usual(self, choices: pd.DataFrame, mix: pd.DataFrame) -> Chances:
        """Of a bowler over the season, (1,) each: of the choices made, or of the ``SeasonMix``."""
        ...

    def spares(self, bowler: str, masks: np.ndarray, otherwise: np.ndarray) -> np.ndarray:
        """Chance of the spare at each leave (leaves,); ``otherwise`` where the world does not know it."""
        ...

    def boards(self, met: pd.DataFrame, otherwise: np.ndarray) -> np.ndarray:
        """Chance of a strike of each ball (ball, pattern, game, line, entry_half) seen to come in on a board."""
        ...


def parts(book: Ledger, truth: TrueChances) -> pd.DataFrame:
    """Parts against the bowler's own usual, by season and by block, pins per game."""
    out = []
    for reference, bowler in book.accounts:
        if reference != OWN:
            continue
        counted = entries(book, reference, bowler)
        if counted.totals.empty:
            continue
        true = replace(counted, account=_true_account(book, counted.account, truth, bowler))
        blocks = pd.Index(counted.totals["block"])
        by_block = [blocks.get_indexer(pd.Index(part["block"])) for part in (counted.racks, counted.leaves)]
        whole = [np.zeros(len(part), dtype=int) for part in (counted.racks, counted.leaves)]
        games = counted.totals["games"].to_numpy(dtype=float)
        out += _beside(counted, true, "season", whole, games.sum()[None])
        out += _beside(counted, true, "block", by_block, games)
    return pd.concat(out, ignore_index=True)


def _beside(
    counted: Entries, true: Entries, name: str, codes: list[np.ndarray], games: np.ndarray
) -> list[pd.DataFrame]:
    ours, so = (sums(each, codes[0], codes[1], len(games)).draws for each in (counted, true))
    out = []
    for shown, of in SHOWN.items():
        at = [PARTS.index(part) for part in of]
        kind = f"part of a {name} in pins: {shown}"
        if shown in ("entry", "carry") and counted.account.pairs.empty:
            continue  # where no entry board is logged, entry and carry are one
        out.append(rows(kind, so[0, :, at].sum(axis=0) / games, ours[:, :, at].sum(axis=2) / games))
    return out


def _true_account(book: Ledger, account: Account, truth: TrueChances, bowler: str) -> Account:
    """The account with the true chances as its one draw."""
    choices = book.season.frame("ledger/ledger_choices")
    mine = choices[choices["bowler"] == bowler]
    rates: Callable[..., RateDraws] = lambda _fits, grid, _line: truth.choices(grid)  # noqa: E731 - stands in
    with (
        patch.object(ledger_stages, "rate_draws", rates),
        patch.object(ledger_stages, "on_their_patterns", lambda _fits, _usual, _made, stage: stage),
        patch.object(ledger_stages, "before_choosing", lambda _fits, _who, *known: list(known)),
    ):
        stages = stages_of(book.fits, class_usual(Fitted(book.season, book.fits)), bowler, OWN, mine)
    mix = book.fits.mix.cells
    order = account.stages.rows.merge(stages.rows.reset_index(names="at"), how="left")["at"].to_numpy()
    draws = {
        stage: {name: values[:, order] for name, values in fields.items()} for stage, fields in stages.draws.items()
    }
    choice = account.stages.rows.iloc[account.pairs["at"].to_numpy(dtype=int)].reset_index(drop=True)
    met = choice.assign(entry_half=account.pairs["entry_half"].to_numpy(dtype=float))
    return replace(
        account,
        stages=replace(account.stages, draws=draws),
        base=truth.usual(mine, mix[mix["bowler"] == bowler].reset_index(drop=True)),
        spares=truth.spares(bowler, account.leaves, account.spare)[None],
        boards=truth.boards(met, account.boards.mean(axis=0))[None],
    )


class DrawnChances:
    """The drawn world, where leaves do not depend on the shot and no entry board is logged."""

    def __init__(self, truth: DrawnTruth) -> None:
        self._truth = truth

    def choices(self, grid: pd.DataFrame) -> RateDraws:
        """An unlogged line stands for the middle one."""
        known = grid.assign(line=grid["line"].astype(object).where(grid["line"].isin(LINE_BOARDS), "third arrow"))
        strike = self._truth.true_strike_probability(known)
        numbers = self._truth.world.bowler_number(grid["bowler"])
        rest = np.array([drawn_misses(self._truth, int(number)) for number in numbers])
        spare, first, second = rest.T
        return RateDraws(strike[None], spare[None], first[None], (second + first - 10 * spare)[None])

    def usual(self, choices: pd.DataFrame, mix: pd.DataFrame) -> Chances:
        """The mix of the season, on pairs as worn as is usual."""
        return mixed(self.choices(mix.drop(columns="pair_load")), mix["weight"].to_numpy(dtype=float))

    def spares(self, bowler: str, masks: np.ndarray, otherwise: np.ndarray) -> np.ndarray:
        """By the mechanism."""
        known, out = np.isin(masks, m.LEAVE_MASKS) & (masks != m.FULL), otherwise.copy()
        number = self._truth.world.bowler_number(pd.Series([bowler]))[0]
        out[known] = m.spare_probability(self._truth.world, np.full(int(known.sum()), number), masks[known])
        return out

    def boards(self, met: pd.DataFrame, otherwise: np.ndarray) -> np.ndarray:
        """None is logged."""
        assert met.empty
        return otherwise


class LaneChances:
    """A world of lanes."""

    def __init__(self, truth: WorldTruth) -> None:
        self._truth = truth
        self._found: dict[tuple[str, str, int, str], np.ndarray] = {}

    def choices(self, grid: pd.DataFrame) -> RateDraws:
        """A ball seen on a line; where no line was logged, on any."""
        columns = [grid[name].tolist() for name in ("ball", "pattern", "game", "line")]
        return RateDraws(*np.array([self._rates(*row) for row in zip(*columns, strict=True)]).T[:, None])

    def _rates(self, ball: str, pattern: str, game: int, line: str) -> np.ndarray:
        key = (ball, pattern, game, line)
        if key not in self._found:
            place = self._balls.index(ball)
            self._found[key] = self._truth.seen.rates(place, self._patterns.index(pattern), int(game), line)
        return self._found[key]

    def usual(self, choices: pd.DataFrame, mix: pd.DataFrame) -> Chances:
        """The choices made."""
        return mixed(self.choices(choices), (choices["shots"] / choices["shots"].sum()).to_numpy(dtype=float))

    def spares(self, bowler: str, masks: np.ndarray, otherwise: np.ndarray) -> np.ndarray:
        """The bowler's own at every leave; a full rack respotted is none."""
        chances = self._truth.club.spare_chance[self._number(bowler), masks]
        return np.asarray(np.where(masks == m.FULL, otherwise, chances))

    def boards(self, met: pd.DataFrame, otherwise: np.ndarray) -> np.ndarray:
        """On that line in that game on that pattern, on all nights: of what is known before, nothing is forgotten."""
        out = otherwise.copy()
        keys = ["ball", "pattern", "game", "line"]
        for (ball, pattern, game, line), mine in met.reset_index(drop=True).groupby(keys, sort=False):
            place, number = self._balls.index(str(ball)), self._patterns.index(str(pattern))
            boards = mine["entry_half"].to_numpy(dtype=float)
            out[mine.index] = self._truth.seen.strike(place, number, int(game), str(line), boards)
        return out

    @property
    def _balls(self) -> list[str]:
        return list(self._truth.club.balls["ball"])

    @property
    def _patterns(self) -> list[str]:
        return list(self._truth.club.patterns["pattern"])

    def _number(self, bowler: str) -> int:
        return list(self._truth.club.bowlers["bowler"]).index(bowler)


def drawn_misses(truth: DrawnTruth, number: int) -> tuple[float, float, float]:
    """Spare, first and second pins given no strike, of a bowler of the drawn world."""
    mix, made = _leaf_mix(), m.spare_probability(truth.world, np.full(len(m.LEAVE_MASKS), number), m.LEAVE_MASKS)
    return float(mix @ made), float(mix @ (10 - m.LEAVE_PINS)), float(mix @ _second_pins(made))


def _leaf_mix() -> np.ndarray:
    nodes, weights = np.polynomial.hermite_e.hermegauss(25)
    return np.asarray((weights / weights.sum()) @ m.leave_probabilities(m.CENTRE_BOARD + nodes))


def _second_pins(made: np.ndarray) -> np.ndarray:
    """Mean pins of the ball at each leave: all of them, or what a miss fells."""
    missed = np.where(m.LEAVE_PINS == 1, 0.0, (1 - m.MISS_ALL) * (m.LEAVE_PINS - 1))
    return np.asarray(made * m.LEAVE_PINS + (1 - made) * missed)
