"""Would it help to learn how leaves, entry boards and ball wear drift between seasons, as strikes and spares do?

    python -m tests.recovery.drift_study --seeds 12 --out tests/recovery/drift_table.csv

Two seasons of each are drawn with moves in between, of the sds given in log odds. The pipeline's own model is fitted to
the second alone and to both as one; "moves known" weighs both seasons as well as can be, by the true sd of the moves,
which is more than any model could learn. Leaves are also learned as the pipeline does, with their moves learned.
Everything is in pins per game of the second season:

- leaves: what the usual leaves cost, at the spare rates of a club bowler;
- entry: what strikes from the pocket's centre are worth, over the shots that come in there;
- wear: what ten games of age cost a ball.
"""

from __future__ import annotations

import argparse
import warnings
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
from scipy.special import expit, softmax

from pipeline.models.balls.ball_wear import fit_ageing_cells
from pipeline.models.spares.leave import fit_leave_cells
from pipeline.models.strikes.strike_by_entry import fit_entry
from pipeline.settings import Settings

BOWLERS, BALLS = 6, 3
MOVES = (0.0, 0.1, 0.3)
DRAWS = 400
_PINS_PER_STRIKE = 200.0  # pins per game from never to always; near a 190 average, by ``expected_score``
_NO_STRIKE, _MISS = 5.5, 11.0  # frames of a game without a strike, and pins a missed spare costs
_LEAVES = {"10": ("corner pin", 0.3, 0.85), "6": ("single pin", 0.3, 0.92), "6-10": ("two pins", 0.2, 0.7),
           "4-6-7": ("split", 0.2, 0.15)}  # fmt: skip
_POCKET_SHARE = 0.4
Season = tuple[pd.DataFrame, np.ndarray]  # cells of a season, and its true levels in pins per game
Levels = Callable[[pd.DataFrame], np.ndarray]  # cells -> draws (n, levels)


def leaves(rng: np.random.Generator, move: float) -> list[Season]:
    """450 leaves of each bowler a season; a bowler's mix of types moves."""
    share = np.log([share for _, share, _ in _LEAVES.values()])
    base = rng.normal(0, 0.3, (BOWLERS, len(_LEAVES)))
    out = []
    for _ in range(2):
        mix = softmax(share + base + move * rng.standard_normal(base.shape), axis=1)
        counts = np.array([rng.multinomial(450, row) for row in mix])
        rows = [
            (f"b{b}", "medium", "symmetric solid", "fresh", leave, kind, counts[b, k])
            for b in range(BOWLERS)
            for k, (leave, (kind, _, _)) in enumerate(_LEAVES.items())
        ]
        names = ["bowler", "pattern_class", "ball_class", "phase", "leave", "leave_type", "shots"]
        out.append((pd.DataFrame(rows, columns=names), _leave_pins(mix)))
    return out


def _leave_pins(mix: np.ndarray) -> np.ndarray:
    cost = np.array([1 - made for _, _, made in _LEAVES.values()])
    return np.asarray(-_NO_STRIKE * _MISS * (mix @ cost))


def leave_levels(cells: pd.DataFrame) -> np.ndarray:
    """Draws of what each bowler's leaves cost."""
    fit = fit_leave_cells(cells)
    rows = cells.drop_duplicates("bowler")[["bowler", "ball_class", "pattern_class", "phase"]]
    drawn = fit.type_draws(rows, DRAWS, np.random.default_rng(3))
    order = [fit.types.index(kind) for kind, _, _ in _LEAVES.values()]
    return _leave_pins(drawn[:, :, order])


def entry(rng: np.random.Generator, move: float) -> list[Season]:
    """A thousand shots of each bowler a season; how they carry moves."""
    base = rng.normal(0, 0.25, BOWLERS)
    boards = np.arange(14, 21.5, 0.5)
    out = []
    for season in range(2):
        skill = base + move * rng.standard_normal(BOWLERS)
        rows = []
        for b in range(BOWLERS):
            for block in range(10):
                night = rng.normal(0, 0.15)
                for board in boards:
                    shots = rng.poisson(100 * np.exp(-0.5 * ((board - 17.5) / 1.4) ** 2) / 7)
                    chance = expit(0.6 + skill[b] + night - 0.35 * (board - 17.5) ** 2)
                    names = (f"b{b}", f"s{season}-{block}", "medium", f"b{b}-1", "symmetric solid", 1 + block % 4)
                    rows.append((*names, board, shots, rng.binomial(shots, chance)))
        names = ["bowler", "block", "pattern_class", "ball", "ball_class", "game", "entry_half", "shots", "strikes"]
        cells = pd.DataFrame(rows, columns=names)
        out.append((cells[cells["shots"] > 0], _POCKET_SHARE * _PINS_PER_STRIKE * expit(0.6 + skill)))
    return out


def entry_levels(cells: pd.DataFrame) -> np.ndarray:
    """Draws of what each bowler's strikes from the pocket's centre are worth."""
    season = SimpleNamespace(frame=lambda _name: cells.reset_index(drop=True), settings=Settings())
    fit = fit_entry(season)  # type: ignore[arg-type]
    drawn = [fit.entry_draws(np.array([17.5]), f"b{b}", DRAWS, np.random.default_rng(3)) for b in range(BOWLERS)]
    return _POCKET_SHARE * _PINS_PER_STRIKE * np.concatenate(drawn, axis=1)


