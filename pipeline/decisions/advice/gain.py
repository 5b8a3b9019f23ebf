"""What the advised way to play a cell gains over what the bowler threw there: their own mix of balls and lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.advice.policy import Playing
from pipeline.decisions.candidates import Candidates, CellKey, ChoiceRow
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import GainOverNow, Policy
from pipeline.decisions.season.summary import game_scores
from pipeline.decisions.wording.policy import gain_sentence
from pipeline.settings import BlockPhases
from pipeline.store.season import Season


def games_by_cell(season: Season) -> dict[CellKey, int]:
    """Games logged by bowler, pattern class and phase."""
    counts = game_scores(season).groupby(["bowler", "pattern_class", "phase"], as_index=False).size()
    cells = zip(counts["bowler"], counts["pattern_class"], counts["phase"], strict=True)
    return {(str(b), str(c), str(p)): int(n) for (b, c, p), n in zip(cells, counts["size"], strict=True)}


@dataclass(frozen=True)
class Thrown:
    """One ball on one line as thrown in a cell: its place, its share of the shots, and the pins per game that costs."""

    ball: str
    at: int
    share: float
    cost: float


def costliest(thrown: Sequence[Thrown]) -> int:
    """Place of what to give up first: the most thrown line of the ball that costs most over all its lines.

    If no ball costs anything, of the ball thrown most.
    """
    cost: defaultdict[str, float] = defaultdict(float)
    share: defaultdict[str, float] = defaultdict(float)
    for item in thrown:
        cost[item.ball] += item.cost
        share[item.ball] += item.share
    ball = max(cost, key=lambda one: (max(cost[one], 0.0), share[one]))
    return max((item for item in thrown if item.ball == ball), key=lambda item: item.share).at


def gain_over_now(options: Candidates, key: CellKey, playing: Playing, games: int, phases: BlockPhases) -> GainOverNow:
    """The gain of a policy over the bowler's own mix of a cell, draw by draw.

    Both are priced at the phase's mean game and oil. The mix is every ball thrown in the cell, weighted by first
    deliveries, with its line following the lane as the bowler moves it, so what is already thrown gains nothing.
    """
    places, policy = options.places[key], playing.record
    shots = options.shots_thrown(key)
    share = shots / shots.sum()
    gain: NDArray[np.float64] = playing.pins - options.following.pins[:, places] @ share
    so_now = [_is_so(options.choices[i], policy) for i in places]
    short = playing.pins.mean() - options.following.pins[:, places].mean(axis=0)
    others = [
        Thrown(str(options.choices[i]["ball"]), i, weight, weight * less)
        for i, weight, less, same in zip(places, share, short, so_now, strict=True)
        if not same and weight > 0
    ]
    most = options.choices[costliest(others)] if others else None
    value = estimate(gain)
    record = GainOverNow(
        gain=value,
        p_gain=float((gain > 0).mean()),
        share_now=float(share[so_now].sum()),
        games=games,
        pins_a_season=value.mean * games,
        instead_of_ball=None if most is None else str(most["ball"]),
        instead_of_line=None if most is None else str(most["line"]),
        sentence="",
    )
    other = None if most is None else str(most["ball_name"])
    return record.model_copy(update={"sentence": gain_sentence(key[1], key[2], phases, policy, record, other)})


def _is_so(row: ChoiceRow, policy: Policy) -> bool:
    return bool(row["ball"] == policy.ball and (not policy.keeps_line or row["line"] == policy.line))
