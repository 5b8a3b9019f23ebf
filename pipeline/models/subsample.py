"""The few bowlers of a large season whose effects are kept, and whom the lesser models learn from.

The worth model learns from everybody. Joint draws of everybody's effects would not fit beside a season of ten million
deliveries, and a report is about a club at most; so where the season is large the others' effects are let go after each
fit. A million first deliveries settle what all bowlers share in entry boards, leaves and spares; of a larger log those
models learn from some of the bowlers, whoever the report is about among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.store.season import Season

_HEARD = 1_000_000  # first deliveries beyond which a lesser model learns from some of the bowlers
_COMPARED = 200_000  # first deliveries that settle how balls age and what a class can do


@dataclass(frozen=True)
class Few:
    """Who is kept and heard.

    Attributes:
        bowlers: those whose effects are kept.
        balls: the balls listed as theirs.
        heard: bowlers that the models of entry boards, leaves and spares learn from; None for all.
        notes: sentences for the report.
    """

    bowlers: frozenset[str]
    balls: frozenset[str]
    heard: frozenset[str] | None = None
    notes: tuple[str, ...] = ()

    def rows(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells of these bowlers, and of their balls in others' hands."""
        return cells[cells["bowler"].isin(self.bowlers) | cells["ball"].isin(self.balls)].reset_index(drop=True)


def few_of(season: Season, bowlers: Sequence[str] | None) -> Few | None:
    """The few to keep; None, everybody, where nobody is named or the season is of a usual size."""
    if bowlers is None or not season.large():
        return None
    owned = season.connection.execute("SELECT ball, bowler FROM balls").fetchall()
    wanted = frozenset(bowlers)
    balls = frozenset(str(ball) for ball, bowler in owned if bowler in wanted)
    shots = season.frame("scope/bowlers_by_shots").set_index("bowler")["shots"]
    if shots.sum() <= _HEARD:
        return Few(wanted, balls)
    theirs = shots.index.isin(wanted)
    heard = wanted | _some(shots[~theirs], _HEARD - int(shots[theirs].sum()))
    return Few(wanted, balls, heard, (_said(len(heard), len(shots)),))


def compared_with(season: Season, bowlers: Sequence[str]) -> list[str]:
    """Of a large season the ``bowlers`` and others at random: whose balls and skills theirs are compared with."""
    shots = season.frame("scope/bowlers_by_shots").set_index("bowler")["shots"]
    theirs = shots.index.isin(bowlers)
    return sorted({*bowlers, *_some(shots[~theirs], _COMPARED - int(shots[theirs].sum()))})


def heard_cells(season: Season, query: str, few: Few | None) -> pd.DataFrame:
    """Rows of a query, of the bowlers heard."""
    return season.frame(query) if few is None or few.heard is None else season.frame_of(query, few.heard)


def _some(shots: pd.Series, room: int) -> frozenset[str]:
    """Bowlers at random, the same for the same log, as many as there is room for in first deliveries."""
    mixed = shots.sample(frac=1, random_state=0)
    return frozenset(mixed.index[(mixed.cumsum() <= room).to_numpy()])


def _said(heard: int, known: int) -> str:
    return (
        f"Carry by ball, line and game was learned from all {known:,} bowlers; entry boards, leaves and spares from "
        f"{heard:,} of them, those reported here and others picked at random."
    )
