"""What the bowlers wrote down of what happened: habits, gaps, mirrored leaves and a few honest mistakes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from sample_logs.mechanism import FULL
from sample_logs.play import ARROW_SD, Slot
from sample_logs.world import World

# Which of a club's seven bowlers log which optional columns (by place in the roster), and one who logs half.
_LOGS = {
    "laydown_board": {0, 1, 2, 3, 6},
    "breakpoint_board": {0, 1, 2},
    "breakpoint_ft": {0, 1},
    "entry_board": {0, 1, 2, 3, 4, 6},
    "entry_angle_deg": {0, 1},
    "speed_mph": {0, 1, 3},
    "rev_rpm": {1, 3},
}
_HALF_LOGGED = {6: "entry_board"}
_MIRROR = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}
_SEPARATOR = {0: "-", 1: "-", 2: " ", 3: ",", 4: "-", 5: "-", 6: "-"}
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct"]


def shots_frame(
    rng: np.random.Generator, world: World, slots: list[Slot], played: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The shot log, one row a delivery in the columns of shots*.csv ordered as bowled; and the racks beside it."""
    place = played["bowler"].to_numpy() % 7
    full = (played["facing"] == FULL).to_numpy()
    count = len(played)
    arrow = played["arrow"] + ARROW_SD * rng.normal(size=count)
    slot = played["slot"].to_numpy()
    pattern = np.array([s.pattern for s in slots])[slot]
    dates = np.array([s.date.isoformat() for s in slots])[slot]
    club = played["club"].to_numpy()
    blocks = np.array([f"b{s.number + 1:02d}" for s in slots], dtype=object)[slot]
    if club.any():
        blocks = np.where(club == 0, blocks, blocks + "-" + (club + 1).astype(str).astype(object))
    breakpoint_board = world.length[pattern] - 31 + 0.2 * (arrow - 12) + rng.normal(0, 1, count)
    frame = pd.DataFrame(
        {
            "date": dates,
            "block": blocks,
            "bowler": world.bowlers["bowler"].to_numpy()[played["bowler"]],
            "lane": played["lane"],
            "game": played["game"],
            "frame": played["frame"],
            "delivery": played["delivery"],
            "ball": world.balls["ball"].to_numpy()[played["ball"]],
            "laydown_board": _half(arrow + 4 + 0.2 * (arrow - 12) + rng.normal(0, 0.5, count)),
            "arrow_board": _half(arrow),
            "breakpoint_board": _half(breakpoint_board).clip(1, 30),
            "breakpoint_ft": (world.length[pattern] + 2 + rng.normal(0, 1, count)).round(0),
            "entry_board": _half(played["entry"]),
            "entry_angle_deg": played["angle"].round(1),
            "speed_mph": (world.speed[played["bowler"]] + rng.normal(0, 0.3, count)).round(1),
            "rev_rpm": (world.revs[played["bowler"]] + rng.normal(0, 12, count)).round(-1),
            "leave": leave_texts(world, played, place),
            "foul": np.where(played["foul"], "yes", ""),
            "note": "",
        }
    )
    for column, places in _LOGS.items():
        kept = np.isin(place, list(places)) & full
        half = np.isin(place, [p for p, what in _HALF_LOGGED.items() if what == column])
        kept &= ~half | (rng.random(count) < 0.5)
        frame.loc[~kept, column] = np.nan
    order = np.lexsort([played["delivery"], played["frame"], played["game"], played["bowler"], club, slot])
    return frame.iloc[order].reset_index(drop=True), racks_frame(played.iloc[order])


def racks_frame(played: pd.DataFrame) -> pd.DataFrame:
    """Pins faced and left by the rules, and whether the rack was newly set, for deliveries in order."""
    standing = played["left"].where(~played["foul"], played["facing"])
    cleared = (standing == 0).shift(1, fill_value=False)
    first = (played["delivery"] == 1) | ((played["facing"] == FULL) & cleared)
    racks = pd.DataFrame({"facing": played["facing"], "standing": standing, "first_ball": first})
    return racks.reset_index(drop=True)


