"""Every ball on every line a bowler could be advised to use, priced once for all decisions that compare them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.arrays import Floats
from pipeline.decisions.records import PHASES
from pipeline.decisions.shrinkage import shift
from pipeline.decisions.wording.names import ball_named
from pipeline.models.fitted import Fitted, once
from pipeline.pricing.pins import Priced, price_both
from pipeline.pricing.rate_draws import mean_in_cells
from pipeline.sport.lane import NO_LINE
from pipeline.store.season import Season

CELL = ["bowler", "pattern_class", "phase"]
_CHOICE = ["bowler", "pattern_class", "ball", "line"]
_COUNTS = ["shots", "strikes", "shots_now"]
_BALL = ["ball_name", "ball_class", "rg_class", "diff_class", "surface_class", "benchmark", "spare_ball"]
ChoiceRow = dict[str, Any]
CellKey = tuple[str, str, str]
"""A bowler, a pattern class and a phase."""

# Shots in a phase from which a choice is priced or advised there. Choices that do not work are left quickly: over
# simulated seasons those thrown less were overrated, by some six pins at one or two shots; others were not.
TRIED = 10
ELSEWHERE = 0.05  # weight of a shot in another phase of the class, against one in the phase itself
_AT_A_TIME = 24  # bowlers whose choices are priced together when a whole club is priced


@dataclass(frozen=True)
class Candidates:
    """Choices by phase.

    Attributes:
        rows: one row per bowler, pattern class, phase, ball and line, for every phase the bowler logged on that class
            and every ball and line logged there in any phase, spare balls left out. Columns: those, ball_name,
            ball_class, rg_class, diff_class, surface_class, benchmark, spare_ball, game (mean of the cell's shots),
            shots and strikes (on exactly this choice in this phase), shots_now (shots in the period reported),
            class_shots (over all phases of the class). A report about a period has its phases, classes and balls, and
            the shots of the whole log.
        priced: posterior draws, one column per row of ``rows``, of the ball on that line, kept whatever the lane does.
        following: the same of the row's ball with the line following the lane, alike for all lines of the ball.

        drawn_in: (2, rows) pins added to both, first to lines kept, to draw them toward what is thrown in the cell
            (``shrinkage.py``); None if nothing was added. Scores are drawn in, too; rates are not.
    """

    rows: pd.DataFrame
    priced: Priced
    following: Priced
    drawn_in: Floats | None = None

    def drawn_in_by(self, at: int, line_kept: bool) -> float:
        """Pins added to the choice in this place, its line kept or following the lane."""
        return 0.0 if self.drawn_in is None else float(self.drawn_in[0 if line_kept else 1, at])

    @cached_property
    def choices(self) -> list[ChoiceRow]:
        """``rows`` as dictionaries, in order: one choice of ball and line each."""
        return row_dicts(self.rows)

    @cached_property
    def places(self) -> dict[CellKey, NDArray[np.intp]]:
        """(bowler, pattern class, phase) -> positions of its rows, phases in the order they are bowled."""
        return dict(self.cells())

    def shots_thrown(self, cell: CellKey) -> NDArray[np.intp]:
        """First deliveries with each choice of a cell in the period reported; if there is none, in the whole log."""
        of_cell = self.rows.iloc[self.places[cell]]
        now = of_cell["shots_now"].to_numpy()
        return now if now.any() else of_cell["shots"].to_numpy()

    def cells(self) -> list[tuple[CellKey, NDArray[np.intp]]]:
        """(bowler, pattern class, phase) and the positions of its rows, phases in the order they are bowled."""
        groups: dict[Any, Any] = dict(self.rows.groupby(CELL, sort=True).indices)
        order = sorted(groups, key=lambda key: (key[0], key[1], PHASES.index(key[2])))
        return [((str(b), str(c), str(p)), groups[(b, c, p)]) for b, c, p in order]


def row_dicts(frame: pd.DataFrame) -> list[ChoiceRow]:
    """Rows of a frame as dictionaries by column name."""
    names, columns = [str(name) for name in frame], [frame[name].tolist() for name in frame]
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


@once(stored=False)
def candidates(fitted: Fitted) -> Candidates:
    """The choices of those reported, priced."""
    return _priced(fitted, fitted.fits.mix.shots)


@once(stored=False)
def choice_rows(fitted: Fitted) -> pd.DataFrame:
    """``Candidates.rows`` of the same choices without pricing them, which takes most of the time of a plan."""
    return choices_of(fitted.season, fitted.fits.mix.shots)


def some_at_a_time(fitted: Fitted) -> Iterator[Candidates]:
    """The same choices, of some bowlers at a time: those of a large club priced at once would fill the memory."""
    bowlers = sorted(fitted.fits.mix.shots)
    if len(bowlers) <= _AT_A_TIME:
        yield candidates(fitted)
        return
    for start in range(0, len(bowlers), _AT_A_TIME):
        yield _priced(fitted, bowlers[start : start + _AT_A_TIME])


def _priced(fitted: Fitted, bowlers: Collection[str]) -> Candidates:
    rows = choices_of(fitted.season, bowlers)
    grid = priceable(rows)
    cell = rows.groupby([*CELL, "ball"], sort=False).ngroup().to_numpy()
    priced, following = price_both(fitted.fits, grid, cell, weight_of_lines(rows))
    return _drawn_in(rows, priced, following)


def _drawn_in(rows: pd.DataFrame, on_one_line: Priced, following: Priced) -> Candidates:
    """The candidates, drawn toward what each bowler throws in the cell, lines following the lane."""
    cell = rows.groupby(CELL, sort=False).ngroup().to_numpy().astype(np.intp)
    thrown = rows["shots"].to_numpy() >= TRIED
    mix = mean_in_cells(following.pins, cell, weight_of_lines(rows))
    by = np.zeros((2, len(rows)))
    for at in rows.groupby("bowler").indices.values():
        by[:, at] = [shift(priced.pins[:, at], mix[:, at], thrown[at]) for priced in (on_one_line, following)]
    return Candidates(rows, _moved(on_one_line, by[0]), _moved(following, by[1]), by)


def _moved(priced: Priced, by: Floats) -> Priced:
    return replace(priced, pins=priced.pins + by, score=priced.score + by)


def weight_of_lines(rows: pd.DataFrame) -> NDArray[np.float64]:
    """Weights (rows,): how often the bowler ends up on each row's line with its ball in its phase."""
    return (rows["shots"] + ELSEWHERE * rows["class_shots"]).to_numpy(dtype=float)


def choices_of(season: Season, bowlers: Collection[str]) -> pd.DataFrame:
    """``Candidates.rows`` of these bowlers, without their price."""
    of_period = season.period is not None
    logged = season.frame("scope/combinations_of_period" if of_period else "cells/logged_combinations")
    return candidate_rows(logged[logged["bowler"].isin(bowlers)])


def priceable(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows as ``price`` takes them, with a line not logged as missing."""
    grid = rows[["bowler", "pattern_class", "phase", "game", "ball", "ball_class", "line"]].copy()
    grid["line"] = grid["line"].where(grid["line"] != NO_LINE, None)
    return grid


def _for_strikes(logged: pd.DataFrame) -> pd.DataFrame:
    """Rows without spare balls, except of a bowler who threw nothing else."""
    only_spare = logged["spare_ball"].astype(bool).groupby(logged["bowler"]).transform("all")
    return logged[~logged["spare_ball"].astype(bool) | only_spare]


def candidate_rows(logged: pd.DataFrame) -> pd.DataFrame:
    """Choices by phase from rows of ``cells/logged_combinations``; see :class:`Candidates`.

    Without a column ``shots_now`` all shots are of the period reported.
    """
    logged = _for_strikes(logged if "shots_now" in logged else logged.assign(shots_now=logged["shots"]))
    logged = logged.assign(ball_name=logged["ball"].map(ball_named))
    logged = logged.assign(line=logged["line"].astype(object).where(logged["line"].notna(), NO_LINE))
    weighted = logged.assign(total=logged["game"] * logged["shots"])
    cells = weighted.groupby(CELL, as_index=False)[["total", "shots"]].sum()
    cells["game"] = cells["total"] / cells["shots"]
    choices = logged.groupby(_CHOICE, as_index=False).agg(
        class_shots=("shots", "sum"), **{name: (name, "first") for name in _BALL}
    )
    rows = cells[[*CELL, "game"]].merge(choices, on=["bowler", "pattern_class"])
    exact = logged[[*CELL, "ball", "line", *_COUNTS]]
    rows = rows.merge(exact, on=[*CELL, "ball", "line"], how="left")
    rows[_COUNTS] = rows[_COUNTS].fillna(0).astype(int)
    return rows.sort_values([*CELL, "ball", "line"], ignore_index=True)
