"""Cells of invented first deliveries with a known log odds, for tests of the worth model."""

import numpy as np
import pandas as pd
from scipy.special import expit

LENGTH = {"short": 34.0, "medium": 40.0, "long": 45.0}


def made_cells(
    rng: np.random.Generator,
    bowlers: int = 4,
    blocks: int = 24,
    balls: int = 3,
    shots: int = 12,
    planted: dict[tuple[str, str, str], float] | None = None,
    line_missing: float = 0.0,
    fading: dict[str, float] | None = None,
) -> pd.DataFrame:
    """Every bowler throws every ball on two lines in every game.

    ``planted`` adds log odds to (bowler, class, ball), ``fading`` to a ball for every game after the middle one.
    """
    rows = []
    skill = rng.normal(0, 0.3, bowlers)
    for block in range(blocks):
        pattern = list(LENGTH)[block % 3]
        for b in range(bowlers):
            luck = rng.normal(0, 0.1)
            for game in range(1, 6):
                for k in range(balls):
                    ball = f"b{b}-{k}"
                    line = "second arrow" if rng.random() < 0.5 else "third arrow"
                    eta = -0.2 + skill[b] + luck + (0.2 if line == "third arrow" else 0.0) - 0.05 * (game - 3)
                    eta += (planted or {}).get((f"b{b}", pattern, ball), 0.0)
                    eta += (fading or {}).get(ball, 0.0) * (game - 3)
                    rows.append(
                        {
                            "bowler": f"b{b}",
                            "block": f"k{block}",
                            "pattern_class": pattern,
                            "length_ft": LENGTH[pattern] + block % 2,
                            "volume_ml": 22.0 + block % 4,
                            "ratio": 4.0 + block % 5,
                            "ball": ball,
                            "ball_class": ["urethane", "symmetric solid", "asymmetric pearl"][k % 3],
                            "game": game,
                            "line": "line not logged" if rng.random() < line_missing else line,
                            "pair_load": 20 * game,
                            "shots": shots // balls,
                            "strikes": rng.binomial(shots // balls, expit(eta)),
                        }
                    )
    return pd.DataFrame(rows)


def balance(bowlers: int = 4) -> pd.DataFrame:
    """Mean speed and rev rate of each bowler."""
    names = [f"b{k}" for k in range(bowlers)]
    return pd.DataFrame({"bowler": names, "speed_mph": 17.0, "rev_rpm": [300.0 + 40 * k for k in range(bowlers)]})


def listed(cells: pd.DataFrame) -> dict[str, str]:
    """Ball class by ball."""
    return dict(zip(cells["ball"], cells["ball_class"], strict=True))
