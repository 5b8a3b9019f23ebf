"""Subsampling for large seasons: which bowlers' effects are kept and which train the secondary models.

The worth model learns from everybody. Joint draws of everybody's effects would not fit beside a season of ten million
deliveries, and a report is about a club at most; so if the season is large the others' effects are discarded after each
fit. A million first deliveries settle what all bowlers share in entry boards, leaves and spares; from a larger log
those models learn from some of the bowlers, always including those reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.models.notes import Note
from pipeline.store.season import Season

_TRAINING_SHOTS = 1_000_000  # first deliveries; beyond that a secondary model learns from some of the bowlers
_COMPARED = 200_000  # first deliveries that are enough for how balls age and what a class can do


@dataclass(frozen=True)
class Subsample:
    """Bowlers of a large season that a report needs.

    Attributes:
        bowlers: those whose effects are kept.
        balls: the balls listed as theirs.
        training_bowlers: those that the models of entry boards, leaves and spares learn from; None for all.
        notes: for the report.
    """

    bowlers: frozenset[str]
    balls: frozenset[str]
    training_bowlers: frozenset[str] | None = None
    notes: tuple[Note, ...] = ()

    def select(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells of these bowlers, and of their balls in others' hands."""
        return cells[cells["bowler"].isin(self.bowlers) | cells["ball"].isin(self.balls)].reset_index(drop=True)


def subsample_of(season: Season, bowlers: Sequence[str] | None) -> Subsample | None:
    """The subsample for a report about ``bowlers``; None, everybody, if None are named or the season is not large."""
    if bowlers is None or not season.large():
        return None
    owned, wanted = season.table("balls"), frozenset(bowlers)
    balls = frozenset(owned.loc[owned["bowler"].isin(wanted), "ball"].astype(str))
    shots = season.frame("scope/bowlers_by_shots").set_index("bowler")["shots"]
    if shots.sum() <= _TRAINING_SHOTS:
        return Subsample(wanted, balls)
    theirs = shots.index.isin(wanted)
    training_bowlers = wanted | _some(shots[~theirs], _TRAINING_SHOTS - int(shots[theirs].sum()))
    note = Note("learned_from_some", count=len(training_bowlers), of=len(shots))
    return Subsample(wanted, balls, training_bowlers, (note,))


def class_sample(season: Season) -> frozenset[str]:
    """Random bowlers of a large season who represent its class, whoever is reported."""
    return _some(season.frame("scope/bowlers_by_shots").set_index("bowler")["shots"], _COMPARED)


def compared_with(season: Season, bowlers: Sequence[str]) -> list[str]:
    """Bowlers to compare balls and skills with: for a large season the ``bowlers`` and the class."""
    return sorted({*bowlers, *class_sample(season)})


def training_cells(season: Season, query: str, subsample: Subsample | None) -> pd.DataFrame:
    """Rows of a query, of the training bowlers."""
    return (
        season.frame(query)
        if subsample is None or subsample.training_bowlers is None
        else season.frame_of(query, subsample.training_bowlers)
    )


def _some(shots: pd.Series, room: int) -> frozenset[str]:
    """Bowlers at random, the same for the same log, as many as there is room for in first deliveries."""
    mixed = shots.sample(frac=1, random_state=0)
    return frozenset(mixed.index[(mixed.cumsum() <= room).to_numpy()])
