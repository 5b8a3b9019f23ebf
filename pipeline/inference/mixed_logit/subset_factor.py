"""The part of a sparse Cholesky factor that is needed to draw a subset of the random effects.

In the elimination order an effect depends on those eliminated after it that its column of the lower factor touches,
and on what they depend on in turn. A unit's effects touch hardly any of another unit's, so few are drawn beside
those kept. The noise of an effect is seeded by its place, so its draws are the same whatever else is kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy  # its parts as in arrowhead
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.arrowhead import ArrowheadFactor
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.noise import level_noise


@dataclass(frozen=True)
class SubsetFactor:
    """What draws the effects kept, and nothing else of an ``ArrowheadFactor``.

    Attributes:
        places: (behind,) places in the elimination order of the effects kept and of those they depend on.
        upper: (behind, behind) transposed unit lower factor among these.
        scale: (behind,) sd of each given those after it.
        at: (kept,) where among ``places`` each effect kept stands.
        coupling, schur: (kept, fixed) and (fixed, fixed) as in ``ArrowheadFactor``.
    """

    places: Codes
    upper: sparse.csr_array
    scale: Floats
    at: Codes
    coupling: Floats
    schur: Floats

    @classmethod
    def of(cls, factor: ArrowheadFactor, rows: Codes) -> SubsetFactor:
        """Keep the random effects in ``rows`` (kept,)."""
        lu = factor.lu
        if lu is None:
            nothing = np.zeros(0, dtype=np.int64)
            return cls(nothing, sparse.csr_array((0, 0)), np.zeros(0), nothing, np.zeros((0, 0)), factor.schur)
        lower, place = lu.lower(), lu.places()[rows]
        behind = _behind(lower, place)
        return cls(
            places=behind,
            upper=lower[:, behind].tocsr()[behind].T.tocsr(),
            scale=1.0 / np.sqrt(lu.diagonal()[behind]),
            at=np.searchsorted(behind, place),
            coupling=factor.coupling[rows],
            schur=factor.schur,
        )

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Draws of (random, fixed) with mean zero: shapes (n, kept), (n, fixed)."""
        fixed = rng.standard_normal((n, len(self.schur)))
        noise = self.scale[:, None] * level_noise(self.places, n, 1, rng)[:, :, 0].T
        if fixed.size:
            fixed = scipy.linalg.solve_triangular(self.schur, fixed.T).T
        if len(noise):
            noise = sparse.linalg.spsolve_triangular(self.upper, noise, lower=False, unit_diagonal=True)
        random = noise[self.at].T
        if fixed.size and random.size:
            random -= fixed @ self.coupling.T
        return random, fixed


def _behind(lower: sparse.csc_array, places: Codes) -> Codes:
    """``places`` and every place that theirs depend on, in order; ``lower`` is in the order of elimination."""
    wanted = np.zeros(lower.shape[0], dtype=bool)
    wanted[places] = True
    start, rows = lower.indptr, lower.indices
    for column in range(int(places.min(initial=len(wanted))), len(wanted)):
        if wanted[column]:
            wanted[rows[start[column] : start[column + 1]]] = True
    return np.flatnonzero(wanted)
