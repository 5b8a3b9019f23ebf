"""Are balls called for a resurfacing or for good that gain nothing by it, and does a grit named carry better?

    python -m tests.recovery.care_study --seasons 12 --seed 1 --out tests/recovery/care_table.csv

fits seasons ``seed`` to ``seed + seasons - 1`` of each world and writes, for each world and what the work list says:
balls, how often the act called truly gained nothing over keeping, how often that was to be expected from the stated
probabilities, and the gain stated and true in pins per game. Where surfaces have a true effect there are rows for the
grits named, too: their gain over the others thrown at, fresh. The season is the unit of the standard error.
"""

from __future__ import annotations

import argparse
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.decisions.arsenal.grit import GritLog
from pipeline.decisions.arsenal.verdict_rules import ACTIONS
from pipeline.decisions.arsenal.verdicts import everybodys_balls, judged_balls
from pipeline.decisions.arsenal.work_list import work_list
from pipeline.decisions.records import ArsenalTask
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
from tests.recovery.worlds.club import GRITS, PATTERN_CLASSES
from tests.recovery.worlds.hidden_demand import HiddenDemand, as_bought
from tests.recovery.worlds.mechanism import Mechanism
from tests.recovery.worlds.shared_lane import SharedLane, typical_balls
from tests.recovery.worlds.truth import GAMES, WorldTruth

DRAWS = 500
_AHEAD = (0.5 - 0.5 / np.sqrt(3), 0.5 + 0.5 / np.sqrt(3))  # two Gauss points, as in ``verdict_truths``
STUDIED = {"rich": simulate_season, "drawn": drawn_season} | {
    name: WORLDS[name] for name in ("shared_lane", "hidden_demand")
}


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
        tasks = work_list(Fitted(season, fits))
        if on_lanes and isinstance(truth.lane, HiddenDemand):
            named = grits_named(Fitted(season, fits), truth, tasks)
            rows += [(world, seed, *value) for value in named]
        for task in tasks:
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
    now, grit = np.zeros(len(names)), _grit_now(season, truth)
    grid = _thrown(season, costs)
    for row in season.frame("cells/ball_states", usual=costs.resurface_every_games).itertuples():
        now[names.index(row.ball)] = row.games_since_resurface if row.surface_number else row.games_total

    def ahead(of: WorldTruth, wear: np.ndarray, grit: np.ndarray) -> pd.Series:
        return sum(_pins(of, grid, wear + share * costs.games_ahead, grit) for share in _AHEAD) / len(_AHEAD)

    kept, fresh = ahead(truth, now, grit), ahead(truth, 0 * now, grit)
    new = ahead(replace(truth, lane=_typical(truth.lane)), 0 * now, truth.club.grit)
    acts = pd.DataFrame({"keep": kept, "clean": kept, "resurface": fresh, "retire": new})
    return acts[list(ACTIONS)].sub(_pins(truth, grid, now, grit), axis=0) - np.array(
        [0.0, costs.clean, costs.resurface, costs.retire]
    )


def grits_named(fitted: Fitted, truth: WorldTruth, tasks: list[ArsenalTask]) -> list[tuple[str, float, float, float]]:
    """What is said, P(best), and the stated and true gain over the other grits thrown at, of each grit named."""
    bag, settings = everybodys_balls(fitted), fitted.fits.settings
    classes = dict(zip(bag.states["ball"].astype(str), bag.states["ball_class"].astype(str), strict=True))
    log = GritLog(bag.surfaces, judged_balls(fitted)[0].fit, classes, settings.evidence.min_shots)
    grid, names = _thrown(fitted.season, settings.costs), truth.club.balls["ball"].tolist()
    fresh, out = np.zeros(len(names)), []
    at_grit = {grit: _pins(truth, grid, fresh, np.full(len(names), float(grit))) for grit in GRITS}
    for task in tasks:
        named = task.grit
        if named.grit is None or named.over_others is None or named.probability is None:
            continue
        alike = [task.ball] if named.of == "this ball" else [b for b, c in classes.items() if c == classes[task.ball]]
        thrown = log._two_grits[log._two_grits["ball"].isin(alike)].groupby("grit")["shots"].sum()
        others = thrown.drop(named.grit)
        beside = sum(at_grit[int(grit)][task.ball] * shots for grit, shots in others.items()) / others.sum()
        gain = float(at_grit[named.grit][task.ball] - beside)
        out.append((f"grit named by {named.of}", named.probability, named.over_others.mean, gain))
    return out


def _thrown(season: Season, costs: Costs) -> pd.DataFrame:
    """Shots by bowler, ball, pattern class and game, and each row's ``weight`` in its ball."""
    cells = season.frame("cells/ball_age_cells", usual=costs.resurface_every_games)
    cells = cells[cells["pattern_class"].isin(PATTERN_CLASSES)]
    cells = cells.assign(game=cells["game"].clip(upper=GAMES))
    grid = cells.groupby(["bowler", "ball", "pattern_class", "game"], as_index=False)["shots"].sum()
    return grid.assign(weight=grid["shots"] / grid.groupby("ball")["shots"].transform("sum"))


def _pins(truth: WorldTruth, grid: pd.DataFrame, wear: np.ndarray, grit: np.ndarray) -> pd.Series:
    """Mean pins by ball over what it was thrown on, at these games since and grits of its surface."""
    worn = replace(truth, mean_wear=wear, mean_grit=grit, _tables={})
    return (worn.perfectly_followed(grid)["pins"] * grid["weight"]).groupby(grid["ball"]).sum()


def _grit_now(season: Season, truth: WorldTruth) -> np.ndarray:
    """What each ball's surface was last set to."""
    grit, names = truth.club.grit.copy(), truth.club.balls["ball"].tolist()
    for ball, last in season.frame("cells/ball_surfaces").groupby("ball")["grit"].last().items():
        grit[names.index(ball)] = last
    return grit


def _typical(lane: Mechanism) -> Mechanism:
    if isinstance(lane, HiddenDemand):
        return as_bought(lane)
    assert isinstance(lane, SharedLane)
    return typical_balls(lane)


def table(results: pd.DataFrame) -> pd.DataFrame:
    """One row for each world and what the list says, over all its seasons."""
    rows = []
    for (world, do), part in results.groupby(["world", "do"], sort=True):
        wrong, se = ratio(part["true"] <= 0, part["seed"])
        acted = do in ("clean", "resurface", "retire") or str(do).startswith("grit")
        rows.append(
            {
                "world": world,
                "do": do,
                "seasons": results.loc[results["world"] == world, "seed"].nunique(),
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
