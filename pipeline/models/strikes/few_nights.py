"""The error of a kept line's worth that comes from the few nights it was thrown on.

Nights ask for different lines, so a line that is kept strikes more on some nights than on others. Its worth is the mean
over all nights, and a choice thrown on three nights has shown three of them: the error is the sd between nights over
the square root of their number. That sd is learned, so nothing is added if nights are alike. A line that follows the
lane has no such error.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codings, levels_of, named_codes
from pipeline.inference.mixed_logit.effect_draws import noise_of
from pipeline.inference.mixed_logit.named_effects import AVERAGE

_CHOICE = ["bowler", "pattern_class", "ball", "line"]
_ONE = 1  # night, for a choice never thrown


def nights_thrown(cells: pd.DataFrame) -> dict[str, int]:
    """Blocks in which each choice of bowler, pattern class, ball and line was thrown, by its joined name."""
    codes, names = named_codes(cells, _CHOICE)
    blocks = pd.Series(cells["block"].to_numpy()).groupby(codes).nunique()
    return {names[code]: int(count) for code, count in zip(blocks.index.tolist(), blocks, strict=True)}


def of_few_nights(
    frame: pd.DataFrame, nights: dict[str, int], n: int, base: int, no_line: str, codings: Codings | None = None
) -> Floats:
    """Error of each row (n, rows) in sds between nights; rows of one choice share theirs in every call.

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
