"""What a pattern does beyond its class and its numbers: to everybody, to each ball and to each line.

Length, volume and ratio are smooth trends in the worth model; the rest of each pattern is an effect with a learned sd.
A pattern never bowled is therefore as uncertain as known patterns differ from their trends. Beyond the range logged no
trend is known to continue: such oil is priced as the nearest logged, with more uncertainty the further it lies. Games
later than any logged are treated alike, because oil that worn is new oil, too.

A row without a pattern means the average over the patterns of its class, by how often each was bowled on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codings, levels_of, named_codes
from pipeline.inference.mixed_logit.effect_draws import EffectDraws, keyed_noise
from pipeline.inference.mixed_logit.named_effects import AVERAGE, Group, MixedLogit
from pipeline.inference.mixed_logit.sd_priors import half_t

PATTERN = "pattern"
PATTERN_GROUPS = (
    Group((PATTERN,), where_named=True, sd_scale=0.2),
    Group((PATTERN, "ball"), where_named=True, sd_scale=0.1),
    Group((PATTERN, "line"), where_named=True, sd_scale=0.1),
)


@dataclass(frozen=True)
class UsualPatterns:
    """Patterns by how often they were bowled on: columns pattern_class, pattern and share, which sums to 1 by class."""

    shares: pd.DataFrame

    @classmethod
    def learn(cls, cells: pd.DataFrame) -> UsualPatterns:
        """From cells with pattern_class and shots; without a column ``pattern`` there is none."""
        if PATTERN not in cells:
            return cls(pd.DataFrame({"pattern_class": [], PATTERN: [], "share": []}))
        named = cells[cells[PATTERN].notna()]
        shots = named.groupby(["pattern_class", PATTERN], observed=True)["shots"].sum().astype(float)
        return cls((shots / shots.groupby(level=0).transform("sum")).rename("share").reset_index())

    def effects(
        self, model: MixedLogit, frame: pd.DataFrame, n: int, rng: np.random.Generator, codings: Codings
    ) -> list[EffectDraws]:
        """What the patterns of a row's class add on average; nothing at rows that name a pattern."""
        unnamed = frame[PATTERN].isna().to_numpy() if PATTERN in frame else np.ones(len(frame), dtype=bool)
        groups = [group for group in model.groups if group in PATTERN_GROUPS]
        if not groups or not unnamed.any():
            return []
        return [self._effects(model, group, frame, n, rng, codings, unnamed) for group in groups]

    def _effects(
        self,
        model: MixedLogit,
        group: Group,
        frame: pd.DataFrame,
        n: int,
        rng: np.random.Generator,
        codings: Codings,
        unnamed: NDArray[np.bool_],
    ) -> EffectDraws:
        others = [column for column in group.columns if column != PATTERN]
        levels = levels_of(frame, ["pattern_class", *others], codings)
        missing, average = levels.missing(), levels.any_is(AVERAGE)
        kinds, texts = levels.texts[0], levels.texts[1:]
        names, shares, at = [], [], []
        for level in np.unique(levels.codes[unnamed & ~(missing | average)[levels.codes]]).tolist():
            rest = [text[place[level]] for text, place in zip(texts, levels.places[1:], strict=True)]
            for pattern, share in self._by_class.get(kinds[levels.places[0][level]], ()):
                names.append("|".join([pattern, *rest]))
                shares.append(share)
                at.append(level)
        mean = sparse.csr_array((shares, (at, np.arange(len(at)))), shape=(len(missing), len(at)))
        codes = np.where(unnamed, levels.codes, -1)
        if not len(at):
            return EffectDraws(np.zeros((0, n)), codes)
        return EffectDraws(np.asarray(mean @ model.level_draws(group, names, n, rng)), codes)

    @cached_property
    def _by_class(self) -> dict[str, list[tuple[str, float]]]:
        """Pattern class -> its patterns and their shares."""
        groups = self.shares.groupby("pattern_class", sort=False)
        return {
            str(kind): list(zip(map(str, rows[PATTERN]), rows["share"].tolist(), strict=True)) for kind, rows in groups
        }


def beyond_logged(
    model: MixedLogit, frame: pd.DataFrame, oil: tuple[str, ...], beyond: Floats, n: int, rng: np.random.Generator
) -> Floats | float:
    """Extra noise (n, rows), in logits, of oil and games beyond those logged.

    Args:
        model: the worth model.
        frame: columns ball, line, late (a game beyond those logged, else 0) and the numbers of the oil; maybe pattern.
        oil: columns of the oil's numbers; oils equal to a tenth are the same oil.
        beyond: standard deviations (rows,) by which each row lies beyond what was logged.
        n, rng: as in ``model.draws``.
    """
    posterior, base = model.draws(n, rng)
    named = frame[PATTERN].notna().to_numpy() if PATTERN in frame else np.zeros(len(frame), dtype=bool)
    known = {group.name for group in model.groups}
    if not beyond.any() and all(group.name in known or not named.any() for group in PATTERN_GROUPS):
        return 0.0
    rows = frame[["ball", "line", "late"]].join(frame[list(oil)].astype(float).round(1))
    out: Floats | float = 0.0
    for k, group in enumerate(PATTERN_GROUPS):
        learned = group.name in known
        times = beyond if learned else np.hypot(beyond, named)  # without a pattern's name, every one is as new
        if not times.any():
            continue
        believed = half_t(group.sd_scale, n, np.random.default_rng([base, 2, k]))
        sd = posterior.sd[group.name] if learned else believed
        codes, names = named_codes(rows, [*oil, "late", *(column for column in group.columns if column != PATTERN)])
        keys = [f"new {group.name}={names[c]}" if far else None for c, far in zip(codes, times, strict=True)]
        out = out + keyed_noise(keys, n, base) * sd[:, None] * times
    return out
