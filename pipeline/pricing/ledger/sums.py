"""Parts of the ledger summed over any groups, with posterior draws of each.

A part is a sum over balls of chances times their worth, so its draws are draws of a few chances times counts made in
SQL: no delivery is read here. The score is known; the expected score and its parts are estimates, so in every draw they
add up to the same score. Incomplete games are left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import cast

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.arrays import Draws
from pipeline.pricing.ledger.deliveries import PARTS, Account, Ledger
from pipeline.sport.leaves import pins

_CHOICE = ["pattern", "game", "ball", "line"]
_BETWEEN: dict[str, tuple[str | None, *tuple[str, ...]]] = {
    "lane": ("lane", "base"),
    "ball": ("ball", "lane"),
    "line": ("line", "ball"),
    "entry": ("board", "line, board logged"),
    "carry": ("missed, board logged", "board"),
    "entry_and_carry": ("missed, no board", "line, no board"),
    "leave": ("left", "missed, board logged", "missed, no board"),
    "spare": (None, "faced"),
    "foul": (None, "line, foul"),
}
"""Part -> the stage once it is known, None for nothing to come, and those whose expectations it takes the place of."""
_WEIGHTS = ("first_pins", "second_pins", "spare", "open")


@dataclass(frozen=True)
class Entries:
    """One bowler's ledger under one reference, in counts.

    Attributes:
        account: the inputs that valued it.
        racks: as ``queries/ledger/rack_weights``; leaves: as ``leave_weights``; totals: as ``block_totals``.
    """

    account: Account
    racks: pd.DataFrame
    leaves: pd.DataFrame
    totals: pd.DataFrame

    @cached_property
    def places(self) -> tuple[np.ndarray, np.ndarray]:
        """Of each row of ``racks``, its place among the account's choices, and among its pairs (-1: no board)."""
        rows, choices = self.racks, self.account.stages.rows.reset_index(names="at")
        at = rows[_CHOICE].merge(choices, on=_CHOICE, how="left")["at"].to_numpy(dtype=int)
        pairs = self.account.pairs.reset_index(names="pair")
        met = pd.DataFrame({"at": at, "entry_half": rows["entry_half"].astype(float)})
        places_met = met.merge(pairs.astype({"entry_half": float}), on=["at", "entry_half"], how="left")["pair"]
        return at, places_met.fillna(-1).to_numpy(dtype=int)


@dataclass(frozen=True)
class Sums:
    """Parts of ``PARTS`` summed over groups: values ``pins`` (groups, parts), and ``draws`` (n, groups, parts) of them.

    ``base``: (n, groups), deviation of each draw of the expectation at the start from its value. The values add up to
    the change by the deliveries, and so does every draw with its ``base``.
    """

    pins: np.ndarray
    draws: Draws
    base: Draws


def entries(ledger: Ledger, reference: str, bowler: str) -> Entries:
    """The counts of one account, put together once."""
    if (reference, bowler) not in ledger.entries:
        ledger.entries[reference, bowler] = _entries(ledger, reference, bowler)
    return cast(Entries, ledger.entries[reference, bowler])


def _entries(ledger: Ledger, reference: str, bowler: str) -> Entries:
    racks, leaves, totals = (
        ledger.rows(name, reference=reference, bowler=bowler)
        for name in ("rack_weights", "leave_weights", "block_totals")
    )
    return Entries(ledger.accounts[reference, bowler], racks, leaves, totals)


def sums(entries: Entries, racks: Sequence[int] | np.ndarray, leaves: Sequence[int] | np.ndarray, groups: int) -> Sums:
    """Sum the parts of the rows of ``entries`` over groups.

    Args:
        entries: the account's rows.
        racks, leaves: the group of each row, from 0; -1 for a row that is in none.
        groups: how many.
    """
    off = _Off(entries, np.asarray(racks), np.asarray(leaves), groups)
    point = np.column_stack([off.value(part) for part in PARTS])
    return Sums(point, point + np.stack([off.draws(part) for part in PARTS], axis=-1), off.at("base"))


def part_sums(
    entries: Entries, part: str, racks: Sequence[int] | np.ndarray, leaves: Sequence[int] | np.ndarray, groups: int
) -> tuple[np.ndarray, Draws]:
    """One of ``PARTS`` as ``sums`` has it: values (groups,) and draws (n, groups)."""
    off = _Off(entries, np.asarray(racks), np.asarray(leaves), groups)
    point = off.value(part)
    return point, np.ascontiguousarray(point + off.draws(part))  # laid out as in ``sums``, so that means round alike


