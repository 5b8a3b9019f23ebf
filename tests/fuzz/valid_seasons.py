"""Valid seasons of every odd kind: few games, columns half filled, no strikes, all strikes, first deliveries only."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from hypothesis import strategies as st

from pipeline.intake.files.columns import REFERENCES, SHOTS

FILLS = ("none", "full", "rare", "constant", "on strikes", "extreme")
MEASURED = {
    "laydown_board": (12, 30, 0, 40),
    "arrow_board": (6, 20, 1, 39),
    "breakpoint_board": (3, 14, 0, 40),
    "breakpoint_ft": (36, 46, 10, 60),
    "entry_board": (15, 20, 0, 40),
    "entry_angle_deg": (3, 6, -2, 12),
    "speed_mph": (14, 19, 5, 30),
    "rev_rpm": (200, 450, 0, 700),
}
"""Optional column -> usual range and the ends of what a log may hold."""
SHOWN = ("usual", "one ball only", "spare balls too", "left-handers")
FRAMES = ("whole", "unfinished games", "first deliveries only")
CLUBS = ("alike", "one odd")
POSTED = ("all", "some", "none", "length only", "extreme")


@dataclass(frozen=True)
class ValidSeason:
    """What to write; every choice alone or together is a log an honest bowler could hand in.

    In a club with one odd bowler the first alone follows ``strikes``, ``spares``, ``frames`` and ``fills``; the others
    bowl and log as usual, and stay away now and then.
    """

    bowlers: int
    blocks: int
    games: int
    strikes: float
    spares: float
    frames: str
    bag: str
    club: str
    posted: str
    fills: dict[str, str]
    care: bool
    one_day: bool
    seed: int


valid_seasons = st.builds(
    ValidSeason,
    bowlers=st.integers(1, 5),
    blocks=st.integers(1, 14),
    games=st.integers(1, 6),
    strikes=st.sampled_from([0.0, 0.02, 0.3, 0.5, 0.9, 1.0]),
    spares=st.sampled_from([0.0, 0.6, 1.0]),
    frames=st.sampled_from(FRAMES),
    bag=st.sampled_from(SHOWN),
    club=st.sampled_from(CLUBS),
    posted=st.sampled_from(POSTED),
    fills=st.fixed_dictionaries({name: st.sampled_from(FILLS) for name in MEASURED}),
    care=st.booleans(),
    one_day=st.booleans(),
    seed=st.integers(0, 2**32 - 1),
)


def write_season(plan: ValidSeason, folder: Path) -> int:
    """Write the season's CSV files into ``folder``; returns the number of deliveries."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(plan.seed)
    bowlers = [f"bowler{k}" for k in range(plan.bowlers)]
    balls = [ball for bowler in bowlers for ball in _bag(plan, bowler, rng)]
    patterns = _patterns(plan, rng)
    first = dt.date(2026, 1, 10)
    blocks = [
        {
            "block": f"block{k}",
            "date": first if plan.one_day else first + dt.timedelta(days=4 * k),
            "pattern": ""
            if not patterns or (plan.posted == "some" and k % 2)
            else patterns[k % len(patterns)]["pattern"],
        }
        for k in range(plan.blocks)
    ]
    left = plan.bag == "left-handers"
    _write(
        folder / "bowlers.csv",
        "bowlers",
        [
            {"bowler": b, "hand": "left" if left and k % 2 == 0 else "right"} | _person(rng)
            for k, b in enumerate(bowlers)
        ],
    )
    _write(folder / "balls.csv", "balls", balls)
    _write(folder / "patterns.csv", "patterns", patterns)
    _write(folder / "blocks.csv", "blocks", blocks)
    _write(folder / "maintenance.csv", "maintenance", _care(plan, blocks, balls, rng))
    shots = [row for block in blocks for bowler in bowlers for row in _block(plan, block, bowler, balls, rng)]
    _write(folder / "shots.csv", "shots", shots)
    return len(shots)


Row = dict[str, object]


def _bag(plan: ValidSeason, bowler: str, rng: np.random.Generator) -> list[Row]:
    count = 1 if plan.bag == "one ball only" else int(rng.integers(1, 5))
    bag: list[Row] = []
    for k in range(count):
        numbers: Row = {"rg_in": 2.46 + 0.03 * k, "diff_in": 0.02 + 0.01 * k} if rng.random() < 0.6 else {}
        spare = plan.bag == "spare balls too" and k == count - 1
        cover = "polyester" if spare else str(rng.choice(["urethane", "pearl", "hybrid", "solid"]))
        core = "symmetric" if spare else str(rng.choice(["symmetric", "asymmetric"]))
        kind: Row = {"cover": cover, "core": core, "benchmark": "yes" if k == 0 else "no"}
        grit: Row = {"surface_grit": 2000, "games_before": 40} if rng.random() < 0.5 else {}
        bag.append(
            {"ball": f"{bowler}-{k}", "bowler": bowler, "spare_ball": "yes" if spare else "no"} | kind | numbers | grit
        )
    return bag


