"""The invented club: its bowlers, their balls, the oil patterns of its centre and the hidden numbers behind them.

Nothing here describes a real person, maker, ball, centre or pattern. The hidden numbers (skills, hook, wear) are
drawn from a seed, so another seed is another season of the same club.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

CENTRE = "Quillfen Bowl"
LEAVES = 36  # kinds of leave in mechanism.py
CLASSES = (
    "polyester",
    "urethane",
    "symmetric pearl",
    "symmetric hybrid",
    "symmetric solid",
    "asymmetric pearl",
    "asymmetric hybrid",
    "asymmetric solid",
)
PATTERN_CLASSES = ("short", "medium", "long")

# Hook strength of a fresh ball, 0 straight to 1 the most; and how each class carries by pattern class (logit), and
# how that changes with each game into the block. Invented, ordered as common practice orders them.
STRENGTH = np.array([0.0, 0.30, 0.45, 0.55, 0.65, 0.60, 0.75, 0.90])
CARRY = np.array(
    [
        [-0.60, -0.70, -0.80],
        [0.30, -0.05, -0.40],
        [0.10, 0.15, 0.00],
        [0.00, 0.15, 0.10],
        [-0.05, 0.10, 0.20],
        [0.00, 0.20, 0.10],
        [-0.20, 0.10, 0.25],
        [-0.35, 0.00, 0.35],
    ]
)
GAME_SLOPE = np.array([0.0, 0.02, 0.03, 0.00, -0.05, 0.02, -0.04, -0.09])

#             id        name                hand    style         coach  born  revs speed  skill entry_sd spare arsenal
ROSTER = [
    ("maren", "Maren Oskvald", "right", "one-handed", None, 1968, 340, 16.4, 0.20, 1.25, 0.55, 9),
    ("tevin", "Tevin Aldrake", "right", "two-handed", "maren", 1999, 520, 18.2, 0.25, 1.45, 0.00, 10),
    ("pialor", "Pia Lorrimund", "left", "one-handed", "maren", 1987, 310, 15.6, 0.00, 1.45, 0.30, 8),
    ("joss", "Joss Wenderby", "right", "one-handed", "maren", 1979, 400, 17.0, 0.10, 1.55, 0.10, 8),
    ("oda", "Oda Krellin", "left", "two-handed", "maren", 2010, 450, 16.0, -0.10, 1.80, -0.35, 7),
    ("halvo", "Halvo Quennet", "right", "one-handed", None, 1961, 250, 14.8, -0.25, 2.00, -0.10, 6),
    ("brisa", "Brisa Tolomeer", "right", "one-handed", "maren", 1993, 370, 16.7, 0.05, 1.60, 0.20, 8),
]

#            id          name                length volume ratio
PATTERNS = [
    ("withy", "Withy", 33.0, 19.5, 3.0),
    ("sluice", "Sluice", 36.0, 23.0, 6.0),
    ("fenhouse", "Fen House", 40.0, 24.5, 10.0),
    ("culvert", "Culvert", 39.0, 26.0, 3.5),
    ("peatcut", "Peat Cut", 41.0, 21.0, 5.0),
    ("longmere", "Longmere", 44.0, 28.0, 3.8),
    ("saltings", "Saltings", 47.0, 30.5, 2.6),
]

# What their owners call the balls: things out of kitchens and sheds.
_NICKNAMES = (
    "Turnip",
    "Tea Urn",
    "Gooseberry",
    "Sourdough",
    "Paving Slab",
    "Rhubarb",
    "Brown Jug",
    "Dishcloth",
    "Biscuit Tin",
    "Porridge",
    "Plum Stone",
    "Watering Can",
    "Old Wellington",
    "Marrowbone",
    "Pickle Jar",
    "Flagstone",
    "Butter Churn",
    "Cold Custard",
    "Doorstop",
    "Beetroot",
    "Coal Scuttle",
    "Treacle",
    "Mulberry",
    "Wheelbarrow",
    "Wet Sock",
    "Suet",
    "Damson",
    "Ham Hock",
    "Candle End",
    "Bootscraper",
    "Parsnip",
    "Lampshade",
    "Oatcake",
    "Elderflower",
    "Tin Bath",
    "Mangle",
    "Crab Apple",
    "Curtain Ring",
    "Gravy Boat",
    "Bramble Jelly",
    "Doormat",
    "Kindling",
    "Quince",
    "Ladle",
    "Tarpaulin",
    "Rice Pudding",
    "Hat Stand",
    "Sloe",
    "Egg Cup",
    "Hearth Brush",
    "Kale",
    "Chutney",
    "Thimble",
    "Bread Bin",
    "Medlar",
    "Trivet",
)

_COVER_CORE = {
    "polyester": ("polyester", "symmetric"),
    "urethane": ("urethane", "symmetric"),
    "symmetric pearl": ("pearl", "symmetric"),
    "symmetric hybrid": ("hybrid", "symmetric"),
    "symmetric solid": ("solid", "symmetric"),
    "asymmetric pearl": ("pearl", "asymmetric"),
    "asymmetric hybrid": ("hybrid", "asymmetric"),
    "asymmetric solid": ("solid", "asymmetric"),
}
# The order in which an arsenal grows; the spare ball always comes first, the benchmark second.
_ARSENAL = (0, 3, 6, 2, 1, 7, 4, 5, 5, 2)


@dataclass(frozen=True)
class World:
    """Everything hidden. Arrays are indexed by bowler, ball or pattern number; logit unless a name says otherwise."""

    bowlers: pd.DataFrame
    balls: pd.DataFrame
    patterns: pd.DataFrame
    skill: np.ndarray
    spare_skill: np.ndarray
    spare_own: np.ndarray  # (bowlers, leaves of mechanism.py): what one leave is easier for one bowler than the rest
    entry_sd: np.ndarray  # boards
    entry_bias: np.ndarray  # boards
    revs: np.ndarray  # rpm
    speed: np.ndarray  # mph
    owner: np.ndarray
    ball_class: np.ndarray
    strength: np.ndarray  # 0 to 1
    ball_effect: np.ndarray
    carry_wear: np.ndarray  # lost per game since the last resurfacing
    hook_wear: np.ndarray  # strength lost per game since the last resurfacing
    length: np.ndarray  # feet
    volume: np.ndarray  # mL
    ratio: np.ndarray
    pattern_class: np.ndarray
    block_sd: float

    def ball_number(self, ids: pd.Series) -> np.ndarray:
        """Ball numbers of ball ids; -1 where unknown."""
        return pd.Index(self.balls["ball"]).get_indexer(pd.Index(ids))

    def bowler_number(self, ids: pd.Series) -> np.ndarray:
        """Bowler numbers of bowler ids; -1 where unknown."""
        return pd.Index(self.bowlers["bowler"]).get_indexer(pd.Index(ids))


def make_world(rng: np.random.Generator, clubs: int = 1) -> World:
    """Draw the hidden numbers of ``clubs`` clubs of seven bowlers each (ids of the second club end in ``-2``...).

    Nobody has a pet leave here: ``spare_own`` is zero.
    """
    bowlers = pd.concat([_bowler_rows(club) for club in range(clubs)], ignore_index=True)
    hidden = np.tile(np.array([row[6:11] for row in ROSTER], dtype=float), (clubs, 1))
    revs, speed, skill, entry_sd, spare = hidden.T
    number = len(bowlers)
    balls, owner, ball_class = _ball_rows(rng, bowlers["bowler"].tolist(), [row[11] for row in ROSTER] * clubs)
    patterns = pd.DataFrame(PATTERNS, columns=["pattern", "name", "length_ft", "volume_ml", "ratio"])
    length = patterns["length_ft"].to_numpy()
    count = len(balls)
    return World(
        bowlers=bowlers,
        balls=balls,
        patterns=patterns,
        skill=skill + rng.normal(0, 0.12, number),
        spare_skill=spare + rng.normal(0, 0.15, number),
        spare_own=np.zeros((number, LEAVES)),
        entry_sd=entry_sd * np.exp(rng.normal(0, 0.05, number)),
        entry_bias=rng.normal(0, 0.15, number),
        revs=revs,
        speed=speed,
        owner=owner,
        ball_class=ball_class,
        strength=np.clip(STRENGTH[ball_class] + rng.normal(0, 0.03, count), 0, 1),
        ball_effect=rng.normal(0, 0.15, count),
        carry_wear=np.where(ball_class == 0, 0, rng.gamma(6, 0.001, count)),
        hook_wear=np.where(ball_class == 0, 0, rng.gamma(6, 0.0004, count)),
        length=length,
        volume=patterns["volume_ml"].to_numpy(),
        ratio=patterns["ratio"].to_numpy(),
        pattern_class=np.where(length <= 37, 0, np.where(length < 43, 1, 2)),
        block_sd=0.15,
    )


def _bowler_rows(club: int) -> pd.DataFrame:
    suffix = "" if club == 0 else f"-{club + 1}"
    rows = [
        (bowler + suffix, name + suffix, hand, style, coach and coach + suffix, born)
        for bowler, name, hand, style, coach, born, *_ in ROSTER
    ]
    return pd.DataFrame(rows, columns=["bowler", "name", "hand", "style", "coach", "birth_year"])


def _ball_rows(
    rng: np.random.Generator, bowlers: list[str], sizes: list[int]
) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    rows, owner, classes = [], [], []
    for number, (bowler, size) in enumerate(zip(bowlers, sizes, strict=True)):
        for place in range(size):
            kind = _ARSENAL[place]
            cover, core = _COVER_CORE[CLASSES[kind]]
            grit = {"polyester": 5500, "urethane": 1000, "pearl": 4000, "hybrid": 3000, "solid": 2000}[cover]
            rows.append(
                {
                    "ball": f"{bowler}-{place}",
                    "bowler": bowler,
                    "name": _NICKNAMES[len(rows) % len(_NICKNAMES)],
                    "cover": cover,
                    "core": core,
                    "rg_in": round(float(rng.uniform(2.47, 2.60)) if kind else 2.69, 3),
                    "diff_in": round(float(rng.uniform(0.025, 0.055)) if kind else 0.008, 3),
                    "int_diff_in": round(float(rng.uniform(0.011, 0.022)), 3) if core == "asymmetric" else 0.0,
                    "layout": "" if kind == 0 else _layout(rng),
                    "surface_grit": grit,
                    "benchmark": place == 1,
                    "spare_ball": place == 0,
                    "games_before": int(rng.integers(0, 45)) if kind else 200,
                }
            )
            owner.append(number)
            classes.append(kind)
    return pd.DataFrame(rows), np.array(owner), np.array(classes)


def _layout(rng: np.random.Generator) -> str:
    """How a ball is drilled, in words: two angles in degrees and the pin's distance from the axis in inches."""
    first, pin = rng.integers(4, 8) * 10, rng.choice([3.5, 4, 4.5, 5])
    return f"drilled at {first} degrees; pin {pin:g} in from the axis; second angle 40 degrees"
