"""The ledger of one simulated season beside what is so: levels and luck of blocks, and parts by their true chances.

A true level is the mean score of the very frames bowled, each with its true chances on that night; a true percentile is
the share of games bowled again at those chances that score less. True parts are the same split with true chances.
"""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pandas as pd

from pipeline.decisions.ledger.blocks import block_ledgers
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing import ledger_stages
from pipeline.pricing.block_level import expected_game
from pipeline.pricing.class_usual import OWN, class_usual, mixed
from pipeline.pricing.ledger import PARTS, Account, Ledger, open_ledger
from pipeline.pricing.ledger_stages import FIELDS, stages_of
from pipeline.pricing.ledger_sums import Entries, entries, sums
from pipeline.pricing.rate_draws import RateDraws
from pipeline.store.season import Season
from sample_logs import mechanism as m
from sample_logs.generate import block_id
from sample_logs.truth import LINE_BOARDS
from tests.recovery.drawn_world import DrawnTruth
from tests.recovery.quantities import estimated, rows
from tests.recovery.worlds.truth import WorldTruth

_AGAIN = 1_000  # games bowled again for a true percentile
Frames = pd.DataFrame


def of_season(season: Season, fits: Fits, truth: DrawnTruth | WorldTruth) -> pd.DataFrame:
    """Rows of kind, truth and estimate for one season; parts in the drawn world alone."""
    drawn = isinstance(truth, DrawnTruth)
    frames = drawn_frames(truth) if isinstance(truth, DrawnTruth) else world_frames(truth)
    tables = [_levels(season, fits, frames)]
    if drawn:
        assert isinstance(truth, DrawnTruth)
        tables.append(_parts(open_ledger(Fitted(season, fits)), truth))
    return pd.concat(tables, ignore_index=True)


def world_frames(truth: WorldTruth) -> Frames:
    """Bowler, block, game, frame, and the chances ``FIELDS`` of every logged frame's first ball."""
    found = truth.logged
    return found.assign(
        bowler=truth.club.bowlers["bowler"].to_numpy()[found["bowler"]],
        block=[f"n{slot + 1:02d}" for slot in found["slot"]],
        second_pins=10 * found["spare"] + found["open_pins"] - found["first_pins"],
    )


def drawn_frames(truth: DrawnTruth) -> Frames:
    """The same of the drawn world, where leaves do not depend on the shot."""
    found = truth.bowled[truth.bowled["delivery"] == 1].rename(columns={"chance": "strike"})
    rest = np.array([_missed(truth, number) for number in range(len(truth.world.bowlers))])[found["bowler"]]
    return found.assign(
        bowler=truth.world.bowlers["bowler"].to_numpy()[found["bowler"]],
        block=[block_id(slot, 0) for slot in found["slot"]],
        spare=rest[:, 0],
        first_pins=rest[:, 1],
        second_pins=rest[:, 2],
    )


def _missed(truth: DrawnTruth, number: int) -> tuple[float, float, float]:
    """Spare, first and second pins given no strike, of a bowler of the drawn world."""
    mix, made = _leaf_mix(), m.spare_probability(truth.world, np.full(len(m.LEAVE_MASKS), number), m.LEAVE_MASKS)
    return float(mix @ made), float(mix @ (10 - m.LEAVE_PINS)), float(mix @ _second_pins(made))


def _leaf_mix() -> np.ndarray:
    nodes, weights = np.polynomial.hermite_e.hermegauss(25)
    return np.asarray((weights / weights.sum()) @ m.leave_probabilities(m.CENTRE_BOARD + nodes))


def _second_pins(made: np.ndarray) -> np.ndarray:
    """Mean pins of the ball at each leave: all of them, or what a miss fells."""
    missed = np.where(m.LEAVE_PINS == 1, 0.0, (1 - m.MISS_ALL) * (m.LEAVE_PINS - 1))
    return np.asarray(made * m.LEAVE_PINS + (1 - made) * missed)


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
    found = estimated("true level of a block in pins", [(true, level) for true, level, _ in levels])
    found["raw"] = [scored for _, _, scored in levels]
    return pd.concat([found, estimated("luck of a block as a percentile", percentiles)], ignore_index=True)


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


def _parts(book: Ledger, truth: DrawnTruth) -> pd.DataFrame:
    """Parts against the bowler's own usual, by season and by block, pins per game."""
    out = []
    for reference, bowler in book.accounts:
        if reference != OWN:
            continue
        found = entries(book, reference, bowler)
        if found.totals.empty:
            continue
        true = Entries(_true_account(book, found.account, truth, bowler), found.racks, found.leaves, found.totals)
        blocks = pd.Index(found.totals["block"])
        by_block = [blocks.get_indexer(pd.Index(part["block"])) for part in (found.racks, found.leaves)]
        whole = [np.zeros(len(part), dtype=int) for part in (found.racks, found.leaves)]
        games = found.totals["games"].to_numpy(dtype=float)
        for name, codes, count in (("season", whole, games.sum()[None]), ("block", by_block, games)):
            ours, so = (sums(each, *codes, len(count)) for each in (found, true))
            for part in ("lane", "ball", "line", "entry_and_carry", "leave", "spare"):
                place = PARTS.index(part)
                kind = f"part of a {name} in pins: {part.replace('_', ' ')}"
                out.append(rows(kind, so.draws[0, :, place] / count, ours.draws[:, :, place] / count))
    return pd.concat(out, ignore_index=True)


def _true_account(book: Ledger, account: Account, truth: DrawnTruth, bowler: str) -> Account:
    """The account with the true chances as its one draw."""
    choices = book.season.frame("ledger/ledger_choices")
    mine = choices[choices["bowler"] == bowler]
    usual = class_usual(Fitted(book.season, book.fits))
    with patch.object(ledger_stages, "levels", lambda _fits, grid: _true_level(truth, grid)):
        stages = stages_of(book.fits, usual, bowler, OWN, mine)
    mix = book.fits.rates.mix
    mix = mix[mix["bowler"] == bowler].reset_index(drop=True)
    base = mixed(_true_level(truth, mix), mix["weight"].to_numpy(dtype=float))
    order = account.stages.rows.merge(stages.rows.reset_index(names="at"), how="left")["at"].to_numpy()
    draws = {
        stage: {name: values[:, order] for name, values in fields.items()} for stage, fields in stages.draws.items()
    }
    return replace(
        account,
        stages=replace(account.stages, draws=draws),
        base=base,
        spares=_true_spares(account, truth, bowler),
        boards=account.boards[:1],
    )


def _true_level(truth: DrawnTruth, grid: pd.DataFrame) -> RateDraws:
    """How each row is truly bowled, one draw; an unlogged line stands for the middle one."""
    known = grid.assign(line=grid["line"].astype(object).where(grid["line"].isin(LINE_BOARDS), "third arrow"))
    strike = truth.true_strike_probability(known)
    rest = np.array([_missed(truth, int(number)) for number in truth.world.bowler_number(grid["bowler"])])
    spare, first, second = rest.T
    return RateDraws(strike[None], spare[None], first[None], (second + first - 10 * spare)[None])


def _true_spares(account: Account, truth: DrawnTruth, bowler: str) -> np.ndarray:
    masks = account.leaves
    known = np.isin(masks, m.LEAVE_MASKS) & (masks != m.FULL)
    spares = account.spares.mean(axis=0)
    number = truth.world.bowler_number(pd.Series([bowler]))[0]
    spares[known] = m.spare_probability(truth.world, np.full(int(known.sum()), number), masks[known])
    return spares[None]
