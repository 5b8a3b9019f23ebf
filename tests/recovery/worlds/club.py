"""The invented club that every world lends to its own mechanism: bowlers, bags of balls, patterns and a calendar.

Nothing here is a real person, ball or pattern. What a world adds is what a ball does on the lane; what is here is only
who bowls, with what, when, and how well they repeat a shot. Numbers are invented within what is commonly seen.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from sample_logs import mechanism as m

PATTERN_CLASSES = ("short", "medium", "long")
CLASSES = (
    ("polyester", "symmetric"),
    ("urethane", "symmetric"),
    ("pearl", "symmetric"),
    ("hybrid", "symmetric"),
    ("solid", "symmetric"),
    ("pearl", "asymmetric"),
    ("solid", "asymmetric"),
)
GRITS = (500, 1000, 1500, 2000, 3000, 4000)
FIRST_DAY = dt.date(2031, 9, 3)
PAIRS = 2
_NAMES = ("Ada Quill", "Bram Teasel", "Cleo Marsh", "Dov Pennant", "Esme Larch")
_PATTERNS = (
    ("alder", 34.0, 20.0, 4.0),
    ("birch", 36.0, 23.0, 7.0),
    ("cedar", 39.0, 24.0, 8.0),
    ("drift", 41.0, 26.0, 3.5),
    ("elder", 44.0, 27.0, 5.0),
    ("furze", 46.0, 29.0, 2.8),
)


@dataclass(frozen=True)
class Slot:
    """One block: its date, number of pattern, games, who bowls on which of two pairs, and whether pairs are changed."""

    number: int
    date: dt.date
    pattern: int
    games: int
    bowlers: np.ndarray
    pair: np.ndarray
    moving: bool


@dataclass(frozen=True)
class Club:
    """Arrays are by number of bowler, ball or pattern; boards from the bowler's own side."""

    bowlers: pd.DataFrame
    balls: pd.DataFrame
    patterns: pd.DataFrame
    slots: list[Slot]
    side: np.ndarray  # 1 for a left-hander
    revs: np.ndarray  # in standard deviations over bowlers
    skill: np.ndarray  # logits of carry
    spare_skill: np.ndarray
    aim_sd: np.ndarray  # boards at the arrows
    entry_sd: np.ndarray  # boards at the pins from speed and release
    follow: np.ndarray  # share of what is seen that the bowler moves by
    owner: np.ndarray
    bags: list[np.ndarray]  # strike balls by bowler
    spare_ball: np.ndarray  # by bowler
    length: np.ndarray
    volume: np.ndarray
    ratio: np.ndarray
    pattern_class: np.ndarray
    grit: np.ndarray
    spare_chance: np.ndarray = field(repr=False)  # (bowlers, 1024)

    @property
    def pin_to_pap(self) -> np.ndarray:
        """Inches from pin to positive axis point, as the layout has it."""
        return np.array([float(text.split("pin ")[1].split()[0]) if text else 4.5 for text in self.balls["layout"]])


def make_club(rng: np.random.Generator, blocks: int = 27) -> Club:
    """Draw a club of five bowlers and a calendar of ``blocks`` blocks of three or four games."""
    count = len(_NAMES)
    ids = [name.split()[0].lower() for name in _NAMES]
    side = np.array([0, 0, 1, 0, 0])
    bowlers = pd.DataFrame(
        {
            "bowler": ids,
            "name": list(_NAMES),
            "hand": np.where(side == 1, "left", "right"),
            "style": ["one-handed", "two-handed", "one-handed", "one-handed", "two-handed"],
            "coach": None,
            "birth_year": [1971, 1998, 1985, 1979, 1993],
        }
    )
    balls, owner = _balls(rng, ids)
    patterns = pd.DataFrame(_PATTERNS, columns=["pattern", "length_ft", "volume_ml", "ratio"])
    patterns.insert(1, "name", patterns["pattern"].str.title())
    length = patterns["length_ft"].to_numpy()
    spare_skill = rng.normal(0.1, 0.3, count)
    ease = np.zeros(1024)
    ease[m.LEAVE_MASKS] = m.LEAVE_EASE
    spares = balls["spare_ball"].to_numpy(dtype=bool)
    return Club(
        bowlers=bowlers,
        balls=balls,
        patterns=patterns,
        slots=_calendar(rng, blocks, count),
        side=side,
        revs=rng.normal(0, 1, count),
        skill=rng.normal(0, 0.2, count),
        spare_skill=spare_skill,
        aim_sd=rng.uniform(0.7, 1.3, count),
        entry_sd=rng.uniform(0.8, 1.3, count),
        follow=rng.uniform(0.25, 0.9, count),
        owner=owner,
        bags=[np.flatnonzero((owner == k) & ~spares) for k in range(count)],
        spare_ball=np.array([np.flatnonzero((owner == k) & spares)[0] for k in range(count)]),
        length=length,
        volume=patterns["volume_ml"].to_numpy(),
        ratio=patterns["ratio"].to_numpy(),
        pattern_class=np.where(length <= 37, 0, np.where(length < 43, 1, 2)),
        grit=balls["surface_grit"].to_numpy(dtype=float),
        spare_chance=1 / (1 + np.exp(-(spare_skill[:, None] + ease[None, :]))),
    )


def _balls(rng: np.random.Generator, ids: list[str]) -> tuple[pd.DataFrame, np.ndarray]:
    """A spare ball and four to six strike balls each, their numbers drawn apart from cover and core."""
    rows, owner = [], []
    for number, bowler in enumerate(ids):
        kinds = [0, 3, *rng.permutation([1, 2, 4, 5, 6])[: rng.integers(3, 6)]]
        for place, kind in enumerate(kinds):
            cover, core = CLASSES[kind]
            rows.append(
                {
                    "ball": f"{bowler}-{place}",
                    "bowler": bowler,
                    "name": f"{bowler.title()} {place}",
                    "cover": cover,
                    "core": core,
                    "rg_in": round(float(rng.uniform(2.46, 2.60)), 3) if kind else 2.69,
                    "diff_in": round(float(rng.uniform(0.020, 0.058)), 3) if kind else 0.008,
                    "int_diff_in": round(float(rng.uniform(0.008, 0.022)), 3) if core == "asymmetric" else 0.0,
                    "layout": _layout(rng) if kind else "",
                    "surface_grit": int(rng.choice(GRITS)) if kind else 5500,
                    "benchmark": place == 1,
                    "spare_ball": place == 0,
                    "games_before": float(rng.integers(0, 30)),
                }
            )
            owner.append(number)
    return pd.DataFrame(rows), np.array(owner)


def _calendar(rng: np.random.Generator, blocks: int, count: int) -> list[Slot]:
    order = np.concatenate([rng.permutation(len(_PATTERNS)) for _ in range(blocks // len(_PATTERNS) + 1)])
    slots = []
    for number in range(blocks):
        here = np.sort(rng.choice(count, int(rng.integers(4, count + 1)), replace=False))
        pair = rng.permutation(np.arange(len(here)) % PAIRS)
        day = FIRST_DAY + dt.timedelta(days=7 * number)
        games = int(rng.choice([3, 4, 4, 4]))
        slots.append(Slot(number, day, int(order[number]), games, here, pair, bool(rng.random() < 0.4)))
    return slots


def _layout(rng: np.random.Generator) -> str:
    """How a ball is drilled, in words: an angle in degrees and the pin's distance from the axis in inches."""
    angle = 10 * rng.integers(3, 8)
    return f"drilled at {angle} degrees; pin {rng.choice([2.5, 3.5, 4.5, 5.5])} in from the axis"
