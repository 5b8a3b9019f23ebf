"""Parts of the ledger summed over whatever is asked for, with draws of how sure each part is.

What a part is worth is a sum over balls of chances times what they bring, so its draws are draws of a few chances times
counts made in SQL: no delivery is looked at here. What was scored is known; what was expected and its split are
estimates, so in every draw what was expected and the parts add up to the same score. Games that are not complete are
left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.arrays import Draws
from pipeline.pricing.ledger import PARTS, Account, Ledger
from pipeline.sport.leaves import pins

_CHOICE = ["pattern", "game", "ball", "line"]
_WEIGHTS = ("first_pins", "second_pins", "spare", "open")
_AT = {part: place for place, part in enumerate(PARTS)}


@dataclass(frozen=True)
class Entries:
    """One bowler's ledger under one reference, in counts.

    Attributes:
        account: what it was valued by.
        racks: as ``queries/ledger/rack_weights``; leaves: as ``leave_weights``; totals: as ``block_totals``.
    """

    account: Account
    racks: pd.DataFrame
    leaves: pd.DataFrame
    totals: pd.DataFrame


@dataclass(frozen=True)
class Sums:
    """Parts of ``PARTS`` summed over groups: values ``pins`` (groups, parts), and ``draws`` (n, groups, parts) of them.

    ``base``: (n, groups), how far each draw of what was expected at the start lies from its value. The values add up to
    what the deliveries changed, and so does every draw with its ``base``.
    """

    pins: np.ndarray
    draws: Draws
    base: Draws


def entries(ledger: Ledger, reference: str, bowler: str) -> Entries:
    """Read the counts of one account."""
    of = {"reference": reference, "bowler": bowler}
    racks, leaves, totals = (
        ledger.season.frame(f"ledger/{name}", **of) for name in ("rack_weights", "leave_weights", "block_totals")
    )
    return Entries(ledger.accounts[reference, bowler], racks, leaves, totals)


def sums(entries: Entries, racks: Sequence[int] | np.ndarray, leaves: Sequence[int] | np.ndarray, groups: int) -> Sums:
    """Sum the parts of the rows of ``found`` over groups.

    Args:
        found: the account's rows.
        racks, leaves: the group of each row, from 0; -1 for a row that is in none.
        groups: how many.
    """
    point = np.zeros((groups, len(PARTS)))
    for rows, codes in ((entries.racks, np.asarray(racks)), (entries.leaves, np.asarray(leaves))):
        kept = codes >= 0
        for part, place in _AT.items():
            if f"by_{part}" in rows:
                point[:, place] += np.bincount(
                    codes[kept], rows[f"by_{part}"].to_numpy(dtype=float)[kept], minlength=groups
                )
    off, base = _deviations(entries, np.asarray(racks), np.asarray(leaves), groups)
    return Sums(point, point + off, base)


def _deviations(entries: Entries, racks: np.ndarray, leaves: np.ndarray, groups: int) -> tuple[Draws, Draws]:
    """How far each draw (n, groups, parts), and that of what was expected (n, groups), lies from the values."""
    stages = _Stages(entries, racks, groups)
    logged, foul = stages.logged, entries.racks["foul"].to_numpy(dtype=bool)
    rest = ~logged & ~foul
    everything = np.ones(len(foul), dtype=bool)
    base = stages.at_base()
    lane, ball, line = (stages.at(name, everything) for name in ("lane", "ball", "line"))
    line_logged, line_rest, line_foul = (stages.at("line", rows) for rows in (logged, rest, foul))
    carry_logged, carry_rest = (stages.missed(rows) for rows in (logged, rest))
    entry = stages.at_boards()
    left, faced = _leaves(entries, leaves, groups)
    by = {
        "lane": lane - base,
        "ball": ball - lane,
        "line": line - ball,
        "entry": entry - line_logged,
        "carry": carry_logged - entry,
        "entry_and_carry": carry_rest - line_rest,
        "leave": left - carry_logged - carry_rest,
        "spare": -faced,
        "foul": -line_foul,
    }
    by["order"] = -base - np.sum(list(by.values()), axis=0)
    return np.stack([by[part] for part in PARTS], axis=-1), base


class _Stages:
    """Draws, less their point values, of what the balls of each group were expected to bring at each stage."""

    def __init__(self, entries: Entries, racks: np.ndarray, groups: int) -> None:
        stages, rows = entries.account.stages, entries.racks
        places = stages.rows.reset_index(names="at")
        self._entries, self._codes, self._groups = entries, racks, groups
        self._at = rows[_CHOICE].merge(places, on=_CHOICE, how="left")["at"].to_numpy(dtype=int)
        pairs = entries.account.pairs.reset_index(names="pair")
        met = pd.DataFrame({"at": self._at, "entry_half": rows["entry_half"].astype(float)})
        found_at = met.merge(pairs.astype({"entry_half": float}), on=["at", "entry_half"], how="left")["pair"]
        self._pair = found_at.fillna(-1).to_numpy(dtype=int)
        self.logged = (self._pair >= 0) & ~rows["foul"].to_numpy(dtype=bool)

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
        mean = _worths(account.boards.mean(axis=0), *(means[name][at] for name in rest))
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
        for drawn, mean, name in zip(draws, means, weights, strict=True):
            weight = self._entries.racks[name].to_numpy(dtype=float)[rows]
            shape = (self._groups, drawn.shape[1])
            out += sparse.csr_array((weight, (self._codes[rows], place[rows])), shape=shape) @ (drawn - mean).T
        return out.T


def _worths(strike: np.ndarray, spare: np.ndarray, first: np.ndarray, second: np.ndarray) -> list[np.ndarray]:
    """What multiplies each of the weights strike, first_pins, second_pins, spare and open."""
    none = 1 - strike
    return [strike, none * first, none * second, none * spare, none * (1 - spare)]


def _leaves(entries: Entries, codes: np.ndarray, groups: int) -> tuple[Draws, Draws]:
    """Draws, less their point values, of what the leaves left and the leaves shot at are worth, (n, groups) each."""
    account, rows = entries.account, entries.leaves
    kept = codes >= 0
    place = np.searchsorted(account.leaves, rows["standing"].to_numpy(dtype=int)[kept])
    spares = account.spares - account.spare
    stood = np.array([len(pins(int(mask))) for mask in account.leaves], dtype=float)
    more_pins = (stood - account.miss_pins)[place]
    out = []
    for kind in ("leave", "spare"):
        made, of_pins = (rows[f"{kind}_{name}"].to_numpy(dtype=float)[kept] for name in ("made", "pins"))
        weight = made + of_pins * more_pins
        matrix = sparse.csr_array((weight, (codes[kept], place)), shape=(groups, len(account.leaves)))
        out.append((matrix @ spares.T).T)
    return out[0], out[1]
