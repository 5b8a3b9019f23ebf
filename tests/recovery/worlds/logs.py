"""What the club wrote down: the frames of a log, with the gaps and the measuring errors of people who watch a ball."""

from __future__ import annotations

import numpy as np
import pandas as pd

from sample_logs.logbook import leave_texts
from sample_logs.mechanism import FULL
from tests.recovery.worlds.club import Club

ENTRY_LOGGED = (0.95, 0.8, 0.6, 0.9, 0.0)  # share of first balls with an entry board, by bowler
ARROW_LOGGED = (1.0, 1.0, 0.97, 1.0, 0.95)
ARROW_ERROR, ENTRY_ERROR = 0.5, 0.35  # boards, before rounding to the half board


def written_frames(
    rng: np.random.Generator, club: Club, rows: pd.DataFrame, care: list[tuple[object, int, int]]
) -> dict[str, pd.DataFrame]:
    """Frames named as the files of a season are; ``rows`` in the order bowled."""
    count = len(rows)
    full = (rows["facing"] == FULL).to_numpy()
    bowler = rows["bowler"].to_numpy()
    slot = rows["slot"].to_numpy()
    arrow = _half(rows["arrow"] + rng.normal(0, ARROW_ERROR, count)).clip(1, 38)
    entry = _half(rows["entry"] + rng.normal(0, ENTRY_ERROR, count)).clip(1, 38)
    shots = pd.DataFrame(
        {
            "date": np.array([s.date.isoformat() for s in club.slots])[slot],
            "block": np.array([f"n{s.number + 1:02d}" for s in club.slots])[slot],
            "bowler": club.bowlers["bowler"].to_numpy()[bowler],
            "lane": rows["lane"],
            "game": rows["game"],
            "frame": rows["frame"],
            "delivery": rows["delivery"],
            "ball": club.balls["ball"].to_numpy()[rows["ball"]],
            "laydown_board": _half(arrow + 4 + 0.2 * (arrow - 12) + rng.normal(0, 0.5, count)).clip(1, 39),
            "arrow_board": arrow.where(full & (rng.random(count) < np.array(ARROW_LOGGED)[bowler])),
            "entry_board": entry.where(full & (rng.random(count) < np.array(ENTRY_LOGGED)[bowler])),
            "entry_angle_deg": rows["angle"].round(1).where(np.isin(bowler, [0]) & full),
            "speed_mph": np.nan,
            "rev_rpm": np.nan,
            "leave": leave_texts(club, rows, np.zeros(count, dtype=int)),  # type: ignore[arg-type]
            "foul": "",
            "note": "",
        }
    )
    shots.loc[~np.isin(bowler, [0, 1, 2]) | ~full, "laydown_board"] = np.nan
    blocks = [(f"n{s.number + 1:02d}", s.date, club.patterns["pattern"][s.pattern], "league") for s in club.slots]
    kept = [(day, club.balls["ball"][ball], "resurface", grit, "") for day, ball, grit in care]
    return {
        "bowlers": club.bowlers,
        "balls": club.balls,
        "patterns": club.patterns,
        "blocks": pd.DataFrame(blocks, columns=["block", "date", "pattern", "event"]).assign(centre="Invented Lanes"),
        "maintenance": pd.DataFrame(kept, columns=["date", "ball", "action", "grit", "note"]).astype({"grit": "Int64"}),
        "shots": shots,
    }


def _half(values: pd.Series) -> pd.Series:
    return (values * 2).round() / 2