class _Off:
    """Deviations of draws of a part, summed over groups, from its value; a stage is summed when first asked for."""

    def __init__(self, entries: Entries, racks: np.ndarray, leaves: np.ndarray, groups: int) -> None:
        self._entries, self._racks, self._leaves, self._groups = entries, racks, leaves, groups
        stages = _Stages(entries, racks, groups)
        logged, foul = stages.logged, entries.racks["foul"].to_numpy(dtype=bool)
        rest, everything = ~logged & ~foul, np.ones(len(foul), dtype=bool)
        self._stages: dict[str, Callable[[], Draws]] = {
            "base": stages.at_base,
            "lane": lambda: stages.at("lane", everything),
            "ball": lambda: stages.at("ball", everything),
            "line": lambda: stages.at("line", everything),
            "line, board logged": lambda: stages.at("line", logged),
            "line, no board": lambda: stages.at("line", rest),
            "line, foul": lambda: stages.at("line", foul),
            "board": stages.at_boards,
            "missed, board logged": lambda: stages.missed(logged),
            "missed, no board": lambda: stages.missed(rest),
            "left": lambda: _leaves(entries, leaves, groups, "leave"),
            "faced": lambda: _leaves(entries, leaves, groups, "spare"),
        }
        self._summed: dict[str, Draws] = {}

    def at(self, stage: str) -> Draws:
        """Deviations (n, groups) of the expectation at a stage."""
        if stage not in self._summed:
            self._summed[stage] = self._stages[stage]()
        return self._summed[stage]

    def value(self, part: str) -> np.ndarray:
        """The value itself (groups,)."""
        point = np.zeros(self._groups)
        for rows, codes in ((self._entries.racks, self._racks), (self._entries.leaves, self._leaves)):
            kept = codes >= 0
            if f"by_{part}" in rows:
                by = rows[f"by_{part}"].to_numpy(dtype=float)[kept]
                point += np.bincount(codes[kept], by, minlength=self._groups)
        return point

    def draws(self, part: str) -> Draws:
        """Deviations (n, groups) of the draws from it; the part ``order`` is the remainder."""
        if part == "order":
            return -self.at("base") - np.sum([self.draws(other) for other in _BETWEEN], axis=0)
        later, *earlier = _BETWEEN[part]
        off = np.zeros(()) if later is None else self.at(later)
        for stage in earlier:
            off = off - self.at(stage)
        return off


class _Stages:
    """Draws, less their point values, of the expected pins of the balls of each group at each stage."""

    def __init__(self, entries: Entries, racks: np.ndarray, groups: int) -> None:
        self._entries, self._codes, self._groups = entries, racks, groups
        self._at, self._pair = entries.places
        self.logged = (self._pair >= 0) & ~entries.racks["foul"].to_numpy(dtype=bool)

    def at_base(self) -> Draws:
        """Before anything is known, (n, groups)."""
        account = self._entries.account
        drawn = _worths(*(values[:, None] for values in vars(account.base).values()))
        mean = _worths(*(values[None] for values in vars(account.chances).values()))
        nowhere = np.zeros_like(self._at)
        return self._summed(drawn, mean, ("strike", *_WEIGHTS), nowhere, np.ones(len(nowhere), dtype=bool))

    def at(self, stage: str, rows: np.ndarray) -> Draws:
        """At a stage, (n, groups), over these rows."""
        draws, means = self._entries.account.stages.draws[stage], self._entries.account.stages.means[stage]
        weights = ("strike", *_WEIGHTS)
        return self._summed(_worths(*draws.values()), _worths(*means.values()), weights, self._at, rows)

    def missed(self, rows: np.ndarray) -> Draws:
        """Once it is known whether the ball carried: over those that did not."""
        draws, means = (dict(values["line"]) for values in (self._stage_draws, self._stage_means))
        draws["strike"], means["strike"] = 0 * draws["strike"], 0 * means["strike"]
        weights = tuple(f"open_{name}" for name in _WEIGHTS)
        return self._summed(_worths(*draws.values())[1:], _worths(*means.values())[1:], weights, self._at, rows)

    def at_boards(self) -> Draws:
        """Once the entry board is known, over the rows that have one."""
        account = self._entries.account
        at = account.pairs["at"].to_numpy(dtype=int)
        draws, means = self._stage_draws["line"], self._stage_means["line"]
        rest = ("spare", "first_pins", "second_pins")
        drawn = _worths(account.boards, *(draws[name][:, at] for name in rest))
        mean = _worths(account.board, *(means[name][at] for name in rest))
        return self._summed(drawn, mean, ("strike", *_WEIGHTS), self._pair, self.logged)

    @property
    def _stage_draws(self) -> dict[str, dict[str, np.ndarray]]:
        return self._entries.account.stages.draws

    @property
    def _stage_means(self) -> dict[str, dict[str, np.ndarray]]:
        return self._entries.account.stages.means

    def _summed(
        self,
        draws: list[np.ndarray],
        means: list[np.ndarray],
        weights: Sequence[str],
        place: np.ndarray,
        rows: np.ndarray,
    ) -> Draws:
        rows = np.flatnonzero(rows & (self._codes >= 0))
        out = np.zeros((self._groups, len(draws[0])))
        if not len(rows):
            return out.T
        for drawn, mean, name in zip(draws, means, weights, strict=True):
            weight = self._entries.racks[name].to_numpy(dtype=float)[rows]
            shape = (self._groups, drawn.shape[1])
            out += sparse.csr_array((weight, (self._codes[rows], place[rows])), shape=shape) @ (drawn - mean).T
        return out.T


def _worths(strike: np.ndarray, spare: np.ndarray, first: np.ndarray, second: np.ndarray) -> list[np.ndarray]:
    """What multiplies each of the weights strike, first_pins, second_pins, spare and open."""
    none = 1 - strike
    return [strike, none * first, none * second, none * spare, none * (1 - spare)]


def _leaves(entries: Entries, codes: np.ndarray, groups: int, kind: str) -> Draws:
    """Draws (n, groups), less their point values, of the worth of leaves: left (``leave``) or shot at (``spare``)."""
    account, rows = entries.account, entries.leaves
    kept = codes >= 0
    place = np.searchsorted(account.leaves, rows["standing"].to_numpy(dtype=int)[kept])
    stood = np.array([len(pins(int(mask))) for mask in account.leaves], dtype=float)
    more_pins = (stood - account.miss_pins)[place]
    made, of_pins = (rows[f"{kind}_{name}"].to_numpy(dtype=float)[kept] for name in ("made", "pins"))
    matrix = sparse.csr_array((made + of_pins * more_pins, (codes[kept], place)), shape=(groups, len(account.leaves)))
    return (matrix @ (account.spares - account.spare).T).T
