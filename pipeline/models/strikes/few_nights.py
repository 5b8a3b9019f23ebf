"""How far the worth of a ball on a kept line may be from what the few nights it was thrown on show.

Nights ask for different lines, so a line that is kept strikes more on some than on others. What it is worth is the mean
over nights, of which a choice that was thrown on three has shown three: the sd between nights over the root of their
number is left, about the same mean. How far nights differ and what it costs are learned, so nothing is added where
nights are alike. A line that follows the lane has no such part.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.design import named_codes
from pipeline.inference.mixed_logit.named_effects import AVERAGE, keyed_noise

_CHOICE = ["bowler", "pattern_class", "ball", "line"]
_ONE = 1  # night that a choice never thrown is taken to have shown


def nights_thrown(cells: pd.DataFrame) -> dict[str, int]:
    """Blocks in which each choice of bowler, pattern class, ball and line was thrown, by its joined name."""
    codes, names = named_codes(cells, _CHOICE)
    blocks = pd.Series(cells["block"].to_numpy()).groupby(codes).nunique()
    return {names[code]: int(count) for code, count in zip(blocks.index.tolist(), blocks, strict=True)}


def of_few_nights(frame: pd.DataFrame, nights: dict[str, int], n: int, base: int, no_line: str) -> Floats:
    """Sds between nights (n, rows) by which each row may be off; rows of one choice share theirs whatever the call.

    Args:
        frame: columns bowler, pattern_class, ball and line.
        nights: as ``nights_thrown`` counts them.
        n: draws.
        base: of the noise, one per set of draws.
        no_line: what a line not logged is called; such rows, and those of an average bowler or ball, have none.
    """
    choice = frame["line"].ne(no_line).to_numpy() & ~(frame[_CHOICE] == AVERAGE).any(axis=1).to_numpy()
    codes, names = named_codes(frame, _CHOICE)
    keys = [f"nights={names[code]}" if own else None for code, own in zip(codes, choice, strict=True)]
    shown = np.array([nights.get(name, _ONE) for name in names], dtype=float)[codes]
    return keyed_noise(keys, n, base) / np.sqrt(shown)
