"""The habits that cost a bowler most pins over the season.

Choices of ball and line are measured against what the bowler usually chooses on such lanes; spares and entry against
the class, since against the bowler's own usual they average to zero. A habit is named only if it probably costs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

import numpy as np
import pandas as pd

from pipeline.decisions.estimates import estimates
from pipeline.decisions.ledger.accounts import part_name
from pipeline.decisions.records import CostlyHabit, Estimate, LedgerAgainst, Phase
from pipeline.decisions.wording.ledger import habit_sentence
from pipeline.decisions.wording.names import ball_named
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.class_usual import CLASS, OWN
from pipeline.pricing.ledger.deliveries import Ledger, open_ledger
from pipeline.pricing.ledger.sums import Entries, entries, part_sums
from pipeline.sport.lane import phase_of
from pipeline.sport.leaves import leave_type

LEAST = 0.3
"""Pins per game below which a habit is not worth naming."""
MOST = 3
"""Habits named for each bowler."""
_WHERE = ["pattern_class", "phase"]


@dataclass(frozen=True)
class _HabitKind:
    """Habits of one kind: the part of the ledger, the reference, and the columns that distinguish them."""

    part: str
    against: str
    columns: tuple[str, ...]


_HABIT_KINDS = (
    _HabitKind("ball", OWN, ("ball", *_WHERE)),
    _HabitKind("line", OWN, ("line", *_WHERE)),
    _HabitKind("entry", CLASS, ()),
    _HabitKind("spare", CLASS, ("leave_type",)),
)


def costly_habits(fitted: Fitted) -> list[CostlyHabit]:
    """At most ``MOST`` habits per bowler, the costliest first, each probably costing pins and on enough shots."""
    book = open_ledger(fitted)
    out: list[CostlyHabit] = []
    for bowler in dict.fromkeys(bowler for _, bowler in book.accounts):
        habits = sorted(_of_bowler(book, fitted.fits, bowler), key=lambda habit: habit.pins.mean)
        out += habits[:MOST]
    return out


def _of_bowler(book: Ledger, fits: Fits, bowler: str) -> Iterator[CostlyHabit]:
    for kind in _HABIT_KINDS:
        rows = entries(book, kind.against, bowler)
        games = int(rows.totals["games"].sum())
        if games:
            yield from _of_kind(kind, rows, fits, bowler, games)


def _of_kind(kind: _HabitKind, ledger_rows: Entries, fits: Fits, bowler: str, games: int) -> Iterator[CostlyHabit]:
    evidence = fits.settings.evidence
    rows = _leaves(ledger_rows) if kind.part == "spare" else _racks(ledger_rows, fits)
    if rows.empty:
        return
    of = rows.groupby([*kind.columns, "all"], sort=True)
    shots = of["shots"].sum()
    codes = of.ngroup().to_numpy()
    if kind.part == "spare":
        pins, draws = part_sums(ledger_rows, kind.part, np.full(len(ledger_rows.racks), -1), codes, len(shots))
    else:
        pins, draws = part_sums(ledger_rows, kind.part, codes, np.full(len(ledger_rows.leaves), -1), len(shots))
    draws = draws / games
    draws = draws - draws.mean(axis=0) + pins / games
    costs = (draws < 0).mean(axis=0)
    keys = shots.reset_index().to_dict("records")
    for group, (value, key) in enumerate(zip(estimates(draws), keys, strict=True)):
        if value.mean > -LEAST or costs[group] < evidence.best_probability or key["shots"] < evidence.min_shots:
            continue
        yield _habit(kind, {str(column): str(of) for column, of in key.items()}, value, float(costs[group]), bowler)


def _racks(rows: Entries, fits: Fits) -> pd.DataFrame:
    """Rack rows with their phase."""
    phase = [phase_of(int(game), fits.settings.phases) for game in rows.racks["game"]]
    return rows.racks.assign(phase=phase, all=True)


def _leaves(rows: Entries) -> pd.DataFrame:
    """Leave rows with the type of the leave."""
    return rows.leaves.assign(leave_type=[leave_type(int(mask)) for mask in rows.leaves["standing"]], all=True)


def _habit(kind: _HabitKind, key: dict[str, str], value: Estimate, probability: float, bowler: str) -> CostlyHabit:
    ball = key.get("ball")
    record = CostlyHabit(
        bowler=bowler,
        part=part_name(kind.part),
        against=cast(LedgerAgainst, kind.against),
        pattern_class=key.get("pattern_class"),
        phase=cast(Phase | None, key.get("phase")),
        ball=ball,
        ball_name=None if ball is None else ball_named(ball),
        line=key.get("line"),
        leave_type=key.get("leave_type"),
        pins=value,
        probability=probability,
        shots=int(key["shots"]),
        sentence="",
    )
    return record.model_copy(update={"sentence": habit_sentence(record)})