def wear(rng: np.random.Generator, move: float) -> list[Season]:
    """Thirty games of each ball a season on one surface; what ten games cost it moves, by a third of ``move``."""
    base = rng.normal(-0.06, 0.04, BOWLERS * BALLS)
    carry, level = rng.normal(0, 0.15, BOWLERS * BALLS), rng.normal(0, 0.25, BOWLERS)
    out = []
    for season in range(2):
        slope = base + move / 3 * rng.standard_normal(BOWLERS * BALLS)
        rows = []
        for block in range(20):
            for b in range(BOWLERS):
                night = rng.normal(0, 0.15)
                for game in range(1, 5):
                    for ball in range(b * BALLS, (b + 1) * BALLS):
                        age = (block * 4 + game) * 0.75
                        chance = expit(level[b] + night + carry[ball] + slope[ball] * age / 10)
                        names = (f"b{b}", f"s{season}-{block}", "medium", f"b{b}-{ball}", "symmetric solid", game, None)
                        ages = (season, 60.0 * season + age, age, age)
                        rows.append((*names, *ages, 4, rng.binomial(4, chance)))
        names = ["bowler", "block", "pattern_class", "ball", "ball_class", "game", "line", "surface_number"]
        names += ["games_total", "games_since_resurface", "games_since_care", "shots", "strikes"]
        out.append((pd.DataFrame(rows, columns=names), _PINS_PER_STRIKE / 4 * slope))
    return out


def wear_levels(cells: pd.DataFrame) -> np.ndarray:
    """Draws of what ten games cost each ball."""
    states = cells.groupby("ball", as_index=False, sort=False).last()[["ball", "bowler", "ball_class"]]
    fit = fit_ageing_cells(cells, states, DRAWS, np.random.default_rng(3))
    assert fit is not None
    return _PINS_PER_STRIKE / 4 * fit.wear


STUDIES: dict[str, tuple[Callable[[np.random.Generator, float], list[Season]], Levels]] = {
    "leaves": (leaves, leave_levels),
    "entry": (entry, entry_levels),
    "wear": (wear, wear_levels),
}


def fits_of(what: str, seed: int, move: float) -> pd.DataFrame:
    """One row per level of one club: its truth in both seasons, and means and sds by what was learned from."""
    make, levels = STUDIES[what]
    (first, before), (second, now) = make(np.random.default_rng([seed, round(100 * move)]), move)
    both = pd.concat([first, second], ignore_index=True)
    if what == "leaves":
        keys = [name for name in both if name != "shots"]
        both = both.groupby(keys, as_index=False)[["shots"]].sum()
    results = pd.DataFrame({"what": what, "seed": seed, "move": move, "before": before, "now": now})
    ways = {"first": first, "second": second, "both": both}
    if what == "leaves":
        ways["learned"] = pd.concat([first.assign(stretch=1), second.assign(stretch=2)], ignore_index=True)
    for name, cells in ways.items():
        drawn = levels(cells)
        low, high = np.quantile(drawn, [0.1, 0.9], axis=0)
        results[f"mean_{name}"], results[f"var_{name}"] = drawn.mean(axis=0), drawn.var(axis=0)
        results[f"held_{name}"] = (low <= now) & (now <= high)
    return results


def table(results: pd.DataFrame) -> pd.DataFrame:
    """For each model and sd of the moves: error (root mean square, pins per game) of each way, and what is held."""
    rows = []
    for (what, move), part in results.groupby(["what", "move"], sort=False):
        moved = float(((part["now"] - part["before"]) ** 2).mean())
        weight = part["var_second"] / (part["var_second"] + part["var_first"] + moved)
        known = part["mean_second"] + weight * (part["mean_first"] - part["mean_second"])
        errors = {"second alone": part["mean_second"], "both as one": part["mean_both"], "moves known": known}
        row: dict[str, object] = {"what": what, "move": move, "move_in_pins": np.sqrt(moved)}
        row |= {f"error, {way}": float(np.sqrt(((mean - part["now"]) ** 2).mean())) for way, mean in errors.items()}
        if part["mean_learned"].notna().all():
            row["error, moves learned"] = float(np.sqrt(((part["mean_learned"] - part["now"]) ** 2).mean()))
            row["held_80, moves learned"] = part["held_learned"].astype(float).mean()
        row |= {"held_80, second alone": part["held_second"].mean(), "held_80, both as one": part["held_both"].mean()}
        rows.append(row | {"levels": len(part)})
    return pd.DataFrame(rows).round(3)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Drift of leaves, entry boards and ball wear between seasons.")
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    warnings.filterwarnings("ignore", category=FutureWarning)
    result = [fits_of(what, seed, move) for what in STUDIES for move in MOVES for seed in range(given.seeds)]
    made = table(pd.concat(result, ignore_index=True))
    made.to_csv(given.out, index=False)
    print(made.to_string(index=False))


if __name__ == "__main__":
    main()
