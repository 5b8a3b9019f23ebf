"""Which grit carried best: surfaces of one ball at different grits compared, else surfaces of balls of its class.

Each stretch between two resurfacings has its own level in the wear model, at age zero and within its ball. Only a ball
thrown at two grits informs the comparison, so balls of one grit are left out. If the ball alone shows nothing, the
balls of its class are compared together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.decisions.estimates import estimate
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import GritEvidence
from pipeline.decisions.wording.ball_care import NoGrit, grit_sentence
from pipeline.models.balls.ball_wear import AgeingFit

_Whose = Literal["this ball", "its class"]
WORTH_NAMING = 0.6
"""A grit less likely than this to carry best is no evidence; as for a step of the playbook, our own choice."""


@dataclass(frozen=True)
class GritLog:
    """Rows of ``cells/ball_surfaces`` with draws of the level of each, and the class of each ball."""

    rows: pd.DataFrame
    fit: AgeingFit
    classes: Mapping[str, str]
    min_shots: int

    def of(self, ball: str, price: Floats) -> GritEvidence:
        """The grit that carried best for this ball, for its class if the ball does not show one, or no evidence.

        ``price``: (n,) pins per game per unit of the logit of a strike, for this ball.
        """
        return self._best(ball, price).model_copy(update={"now": self._now(ball)})

    def _now(self, ball: str) -> int | None:
        mine = self.rows[self.rows["ball"] == ball].sort_values("surface_number")["grit"]
        return None if mine.empty or pd.isna(mine.iloc[-1]) else int(mine.iloc[-1])

    def _best(self, ball: str, price: Floats) -> GritEvidence:
        kind = self.classes[ball]
        alike = [other for other in self.fit.balls if self.classes.get(other) == kind]
        of_ball, like = self._of([ball], price, "this ball"), None
        if of_ball is None or of_ball.probability is None or of_ball.probability < WORTH_NAMING:
            like = self._of(alike, price, "its class")
        for evidence in (of_ball, like):
            if evidence is not None and evidence.probability is not None and evidence.probability >= WORTH_NAMING:
                return evidence
        if of_ball is not None or like is not None:
            return _none("alike")
        return _none("not compared")

    def _of(self, balls: Sequence[str], price: Floats, of: _Whose) -> GritEvidence | None:
        """The best grit over these balls, by levels within each ball; None if no ball was thrown at two."""
        compared = self._two_grits[self._two_grits["ball"].isin(list(balls))].reset_index(drop=True)
        if compared.empty:
            return None
        levels = np.column_stack([self.fit.surface(b, int(k)) for b, k in compared[["ball", "surface_number"]].values])
        weight = compared["shots"].to_numpy(dtype=float)
        for at in compared.groupby("ball").indices.values():
            levels[:, at] -= (levels[:, at] @ (weight[at] / weight[at].sum()))[:, None]
        grits = sorted(compared["grit"].unique())
        at_grit = [np.flatnonzero(compared["grit"] == grit) for grit in grits]
        means = np.column_stack([levels[:, at] @ (weight[at] / weight[at].sum()) for at in at_grit])
        best = int(means.mean(axis=0).argmax())
        others = weight[compared["grit"] != grits[best]]
        rest = levels[:, compared["grit"] != grits[best]] @ (others / others.sum())
        over, shots = estimate(price * (means[:, best] - rest)), int(weight[at_grit[best]].sum())
        likely, grit = float(probability_best(means)[best]), int(grits[best])
        evidence = GritEvidence(grit=grit, over_others=over, probability=likely, of=of, shots=shots, sentence="")
        return _worded(evidence)

    @cached_property
    def _two_grits(self) -> pd.DataFrame:
        """Stretches of balls thrown at two grits or more, each grit of a ball with ``min_shots`` shots."""
        rows = self.rows[self.rows["grit"].notna() & (self.rows["shots"] > 0)]
        enough = rows.groupby(["ball", "grit"])["shots"].transform("sum") >= self.min_shots
        rows = rows[enough]
        return rows[rows.groupby("ball")["grit"].transform("nunique") >= 2]


def _none(why: NoGrit) -> GritEvidence:
    nothing = GritEvidence(grit=None, over_others=None, probability=None, of="no evidence", shots=0, sentence="")
    return _worded(nothing, why)


def _worded(evidence: GritEvidence, why_none: NoGrit = "alike") -> GritEvidence:
    return evidence.model_copy(update={"sentence": grit_sentence(evidence, why_none)})
