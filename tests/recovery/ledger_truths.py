"""The ledger of one simulated season beside what is so: levels and luck of blocks, and parts by their true chances.

A true level is the mean score of the very frames bowled, each with its true chances on that night; a true percentile is
the share of games bowled again at those chances that score less. True parts are in ``true_parts.py``.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.decisions.ledger.blocks import block_ledgers
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.block_level import expected_game
from pipeline.pricing.ledger.deliveries import open_ledger
from pipeline.pricing.ledger.stages import FIELDS
from pipeline.store.season import Season
from sample_logs.generate import block_id
from tests.recovery.drawn_world import DrawnTruth
from tests.recovery.quantities import estimated
from tests.recovery.true_parts import DrawnChances, LaneChances, drawn_misses, parts
from tests.recovery.worlds.truth import WorldTruth

_AGAIN = 1_000  # games bowled again for a true percentile
Frames = pd.DataFrame


def of_season(season: Season, fits: Fits, truth: DrawnTruth | WorldTruth) -> pd.DataFrame:
    """Rows of kind, truth and estimate for one season."""
    frames = drawn_frames(truth) if isinstance(truth, DrawnTruth) else world_frames(truth)
    chances = DrawnChances(truth) if isinstance(truth, DrawnTruth) else LaneChances(truth)
    tables = [_levels(season, fits, frames), parts(open_ledger(Fitted(season, fits)), chances)]
    return pd.concat(tables, ignore_index=True)


def world_frames(truth: WorldTruth) -> Frames:
    """Bowler, block, game, frame, and the chances ``FIELDS`` of every logged frame's first ball."""
    result = truth.logged
    return result.assign(
        bowler=truth.club.bowlers["bowler"].to_numpy()[result["bowler"]],
        block=[f"n{slot + 1:02d}" for slot in result["slot"]],
        second_pins=10 * result["spare"] + result["open_pins"] - result["first_pins"],
    )


def drawn_frames(truth: DrawnTruth) -> Frames:
    """The same of the drawn world, where leaves do not depend on the shot."""
    result = truth.bowled[truth.bowled["delivery"] == 1].rename(columns={"chance": "strike"})
    rest = np.array([drawn_misses(truth, number) for number in range(len(truth.world.bowlers))])[result["bowler"]]
    return result.assign(
        bowler=truth.world.bowlers["bowler"].to_numpy()[result["bowler"]],
        block=[block_id(slot, 0) for slot in result["slot"]],
        spare=rest[:, 0],
        first_pins=rest[:, 1],
        second_pins=rest[:, 2],
    )


def _levels(season: Season, fits: Fits, frames: Frames) -> pd.DataFrame:
    """Levels and percentiles of every block with as many true frames as were counted."""
    rng = np.random.default_rng(fits.rng_seed)
    complete = season.frame("cells/game_scores").dropna(subset=["score"])
    known = frames.merge(complete[["bowler", "block", "game"]], on=["bowler", "block", "game"])
    known = known.sort_values(["bowler", "block", "game", "frame"])
    of_block = dict(tuple(known.groupby(["bowler", "block"])))
    levels, percentiles = [], []
    for block in block_ledgers(Fitted(season, fits)):
        mine = of_block.get((block.bowler, block.block))
        if mine is None or len(mine) != 10 * block.games:
            continue  # a foul has no chance of its own
        chances = [mine[name].to_numpy().reshape(-1, 10) for name in FIELDS]
        levels.append((float(expected_game(*chances).mean()), block.level, block.scored))
        again = _bowled_again(rng, *chances)
        total = block.scored * block.games
        percentiles.append(
            (float((again < total - 0.5).mean() + (again <= total + 0.5).mean()) / 2, block.luck_percentile)
        )
    result = estimated("true level of a block in pins", [(true, level) for true, level, _ in levels])
    result["raw"] = [scored for _, _, scored in levels]
    return pd.concat([result, estimated("luck of a block as a percentile", percentiles)], ignore_index=True)


def _bowled_again(
    rng: np.random.Generator, strike: np.ndarray, spare: np.ndarray, first: np.ndarray, second: np.ndarray
) -> np.ndarray:
    """Totals (again,) of a block bowled again; arrays (games, 10). Pins of misses are their means: they hardly vary."""
    shape = (_AGAIN, *strike.shape)
    struck, made = rng.random(shape) < strike, rng.random(shape) < spare
    open_second = np.clip((second - spare * (10 - first)) / (1 - spare), 0, 9 - first)  # mean pins of a missed spare
    balls = np.where(struck, 10.0, first)
    pairs = np.where(struck, 0.0, np.where(made, 10 - first, open_second))
    fill_struck = rng.random((2, *shape[:2])) < strike[:, 9]
    fill_made = rng.random(shape[:2]) < spare[:, 9]
    fill_ball = np.where(fill_struck, 10.0, first[:, 9])
    fill_second = np.where(fill_struck[0], fill_ball[1], np.where(fill_made, 10 - first[:, 9], open_second[:, 9]))
    next_ball = np.concatenate([balls[..., 1:], fill_ball[0][..., None]], axis=-1)
    after = np.concatenate([np.where(struck[..., 1:], 0.0, pairs[..., 1:]), np.zeros((*shape[:2], 1))], axis=-1)
    after_strike = np.concatenate([next_ball[..., 1:], np.zeros((*shape[:2], 1))], axis=-1)
    next_struck = np.concatenate([struck[..., 1:], np.zeros((*shape[:2], 1), dtype=bool)], axis=-1)
    second_next = np.where(next_struck, after_strike, after)
    second_next[..., 9] = fill_second
    score = balls + pairs + np.where(struck, next_ball + second_next, np.where(made, next_ball, 0.0))
    return np.asarray(score.sum(axis=(1, 2)))
