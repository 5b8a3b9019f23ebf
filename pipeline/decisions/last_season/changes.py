"""This season beside the last: average, parts of the ledger, carry of each ball, and skills.

Averages and parts are measured against the bowler's own usual over both seasons, so parts add up to the difference of
the averages. A season is a handful of evenings, which differ; see ``inference/shrunk_changes``.
Carry of a ball is measured against what the models expect on the same lanes, games and lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from pipeline.decisions.estimates import estimates
from pipeline.decisions.last_season.skills import skills_beside
from pipeline.decisions.ledger.accounts import part_name
from pipeline.decisions.period import with_the_last_season
from pipeline.decisions.records import Estimate, SeasonBeside
from pipeline.decisions.wording.names import ball_named
from pipeline.inference.shrunk_changes import Change, change_of, real_changes
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.class_usual import OWN
from pipeline.pricing.ledger.deliveries import PARTS, Ledger, open_ledger
from pipeline.pricing.ledger.sums import Sums, entries, sums

LEAST_BLOCKS = 3
"""Blocks of either season below which nothing is compared."""
_SCALES = {"average": 8.0, "ledger part": 4.0, "carry of a ball": 8.0}
"""Prior scale of the sd of real changes, pins per game or percentage points; our own choice, see the tests."""
_CHOICE = ["pattern", "game", "ball", "line"]
Kind = Literal["average", "ledger part", "carry of a ball"]
Pair = tuple[float, float]


@dataclass(frozen=True)
class _Compared:
    """One comparison before it is pooled with its like: last and this season's value and counts, and the change."""

    bowler: str
    kind: Kind
    what: str
    values: Pair
    games: tuple[int, int]
    shots: tuple[int, int]
    change: Change
    ball: str | None = None


def season_beside(fitted: Fitted) -> list[SeasonBeside]:
    """This season beside the last, by bowler; empty if there is no season before."""
    both = with_the_last_season(fitted)
    compared = [] if both is None else compare(*both)
    reported = [record for record in compared if record.bowler in fitted.fits.mix.shots]
    return [*reported, *skills_beside(fitted)]


def compare(fitted: Fitted, earlier: frozenset[str]) -> list[SeasonBeside]:
    """Compare two seasons of every bowler with ``LEAST_BLOCKS`` in either.

    Args:
        fitted: its season shows the deliveries of both seasons and no others.
        earlier: blocks of the season before.
    """
    book = open_ledger(fitted)
    compared: list[_Compared] = []
    for reference, bowler in book.accounts:
        if reference == OWN:
            compared += _of_bowler(book, bowler, earlier)
    out: dict[int, SeasonBeside] = {}
    for kind, what in dict.fromkeys((item.kind, item.what) for item in compared):
        places = [place for place, item in enumerate(compared) if (item.kind, item.what) == (kind, what)]
        changes = [compared[place].change for place in places]
        draws = real_changes(
            changes, _SCALES[kind], fitted.fits.n_draws, fitted.fits.generator(f"beside {kind} {what}")
        )
        for place, value, up in zip(places, estimates(draws), (draws > 0).mean(axis=0), strict=True):
            out[place] = _record(compared[place], value, max(float(up), 1 - float(up)))
    return [out[place] for place in sorted(out)]


def _record(item: _Compared, value: Estimate, probability: float) -> SeasonBeside:
    return SeasonBeside(
        bowler=item.bowler,
        kind=item.kind,
        what=item.what,
        ball=item.ball,
        ball_name=None if item.ball is None else ball_named(item.ball),
        unit="%" if item.kind == "carry of a ball" else "pins",
        higher_is_better=True,
        last=item.values[0],
        this=item.values[1],
        change=value,
        probability=probability,
        games_last=item.games[0],
        games_this=item.games[1],
        shots_last=item.shots[0],
        shots_this=item.shots[1],
    )


def _of_bowler(book: Ledger, bowler: str, earlier: frozenset[str]) -> Iterator[_Compared]:
    rows = entries(book, OWN, bowler)
    blocks = pd.Index(rows.totals["block"].astype(str))
    before = blocks.isin(list(earlier))
    if min(before.sum(), (~before).sum()) < LEAST_BLOCKS:
        return
    racks, leaves = (blocks.get_indexer(pd.Index(table["block"].astype(str))) for table in (rows.racks, rows.leaves))
    by_block = sums(rows, racks, leaves, len(blocks))
    games, shots = (rows.totals[name].to_numpy(dtype=float) for name in ("games", "shots"))
    counts = (_two(games, before), _two(shots, before))
    scored = rows.totals["scored"].to_numpy(dtype=float)
    columns: list[tuple[Kind, str, np.ndarray, float]] = [("average", "average", scored, 0.0)]
    for place, part in enumerate(PARTS):
        variance = _variance_of_models(by_block, place, games, before)
        columns.append(("ledger part", part_name(part), by_block.pins[:, place], variance))
    for kind, what, pins, variance in columns:
        change = change_of((pins[before], games[before]), (pins[~before], games[~before]), variance)
        if change is not None:
            values = (_ratio(pins, games, before), _ratio(pins, games, ~before))
            yield _Compared(bowler, kind, what, values, *counts, change)
    yield from _balls(book, bowler, earlier)


def _variance_of_models(by_block: Sums, place: int, games: np.ndarray, before: np.ndarray) -> float:
    """Variance that the models' posterior adds to the change of a part."""
    drawn = by_block.draws[:, :, place]
    this, last = (drawn[:, season].sum(axis=1) / games[season].sum() for season in (~before, before))
    return float((this - last).var())


def _balls(book: Ledger, bowler: str, earlier: frozenset[str]) -> Iterator[_Compared]:
    """Carry of each ball thrown in both seasons, less what the models expect, shot by shot."""
    least = book.fits.settings.evidence.min_shots
    cells = book.season.frame("ledger/ball_strikes", bowler=bowler)
    stages = book.accounts[OWN, bowler].stages
    places = stages.rows.reset_index(names="at")
    at = cells[_CHOICE].merge(places, on=_CHOICE, how="left")["at"].to_numpy(dtype=int)
    expected = stages.means["line"]["strike"][at] * cells["shots"]
    cells = cells.assign(over=cells["strikes"] - expected, before=cells["block"].astype(str).isin(list(earlier)))
    for ball, mine in cells.groupby("ball", sort=True):
        nights = mine.groupby(["before", "block"])[["shots", "strikes", "over"]].sum()
        before = nights.index.get_level_values("before").to_numpy(dtype=bool)
        shots, strikes, over = (nights[name].to_numpy(dtype=float) for name in ("shots", "strikes", "over"))
        counted = _two(shots, before)
        if min(counted) < least or min(before.sum(), (~before).sum()) < LEAST_BLOCKS:
            continue
        change = change_of((100 * over[before], shots[before]), (100 * over[~before], shots[~before]))
        if change is not None:
            share = (_ratio(100 * strikes, shots, before), _ratio(100 * strikes, shots, ~before))
            yield _Compared(bowler, "carry of a ball", "carry", share, (0, 0), counted, change, str(ball))


def _two(counts: np.ndarray, before: np.ndarray) -> tuple[int, int]:
    return int(counts[before].sum()), int(counts[~before].sum())


def _ratio(over: np.ndarray, under: np.ndarray, season: np.ndarray) -> float:
    return float(over[season].sum() / under[season].sum())
