"""Standard normal noise seeded per effect, so an effect's draws do not depend on which others are drawn."""

from __future__ import annotations

import numpy as np

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codes


def level_noise(codes: Codes, n: int, width: int, rng: np.random.Generator) -> Floats:
    """Standard normal draws (n, len(codes), width), the same for a code whatever the other codes are."""
    base = int(rng.integers(2**32))
    each = [np.random.default_rng([base, code]).standard_normal((n, width)) for code in codes.tolist()]
    return np.stack(each, axis=1) if each else np.zeros((n, 0, width))
