"""Invented accounts of where the pins went, and blocks with their level and luck; parts add up as they must."""

from __future__ import annotations

import datetime as dt

import numpy as np

from pipeline.decisions import records as r
from tests.reports.invented_names import BALLS, BOWLERS, PATTERNS, estimate

PARTS: tuple[r.LedgerPartName, ...] = ("lane", "ball", "line", "entry", "carry", "leave", "spare", "foul", "order")


def _parts(rng: np.random.Generator, sd: float) -> list[r.LedgerPart]:
    return [r.LedgerPart(part=part, pins=estimate(float(rng.normal(0, sd)), 0.8)) for part in PARTS]


def _total(parts: list[r.LedgerPart]) -> float:
    return sum(part.pins.mean for part in parts)


def accounts(rng: np.random.Generator) -> list[r.LedgerAccount]:
    rows = []
    for place, bowler in enumerate(BOWLERS):
        for against in ("class", "own usual"):
            parts = _parts(rng, 2.5 if against == "class" else 0.6)
            expected = 190.0 if against == "class" else 190.0 + place
            rows.append(
                r.LedgerAccount(
                    bowler=bowler,
                    against=against,
                    games=100,
                    shots=1180,
                    expected=estimate(expected, 2.0),
                    scored=expected + _total(parts),
                    parts=parts,
                )
            )
    return rows


def blocks(rng: np.random.Generator) -> list[r.BlockLedger]:
    rows = []
    for place, bowler in enumerate(BOWLERS):
        for number in range(12 if bowler != "b6" else 1):
            parts = _parts(rng, 4.0)
            expected = 190.0 + place
            scored = expected + _total(parts)
            level = expected + 0.3 * (scored - expected)
            rows.append(
                r.BlockLedger(
                    bowler=bowler,
                    block=f"block {number}",
                    date=dt.date(2025, 9, 1) + dt.timedelta(days=14 * number),
                    pattern_class=PATTERNS[number % 3],
                    games=4,
                    shots=46,
                    expected=expected,
                    expected_there=expected + parts[0].pins.mean,
                    scored=scored,
                    level=estimate(level, 4.0),
                    luck=estimate(scored - level, 4.0),
                    luck_percentile=estimate(0.5 + 0.3 * np.tanh((scored - level) / 12), 0.05),
                    parts=parts,
                    sentence=f"{scored:.0f} a game: {parts[0].pins.mean:+.0f} lanes. The same shots score {level:.0f}.",
                )
            )
    return rows


def habits() -> list[r.CostlyHabit]:
    name = BALLS["anvil"][0]
    rows = []
    for bowler in list(BOWLERS)[:3]:
        rows.append(
            r.CostlyHabit(
                bowler=bowler,
                part="ball",
                against="own usual",
                pattern_class="long",
                phase="late",
                ball="anvil",
                ball_name=name,
                line=None,
                leave_type=None,
                pins=estimate(-1.1, 0.4),
                probability=0.97,
                shots=120,
                sentence=f"Throwing {name} on long patterns, late: about 1.1 pins per game over the season.",
            )
        )
        rows.append(
            r.CostlyHabit(
                bowler=bowler,
                part="spare",
                against="class",
                pattern_class=None,
                phase=None,
                ball=None,
                ball_name=None,
                line=None,
                leave_type="corner pin",
                pins=estimate(-0.8, 0.4),
                probability=0.93,
                shots=140,
                sentence="Missed spares (corner pin): about 0.8 pins per game over the season.",
            )
        )
    return rows
