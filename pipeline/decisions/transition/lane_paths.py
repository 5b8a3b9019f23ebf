"""Where the ball went down the lane: mean boards of each ball and line, by phase and pattern class."""

from __future__ import annotations

from typing import cast

import numpy as np

from pipeline.decisions.candidates import row_dicts
from pipeline.decisions.records import LanePath, Phase
from pipeline.decisions.wording.names import ball_named
from pipeline.models.fitted import Fitted

_FEWEST = 10  # shots; with fewer a path is too uncertain


def lane_paths(fitted: Fitted) -> list[LanePath]:
    """One path for each ball and line thrown at least ten times in a phase, those thrown most first."""
    rows = fitted.season.frame("cells/lane_paths")
    rows = rows[rows["bowler"].isin(list(fitted.fits.mix.shots)) & (rows["shots"] >= _FEWEST)]
    rows = rows.sort_values(["bowler", "pattern_class", "phase", "shots"], ascending=[True, True, True, False])
    return [
        LanePath(
            bowler=str(row["bowler"]),
            pattern_class=str(row["pattern_class"]),
            phase=cast(Phase, row["phase"]),
            ball=str(row["ball"]),
            ball_name=ball_named(row["ball"]),
            line=str(row["line"]),
            laydown=_known(row["laydown"]),
            arrow=float(row["arrow"]),
            breakpoint=_known(row["breakpoint"]),
            breakpoint_ft=_known(row["breakpoint_ft"]),
            entry=_known(row["entry"]),
            shots=int(row["shots"]),
        )
        for row in row_dicts(rows)
    ]


def _known(value: object) -> float | None:
    number = float(cast(float, value))
    return None if np.isnan(number) else number
