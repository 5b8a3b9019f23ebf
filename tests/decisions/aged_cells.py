"""Counts by ball and age drawn straight from a known truth of the ageing model's own form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import expit

from pipeline.models.balls.ball_wear import AgeingFit


@dataclass(frozen=True)
class Aged:
    """Rows like those of 36 and 37, and the truth as a fit of one draw."""

    cells: pd.DataFrame
    states: pd.DataFrame
    truth: AgeingFit


def aged_cells(
    rng: np.random.Generator,
    bowlers: int = 3,
    bag: int = 6,
    blocks: int = 30,
    games: int = 4,
    wear: np.ndarray | None = None,
    ball_sd: float = 0.15,
    block_sd: float = 0.15,
    resurface_at: float = 60.0,
    sharper: int = 1,
) -> Aged:
    """Every bowler throws two or three of his balls in each block; a ball is resurfaced near ``resurface_at`` games.

    ``wear``: (balls,) change of the logit per 10 games since resurfacing; drawn about -0.06 where None.
    ``sharper``: every cell counts as many times the shots, without more age, to narrow the answers.
    """
    count = bowlers * bag
    change = rng.normal(-0.06, 0.05, count) if wear is None else np.asarray(wear, dtype=float)
    effect = ball_sd * rng.standard_normal(count)
    level = 0.1 + 0.2 * rng.standard_normal(bowlers)
    since, total, surface = np.zeros(count), np.zeros(count), np.zeros(count, dtype=int)
    rows = []
    for block in range(blocks):
        for bowler in range(bowlers):
            luck = block_sd * rng.standard_normal()
            taken = bowler * bag + rng.choice(bag, size=min(3, bag), replace=False)
            for game in range(1, games + 1):
                for ball in taken:
                    shots = 12 // len(taken)
                    used = shots / 11
                    logit = level[bowler] + luck + effect[ball] + change[ball] * (since[ball] + used / 2) / 10
                    age, thrown = since[ball] + used / 2, sharper * shots
                    strikes = rng.binomial(thrown, expit(logit))
                    names = (f"w{bowler}", f"b{block}", "medium", f"w{bowler}-{ball}", "symmetric solid", game, None)
                    rows.append((*names, surface[ball], total[ball] + used / 2, age, age, thrown, strikes))
                    since[ball] += used
                    total[ball] += used
            for ball in taken:
                if since[ball] > resurface_at * rng.uniform(0.6, 1.4):
                    since[ball], surface[ball] = 0.0, surface[ball] + 1
    cells = pd.DataFrame(rows, columns=["bowler", "block", "pattern_class", "ball", "ball_class", "game", "line",
                                        "surface_number", "games_total", "games_since_resurface", "games_since_care",
                                        "shots", "strikes"])  # fmt: skip
    owner = np.repeat(np.arange(bowlers), bag)
    names = [f"w{who}-{ball}" for ball, who in enumerate(owner)]
    states = pd.DataFrame({"ball": names, "bowler": [f"w{who}" for who in owner], "ball_class": "symmetric solid",
                           "games_since_resurface": since, "games_since_care": since, "games_total": total,
                           "surface_number": surface})  # fmt: skip
    states["shots"] = cells.groupby("ball")["shots"].sum().reindex(names, fill_value=0).to_numpy()
    truth = AgeingFit(
        balls=tuple(names),
        base=level[owner][None, :],
        scatter=np.full((1, count), block_sd**2),
        ball=effect[None, :],
        wear=change[None, :],
        common_wear=np.array([change.mean()]),
        care=np.zeros(1),
        total=np.zeros(1),
        surfaces=np.zeros((1, 0)),
        surface_of={},
    )
    return Aged(cells, states, truth)
