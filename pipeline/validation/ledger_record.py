"""How often intervals of the ledger's parts held in simulated seasons, whose truth is known: one row per part.

The recovery study (``tests/recovery/ledger_study.py``) writes the file beside this one.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, fields
from pathlib import Path

FILE = Path(__file__).with_name("ledger_record.csv")
_LEAST_OF_BLOCKS, _LEAST_OF_SEASONS = 0.70, 0.65


@dataclass(frozen=True)
class PartRecord:
    """One part: the least and the largest share of 80 % intervals that held the truth, over the simulated worlds."""

    part: str
    """As ``LedgerPart.part`` names it, or ``level`` for the true level of a block."""
    block_low: float
    block_high: float
    season_low: float
    """Nan for the level, which is a block's."""
    season_high: float
    block_low_se: float
    """Standard error of ``block_low``, from simulated season to season; one for ``season_low`` follows."""
    season_low_se: float

    @property
    def rough(self) -> bool:
        """Whether the interval was clearly too narrow in some world."""
        return self.block_low < _LEAST_OF_BLOCKS or self.season_low < _LEAST_OF_SEASONS


def ledger_record() -> dict[str, PartRecord]:
    """All parts by name, in the order of the file."""
    names = [item.name for item in fields(PartRecord)[1:]]
    with FILE.open(encoding="utf-8", newline="") as file:
        return {
            row["part"]: PartRecord(row["part"], *(float(row[name] or "nan") for name in names))
            for row in csv.DictReader(file)
        }