def _person(rng: np.random.Generator) -> Row:
    if rng.random() < 0.5:
        return {}
    return {
        "style": str(rng.choice(["one-handed", "two-handed"])),
        "birth_year": int(rng.integers(1940, 2016)),
        "coach": str(rng.choice(["coach 1", "coach 2"])),
    }


def _patterns(plan: ValidSeason, rng: np.random.Generator) -> list[Row]:
    if plan.posted == "none":
        return []
    lengths = [15, 60] if plan.posted == "extreme" else [36, 41, 45][: int(rng.integers(1, 4))]
    if plan.posted == "length only":
        return [{"pattern": f"p{length}", "length_ft": length} for length in lengths]
    wild = plan.posted == "extreme"
    return [
        {"pattern": f"p{x}", "length_ft": x, "volume_ml": 60 if wild else 24, "ratio": 50 if wild else 4}
        for x in lengths
    ]


def _care(plan: ValidSeason, blocks: list[Row], balls: list[Row], rng: np.random.Generator) -> list[Row]:
    if not plan.care:
        return []
    acts = ["clean", "surface", "resurface", "oil extraction"]
    some = [(block, ball) for block in blocks for ball in balls if rng.random() < 0.3]
    rows: list[Row] = []
    for block, ball in some:
        for act in rng.choice(acts, size=int(rng.integers(1, 4))):
            rows.append({"date": block["date"], "ball": ball["ball"], "action": str(act)})
    return rows


def _block(plan: ValidSeason, block: Row, bowler: str, balls: list[Row], rng: np.random.Generator) -> list[Row]:
    bag = [str(ball["ball"]) for ball in balls if ball["bowler"] == bowler]
    rows: list[Row] = []
    if plan.club == "one odd" and bowler != "bowler0":
        plan = replace(plan, strikes=0.5, spares=0.6, frames="whole", fills=dict.fromkeys(MEASURED, "full"))
        if rng.random() < 0.2:
            return rows
    games = int(rng.integers(1, plan.games + 1))
    for game in range(1, games + 1):
        last = int(rng.integers(1, 11)) if plan.frames == "unfinished games" and game == games else 10
        for frame in range(1, last + 1):
            where: Row = {"date": block["date"], "block": block["block"], "bowler": bowler, "lane": 5 + frame % 2}
            where |= {"game": game, "frame": frame}
            ball = bag[int(rng.integers(len(bag)))] if rng.random() < 0.5 else bag[(game - 1) % len(bag)]
            for delivery, (leave, foul) in enumerate(_frame(plan, frame, rng), start=1):
                said: Row = {"delivery": delivery, "ball": ball, "leave": leave, "foul": "yes" if foul else ""}
                rows.append(where | said | _measures(plan, leave == "X", rng))
    return rows


def _frame(plan: ValidSeason, frame: int, rng: np.random.Generator) -> list[tuple[str, bool]]:
    """The deliveries of a frame by the rules of the game: what stands after each, and whether it was a foul."""
    most = 1 if plan.frames == "first deliveries only" else 3 if frame == 10 else 2
    thrown: list[tuple[str, bool]] = []
    standing: list[int] = []  # nothing: a full rack comes next
    earned = frame < 10
    while len(thrown) < most:
        if not standing:
            if rng.random() < plan.strikes:
                thrown.append(("X", False))
                if frame < 10:
                    break
                earned = True
                continue
            standing = sorted(
                int(pin) for pin in rng.choice(np.arange(1, 11), size=int(rng.integers(1, 5)), replace=False)
            )
            foul = bool(rng.random() < 0.01)
            standing = list(range(1, 11)) if foul else standing
            thrown.append(("-".join(map(str, standing)), foul))
            continue
        if rng.random() < plan.spares:
            thrown.append(("/", False))
            standing, earned = [], True
            if frame < 10:
                break
            continue
        standing = sorted(
            int(pin) for pin in rng.choice(standing, size=int(rng.integers(1, len(standing) + 1)), replace=False)
        )
        thrown.append(("-".join(map(str, standing)), False))
        break
    if frame == 10 and not earned:
        return thrown[:2]
    return thrown


def _measures(plan: ValidSeason, strike: bool, rng: np.random.Generator) -> Row:
    row: Row = {}
    for name, fill in plan.fills.items():
        low, high, least, most = MEASURED[name]
        shown = {"none": False, "rare": rng.random() < 0.03, "on strikes": strike}.get(fill, True)
        if shown:
            value = {"constant": (low + high) / 2, "extreme": float(rng.choice([least, most]))}.get(fill)
            row[name] = round(2 * rng.uniform(low, high)) / 2 if value is None else value
    return row


def _write(path: Path, kind: str, rows: list[Row]) -> None:
    names = [column.name for column in (SHOTS if kind == "shots" else REFERENCES[kind])]
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, names, restval="")
        writer.writeheader()
        writer.writerows(rows)