def leave_texts(world: World, played: pd.DataFrame, place: np.ndarray) -> np.ndarray:
    """Leaves as each bowler writes them: pins as they stand on the lane, so mirrored for left-handers."""
    left_handed = (world.bowlers["hand"] == "left").to_numpy()[played["bowler"]]
    left = played["left"].to_numpy()
    texts = np.where(played["facing"] == FULL, "X", "/").astype(object)
    for separator in set(_SEPARATOR.values()):
        writes = np.isin(place, [p for p, mark in _SEPARATOR.items() if mark == separator])
        for mirrored in (False, True):
            table = np.array([_text(mask, separator, mirrored) for mask in range(1024)], dtype=object)
            chosen = writes & (left_handed == mirrored) & (left > 0)
            texts[chosen] = table[left[chosen]]
    return texts


def _text(mask: int, separator: str, mirrored: bool) -> str:
    pins = [pin for pin in range(1, 11) if mask >> (pin - 1) & 1]
    return separator.join(str(pin) for pin in sorted(_MIRROR[pin] if mirrored else pin for pin in pins))


def _half(values: pd.Series) -> pd.Series:
    return (values * 2).round() / 2


def spoil(rng: np.random.Generator, shots: pd.DataFrame, count: int) -> pd.DataFrame:
    """Leave ``count`` honest mistakes in a shot log, of nine kinds in turn; a spreadsheet's dates come most."""
    shots = shots.astype(object)
    kinds = (_date, _duplicate, _date, _ball, _spare_leave, _date, _board, _lane, _speed, _bowler, _pin)
    free = np.ones(len(shots), dtype=bool)
    extra = []
    for number in range(count):
        extra += kinds[number % len(kinds)](rng, shots, free)
    if extra:
        shots = pd.concat([shots, shots.loc[extra]]).sort_index(kind="stable")
    return shots.reset_index(drop=True)


def _one(rng: np.random.Generator, rows: pd.Series, free: np.ndarray) -> int:
    row = int(rng.choice(np.flatnonzero(rows.to_numpy(dtype=bool) & free)))
    free[max(0, row - 3) : row + 4] = False
    return row


def _date(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    """A two-pin leave typed with a dash and turned into a day and a month."""
    row = _one(rng, shots["leave"].astype(str).str.fullmatch(r"\d+-\d+") & (shots["delivery"] == 1), free)
    month, day = (int(pin) for pin in str(shots.at[row, "leave"]).split("-"))
    shots.at[row, "leave"] = f"{day}-{_MONTHS[month - 1]}"
    return []


def _duplicate(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    return [_one(rng, shots["delivery"] == 2, free)]


def _ball(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    row = _one(rng, shots["delivery"] == 1, free)
    shots.at[row, "ball"] = str(shots.at[row, "ball"]).replace("-", "")
    return []


def _spare_leave(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    """A spare ball that leaves a pin the first ball had knocked down."""
    first = (shots["leave"].astype(str) == "10") & (shots["delivery"] == 1)
    row = _one(rng, first.shift(1, fill_value=False) & (shots["delivery"] == 2), free)
    shots.at[row, "leave"] = "4"
    return []


def _board(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    """A decimal point lost: 175 for 17.5."""
    row = _one(rng, shots["entry_board"].notna() & (shots["delivery"] == 1), free)
    shots.at[row, "entry_board"] = float(shots.at[row, "entry_board"]) * 10
    return []


def _lane(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    shots.at[_one(rng, shots["delivery"] == 1, free), "lane"] = "twelve"
    return []


def _speed(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    row = _one(rng, shots["speed_mph"].notna(), free)
    shots.at[row, "speed_mph"] = f"{shots.at[row, 'speed_mph']} mph"
    return []


def _bowler(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    row = _one(rng, shots["delivery"] == 1, free)
    shots.at[row, "bowler"] = str(shots.at[row, "bowler"])[:-1]
    return []


def _pin(rng: np.random.Generator, shots: pd.DataFrame, free: np.ndarray) -> list[int]:
    row = _one(rng, (shots["leave"].astype(str) == "10") & (shots["delivery"] == 1), free)
    shots.at[row, "leave"] = "11"
    return []
