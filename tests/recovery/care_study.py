"""Are balls called for a resurfacing or for good that gain nothing by it? The work list beside the truth, by world.

    python -m tests.recovery.care_study --seasons 12 --seed 1 --out tests/recovery/care_table.csv

fits seasons ``seed`` to ``seed + seasons - 1`` of each world and writes, for each world and what the work list says:
balls, how often the act called truly gained nothing over keeping, how often that was to be expected from the stated
probabilities, and the gain stated and true in pins per game. The season is the unit of the standard error.
"""

from __future__ import annotations

import argparse
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.decisions.arsenal.calls import ACTIONS
from pipeline.decisions.arsenal.work_list import work_list
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Costs, Settings
from pipeline.store.season import Season
from sample_logs.generate import simulate_season
from tests.recovery import verdict_truths
from tests.recovery.drawn_world import drawn_season
from tests.recovery.in_memory import open_simulated
from tests.recovery.summary import ratio
from tests.recovery.worlds import WORLDS
from tests.recovery.worlds.club import PATTERN_CLASSES
from tests.recovery.worlds.shared_lane import typical_balls
from tests.recovery.worlds.truth import GAMES, WorldTruth

DRAWS = 500
_AHEAD = (0.5 - 0.5 / np.sqrt(3), 0.5 + 0.5 / np.sqrt(3))  # two Gauss points, as in ``verdict_truths``
STUDIED = {"rich": simulate_season, "drawn": drawn_season, "shared_lane": WORLDS["shared_lane"]}


def run_season(world: str, seed: int) -> pd.DataFrame:
    """One row a ball: world, seed, do, p_gain, stated and true gain of what looks best over keeping."""
    warnings.filterwarnings("ignore", category=FutureWarning)
    settings = Settings.model_validate({"evidence": {"draws": DRAWS, "seed": seed}})
    simulated = STUDIED[world](seed)
    with open_simulated(simulated, settings) as season:
        fits = fit_all(season, settings)
        truth, costs = simulated.truth, settings.costs
        on_lanes = isinstance(truth, WorldTruth)
        true = lane_utilities(season, truth, costs) if on_lanes else verdict_truths.utilities(truth, costs)
        rows = []
        for task in work_list(Fitted(season, fits)):
            if task.ball in true.index:
                best = next(option for option in task.options if option.act == task.looks_best)
                gain = float(true.loc[task.ball, best.act] - true.loc[task.ball, "keep"])
                rows.append((world, seed, task.do, best.p_gain, best.gain.mean, gain))
    return pd.DataFrame(rows, columns=["world", "seed", "do", "p_gain", "stated", "true"])


def lane_utilities(season: Season, truth: WorldTruth, costs: Costs) -> pd.DataFrame:
    """True utility of each act in a world of lanes, the best board of every night known; rows by ball.

    Nothing comes of a clean there.
    """
    names = truth.club.balls["ball"].tolist()
    cells = season.frame("cells/ball_age_cells", usual=costs.resurface_every_games)
    cells = cells[cells["pattern_class"].isin(PATTERN_CLASSES)]
    cells = cells.assign(game=cells["game"].clip(upper=GAMES))
    grid = cells.groupby(["bowler", "ball", "pattern_class", "game"], as_index=False)["shots"].sum()
    weight = grid["shots"] / grid.groupby("ball")["shots"].transform("sum")
    now = np.zeros(len(names))
    for row in season.frame("cells/ball_states", usual=costs.resurface_every_games).itertuples():
        now[names.index(row.ball)] = row.games_since_resurface if row.surface_number else row.games_total

    def pins(of: WorldTruth, wear: np.ndarray) -> pd.Series:
        worn = replace(of, mean_wear=wear, _tables={})
        return (worn.perfectly_followed(grid)["pins"] * weight).groupby(grid["ball"]).sum()

    def ahead(of: WorldTruth, wear: np.ndarray) -> pd.Series:
        return sum(pins(of, wear + share * costs.games_ahead) for share in _AHEAD) / len(_AHEAD)

    kept, fresh = ahead(truth, now), ahead(truth, 0 * now)
    new = ahead(replace(truth, lane=typical_balls(truth.lane)), 0 * now)
    acts = pd.DataFrame({"keep": kept, "clean": kept, "resurface": fresh, "retire": new})
    return acts[list(ACTIONS)].sub(pins(truth, now), axis=0) - np.array(
        [0.0, costs.clean, costs.resurface, costs.retire]
    )


def table(found: pd.DataFrame) -> pd.DataFrame:
    """One row for each world and what the list says, over all its seasons."""
    rows = []
    for (world, do), part in found.groupby(["world", "do"], sort=True):
        wrong, se = ratio(part["true"] <= 0, part["seed"])
        acted = do in ("clean", "resurface", "retire")
        rows.append(
            {
                "world": world,
                "do": do,
                "seasons": found.loc[found["world"] == world, "seed"].nunique(),
                "balls": len(part),
                "gains_nothing": wrong if acted else np.nan,
                "gains_nothing_se": se if acted else np.nan,
                "said_to_gain_nothing": 1 - part["p_gain"].mean() if acted else np.nan,
                "stated_gain": part["stated"].mean(),
                "true_gain": part["true"].mean(),
            }
        )
    return pd.DataFrame(rows).round(4)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Care of balls called for, beside simulated truth.")
    parser.add_argument("--seasons", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1, help="the first season's")
    parser.add_argument("--out", type=Path, required=True, help="CSV to write")
    options = parser.parse_args()
    done = []
    for seed in range(options.seed, options.seed + options.seasons):
        done += [run_season(world, seed) for world in STUDIED]
        table(pd.concat(done, ignore_index=True)).to_csv(options.out, index=False)
    print(pd.read_csv(options.out).to_string(index=False))


if __name__ == "__main__":
    main()
