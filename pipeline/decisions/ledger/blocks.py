"""Blocks: score, expected score, the sources of the difference, and how much of it was luck."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.decisions.candidates import row_dicts
from pipeline.decisions.estimates import estimate
from pipeline.decisions.ledger.accounts import parts_of
from pipeline.decisions.ledger.ageing import ages_of
from pipeline.decisions.records import BlockLedger
from pipeline.decisions.wording.ledger import block_sentence
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.block_level import Ages, BlockLevels, block_levels, luck_percentile
from pipeline.pricing.ledger.class_usual import OWN
from pipeline.pricing.ledger.deliveries import PARTS, Ledger, open_ledger
from pipeline.pricing.ledger.sums import entries, sums

_LANE = PARTS.index("lane")


def block_ledgers(fitted: Fitted) -> list[BlockLedger]:
    """One record per bowler and block with a complete game, against the bowler's own usual, in order of date."""
    book = open_ledger(fitted)
    out: list[BlockLedger] = []
    for reference, bowler in book.accounts:
        if reference == OWN:
            out += _of_bowler(book, bowler, ages_of(fitted, bowler))
    return out


def _of_bowler(book: Ledger, bowler: str, ages: Ages | None) -> list[BlockLedger]:
    ledger_rows = entries(book, OWN, bowler)
    if ledger_rows.totals.empty:
        return []
    blocks = pd.Index(ledger_rows.totals["block"].astype(str))
    racks, leaves = (
        blocks.get_indexer(pd.Index(rows["block"].astype(str))) for rows in (ledger_rows.racks, ledger_rows.leaves)
    )
    by_block = sums(ledger_rows, racks, leaves, len(blocks))
    level = block_levels(book, bowler, ages)
    out = []
    for place, row in enumerate(row_dicts(ledger_rows.totals)):
        games = int(row["games"])
        pins, draws = by_block.pins[place] / games, by_block.draws[:, place] / games
        out.append(_record(book.fits, bowler, row, pins, draws, level))
    return out


def _record(
    fits: Fits, bowler: str, row: dict[str, object], pins: np.ndarray, draws: np.ndarray, level: BlockLevels
) -> BlockLedger:
    games = int(str(row["games"]))
    expected, scored = float(str(row["expected"])) / games, float(str(row["scored"])) / games
    place = level.blocks.index(str(row["block"]))
    drawn = level.pins[:, place]
    parts = parts_of(pins, draws)
    true_level = estimate(drawn)
    percentile = estimate(luck_percentile(fits, bowler, level, place, scored * games))
    return BlockLedger(
        bowler=bowler,
        block=str(row["block"]),
        date=pd.Timestamp(str(row["date"])).date(),
        pattern_class=str(row["pattern_class"]),
        games=games,
        shots=int(str(row["shots"])),
        expected=expected,
        expected_there=expected + float(pins[_LANE]),
        scored=scored,
        level=true_level,
        luck=estimate(scored - drawn),
        luck_percentile=percentile,
        parts=parts,
        sentence=block_sentence(scored, expected, parts, true_level, percentile.mean),
    )
