"""Array types, once: what an array holds; its shape stands in the docstring of whatever takes or gives it."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
"""Numbers."""
Draws: TypeAlias = NDArray[np.float64]
"""Numbers whose axis 0 is the posterior draw."""
