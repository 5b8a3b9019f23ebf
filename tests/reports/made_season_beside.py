"""An invented season beside the last; the parts of a ledger add up to the difference of the averages."""

from __future__ import annotations

import numpy as np

from pipeline.decisions import records as r
from tests.reports.invented_names import BALLS, BOWLERS, estimate
from tests.reports.made_ledger_answers import PARTS


def beside(rng: np.random.Generator) -> list[r.SeasonBeside]:
    """Records of every bowler but the last, who bowled one season."""
    return [item for place, bowler in enumerate(list(BOWLERS)[:-1]) for item in _of(rng, bowler, place)]


def _of(rng: np.random.Generator, bowler: str, place: int) -> list[r.SeasonBeside]:
    moved = rng.normal(0, 2, len(PARTS))
    games = {"games_last": 61, "games_this": 88}
    result = [_record(bowler, "average", "average", "pins", 180.0 + place, float(moved.sum()), games)]
    result += [
        _record(bowler, "ledger part", part, "pins", 0.0, float(by), games)
        for part, by in zip(PARTS, moved, strict=True)
    ]
    ball, name = list(BALLS.items())[place % len(BALLS)]
    of_ball = _record(bowler, "carry of a ball", "carry", "%", 52.0, 1.5, {})
    result.append(of_ball.model_copy(update={"ball": ball, "ball_name": name[0]}))
    result.append(_record(bowler, "skill", "single-pin spares", "%", 84.0, 3.0, {}))
    return [*result, _record(bowler, "skill", "accuracy at the arrows", "boards", 1.2, -0.1, {})]


def _record(
    bowler: str, kind: str, what: str, unit: str, last: float, by: float, games: dict[str, int]
) -> r.SeasonBeside:
    change = estimate(0.6 * by, 0.05 if unit == "boards" else 1.5)
    return r.SeasonBeside.model_validate(
        {
            "bowler": bowler,
            "kind": kind,
            "what": what,
            "unit": unit,
            "higher_is_better": unit != "boards",
            "last": last,
            "this": last + by,
            "change": change,
            "probability": 0.5 + 0.5 * min(abs(by) / 4, 0.98),
            "shots_last": 690,
            "shots_this": 1001,
            **games,
        }
    )
