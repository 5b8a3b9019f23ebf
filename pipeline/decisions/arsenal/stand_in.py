"""The ball of the bag that would take another's place, in the cells where that one was thrown."""

from __future__ import annotations

import numpy as np

from pipeline.decisions.candidates import Candidates
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import StandIn
from pipeline.decisions.wording.names import ball_named

_SHARE = 0.5  # share of the ball's shots in cells where the other is priced too; below this it is no stand-in


ClassPhase = tuple[str, str]
"""A pattern class and a phase."""


def stand_in(options: Candidates, bowler: str, ball: str) -> StandIn | None:
    """The other ball of the bag worth most where this one was thrown; None if no other was priced on half of that.

    Pattern classes and phases count by the first deliveries thrown with the ball; lines follow the lane.
    """
    shots, places = _shots_and_places(options, bowler, ball)
    pins, best = options.following.pins, None
    for other in sorted(places.keys() - {ball}):
        shared = [cell for cell in shots if cell in places[other]]
        weight = np.array([shots[cell] for cell in shared], dtype=float)
        if weight.sum() < _SHARE * sum(shots.values()) or not shared:
            continue
        apart = pins[:, [places[other][cell] for cell in shared]] - pins[:, [places[ball][cell] for cell in shared]]
        gain = apart @ (weight / weight.sum())
        if best is None or gain.mean() > best.gain.mean:
            p_gain = float((gain > 0).mean())
            best = StandIn(ball=other, ball_name=ball_named(other), gain=estimate(gain), p_gain=p_gain)
    return best


def _shots_and_places(
    options: Candidates, bowler: str, ball: str
) -> tuple[dict[ClassPhase, int], dict[str, dict[ClassPhase, int]]]:
    """First deliveries with the ball by cell; and the first place among the candidates of each ball by cell."""
    shots: dict[ClassPhase, int] = {}
    places: dict[str, dict[ClassPhase, int]] = {}
    for at, row in enumerate(options.choices):
        if row["bowler"] != bowler or row["spare_ball"]:
            continue
        cell = (row["pattern_class"], row["phase"])
        places.setdefault(row["ball"], {}).setdefault(cell, at)
        if row["ball"] == ball and row["shots"]:
            shots[cell] = shots.get(cell, 0) + row["shots"]
    return shots, places
