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
from pipeline.inference.mixed_logit.codings import Codings, levels_of, named_codes
from pipeline.inference.mixed_logit.effect_draws import noise_of
from pipeline.inference.mixed_logit.named_effects import AVERAGE

_CHOICE = ["bowler", "pattern_class", "ball", "line"]
_ONE = 1  # night that a choice never thrown is taken to have shown


def nights_thrown(cells: pd.DataFrame) -> dict[str, int]:
    """Blocks in which each choice of bowler, pattern class, ball and line was thrown, by its joined name."""
    codes, names = named_codes(cells, _CHOICE)
    blocks = pd.Series(cells["block"].to_numpy()).groupby(codes).nunique()
    return {names[code]: int(count) for code, count in zip(blocks.index.tolist(), blocks, strict=True)}


def of_few_nights(
    frame: pd.DataFrame, nights: dict[str, int], n: int, base: int, no_line: str, codings: Codings | None = None
) -> Floats:
    """Sds between nights (n, rows) by which each row may be off; rows of one choice share theirs whatever the call.

    Args:
        frame: columns bowler, pattern_class, ball and line.
        nights: as ``nights_thrown`` counts them.
        n: draws.
        base: of the noise, one per set of draws.
        no_line: what a line not logged is called; such rows, and those of an average bowler or ball, have none.
        codings: of the frame.
    """
    levels = levels_of(frame, _CHOICE, codings)
    thrown = ~(levels.any_is(AVERAGE) | levels.any_is(no_line))
    off = np.zeros((n, len(thrown)))
    for k in np.flatnonzero(thrown).tolist():
        name = levels.names[k]
        off[:, k] = noise_of([f"nights={name}"], n, base)[0] / np.sqrt(nights.get(name, _ONE))
    return np.take(off, levels.codes, axis=1)
