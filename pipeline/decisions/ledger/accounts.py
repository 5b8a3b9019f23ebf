"""Accounts: where each bowler's pins came from and went, against the class and against the bowler's own usual."""

from __future__ import annotations

from typing import cast

import numpy as np

from pipeline.decisions.estimates import estimates
from pipeline.decisions.records import Estimate, LedgerAccount, LedgerAgainst, LedgerPart, LedgerPartName
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.deliveries import PARTS, open_ledger
from pipeline.pricing.ledger.sums import entries, sums


def ledger(fitted: Fitted) -> list[LedgerAccount]:
    """One account per bowler and reference, of complete games; bowlers without one are left out."""
    book = open_ledger(fitted)
    out = []
    for reference, bowler in book.accounts:
        rows = entries(book, reference, bowler)
        games = int(rows.totals["games"].sum())
        if games == 0:
            continue
        total = sums(rows, np.zeros(len(rows.racks), int), np.zeros(len(rows.leaves), int), 1)
        out.append(
            LedgerAccount(
                bowler=bowler,
                against=cast(LedgerAgainst, reference),
                games=games,
                shots=int(rows.totals["shots"].sum()),
                expected=estimate_about(float(rows.totals["expected"].sum()) / games, total.base[:, 0] / games),
                scored=float(rows.totals["scored"].sum()) / games,
                parts=parts_of(total.pins[0] / games, total.draws[:, 0] / games),
            )
        )
    return out


def parts_of(pins: np.ndarray, draws: np.ndarray) -> list[LedgerPart]:
    """Parts that occur, with intervals.

    Args:
        pins: value of each of ``PARTS`` (parts,), pins per game.
        draws: (n, parts) about them; shifted so that their mean is the value and the values still add up.
    """
    places = [place for place in range(len(PARTS)) if pins[place] != 0 or np.ptp(draws[:, place]) > 0]
    centred = draws[:, places] - draws[:, places].mean(axis=0) + pins[places]
    return [
        LedgerPart(part=part_name(PARTS[place]), pins=value.model_copy(update={"mean": float(pins[place])}))
        for place, value in zip(places, estimates(centred), strict=True)
    ]


def estimate_about(value: float, off: np.ndarray) -> Estimate:
    """An estimate whose mean is ``value``, from draws (n,) of how far off it is."""
    return estimates((value + off - off.mean())[:, None])[0].model_copy(update={"mean": value})


def part_name(part: str) -> LedgerPartName:
    """The name of a part with spaces, as records have it."""
    return cast(LedgerPartName, part.replace("_", " "))
