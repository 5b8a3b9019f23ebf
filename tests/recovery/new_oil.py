"""Leave one pattern out: what plans for oil that nobody has bowled on say, beside what is really so there.

    python -m tests.recovery.new_oil --worlds rich shared_lane --seeds 1 2 3 --out tests/recovery/new_oil_table.csv

Every block on one pattern is taken out of a simulated season. The pipeline learns from the rest and plans for the
pattern's numbers, which it then has never met; the truth still knows the pattern (``new_oil_truths.py``). A plan speaks
of one block to come, so its night and its luck are taken out by integration: ``held_80`` is the share of blocks whose
true mean score lies in the interval. ``kept`` is the same of the planned lines kept, which is a mean over nights.
``gain_said`` is what the plans say they gain over own throwing, ``gain`` what they truly gain.
With ``--logged`` nothing is left out, to see that patterns bowled on are planned for as well as before.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.decisions.plan.block_plan import plan
from pipeline.decisions.records import BlockPlan, Estimate
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from pipeline.store.season import Season
from tests.recovery.in_memory import open_simulated
from tests.recovery.new_oil_truths import GAMES, WORLDS, LeftOut, Oil

DRAWS = 500
_UNIT = ["world", "seed", "pattern"]
_MEASURES = ["held_80", "held_95", "wide_80", "error", "kept_80", "kept_95", "kept_wide_80", "kept_error"]


def judged(oil: Oil, planned: BlockPlan) -> dict[str, object]:
    """One plan beside its truth."""
    steps = [(s.ball, s.line, game) for s in planned.steps for game in range(s.from_game, s.to_game + 1)]
    grid = pd.DataFrame(steps, columns=["ball", "line", "game"]).assign(bowler=planned.bowler)
    followed, kept = oil.by_block(grid)
    on_lines = _beside(planned.score_kept_line, kept)
    own, possible = oil.own(planned.bowler), oil.possible(planned.bowler)
    return {
        "bowler": planned.bowler,
        **_beside(planned.score, followed),
        **{f"kept_{name}".replace("held_", ""): value for name, value in on_lines.items()},
        "gain_said": planned.gain.mean,
        "gain": float(followed.mean()) - own,
        "possible": possible - own,
    }


def _beside(said: Estimate, true: np.ndarray) -> dict[str, float]:
    return {
        "held_80": float(((true >= said.lo80) & (true <= said.hi80)).mean()),
        "held_95": float(((true >= said.lo95) & (true <= said.hi95)).mean()),
        "wide_80": said.hi80 - said.lo80,
        "error": said.mean - float(true.mean()),
    }


def plans_for(oil: Oil, season: Season, fits: Fits) -> Iterator[dict[str, object]]:
    """A row per bowler who threw on the pattern, planned from what the season shows."""
    for bowler in oil.bowlers():
        if bowler in fits.mix.shots:
            yield judged(oil, plan(Fitted(season, fits), bowler, *oil.numbers(), games=GAMES))


def of_season(world: str, seed: int, patterns: Iterable[int], logged: bool = False) -> pd.DataFrame:
    """Every plan of one simulated season with each of the patterns left out in turn, or, ``logged``, with none."""
    make, judge = WORLDS[world]
    simulated = make(seed)
    settings = Settings.model_validate({"evidence": {"draws": DRAWS, "seed": seed}})
    rows: list[dict[str, object]] = []
    fits = None
    for pattern in patterns:
        oil = judge(simulated, pattern)
        if not oil.met():
            continue
        with open_simulated(simulated if logged else LeftOut(simulated, oil.name()), settings) as season:
            fits = fits if logged and fits is not None else fit_all(season, settings)
            rows += [{"world": world, "seed": seed, "pattern": pattern, **row} for row in plans_for(oil, season, fits)]
    return pd.DataFrame(rows)


def summary(plans: pd.DataFrame) -> pd.DataFrame:
    """One row per world: means with Monte Carlo standard errors, a season's pattern being the unit."""
    by_unit = plans.groupby(_UNIT)[[*_MEASURES, "gain_said", "gain", "possible"]].mean()
    mean, sem = by_unit.groupby(level="world").mean(), by_unit.groupby(level="world").sem()
    table = mean.join(sem.add_suffix("_se"))
    for name in ("error", "kept_error"):
        table[name.replace("error", "rmse")] = np.sqrt((plans[name] ** 2).groupby(plans["world"]).mean())
    table["share_of_possible"] = table["gain"] / table["possible"]
    seasons = plans.groupby("world")["seed"].nunique().rename("seasons")
    return table.join(plans.groupby("world").size().rename("plans")).join(seasons)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Plans for a pattern left out of the season, beside the truth.")
    parser.add_argument("--worlds", nargs="+", default=list(WORLDS), choices=list(WORLDS))
    parser.add_argument("--seeds", nargs="+", type=int, default=[1, 2, 3])
    parser.add_argument("--patterns", nargs="+", type=int, default=list(range(7)), help="numbers of patterns left out")
    parser.add_argument("--logged", action="store_true", help="leave nothing out")
    parser.add_argument("--out", type=Path, default=None, help="the summary to write (CSV)")
    options = parser.parse_args()
    jobs = [(world, seed) for world in options.worlds for seed in options.seeds]
    plans = pd.concat([of_season(*job, options.patterns, options.logged) for job in jobs], ignore_index=True)
    table = summary(plans)
    print(table.round(3).T.to_string())
    if options.out is not None:
        table.round(4).to_csv(options.out)


if __name__ == "__main__":
    main()
