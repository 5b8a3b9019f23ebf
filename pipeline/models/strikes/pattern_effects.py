"""What a pattern does beyond its class and its numbers: to everybody, to each ball and to each line.

Length, volume and ratio act as smooth trends in the worth model; what is left to each pattern has sds that are learned.
So a pattern never bowled is as unsure as the patterns bowled differ from what their numbers say. Beyond the range of
the numbers logged no trend is known to go on: such oil is priced as the nearest logged, and is the less sure the
further it lies. Games later than any logged are taken the same way, for oil that far gone is new oil, too.

Without a pattern the mean over the patterns of the class is meant, as often as each was bowled on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.design import Codes, named_codes
from pipeline.inference.mixed_logit.named_effects import Group, MixedLogit, keyed_noise
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
        """From cells with pattern_class and shots; without a column ``pattern`` none is known."""
        if PATTERN not in cells:
            return cls(pd.DataFrame({"pattern_class": [], PATTERN: [], "share": []}))
        named = cells[cells[PATTERN].notna()]
        shots = named.groupby(["pattern_class", PATTERN], observed=True)["shots"].sum().astype(float)
        return cls((shots / shots.groupby(level=0).transform("sum")).rename("share").reset_index())

    def draws(self, model: MixedLogit, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats | float:
        """Mean logits (n, rows) that the patterns of a row's class add; 0 for rows that name a pattern."""
        unnamed = frame[PATTERN].isna().to_numpy() if PATTERN in frame else np.ones(len(frame), dtype=bool)
        groups = [group for group in model.groups if group in PATTERN_GROUPS]
        if not groups or not unnamed.any():
            return 0.0
        out = np.zeros((n, len(frame)))
        rows = frame[unnamed].drop(columns=PATTERN, errors="ignore")
        for group in groups:
            keys = ["pattern_class", *(column for column in group.columns if column != PATTERN)]
            codes, _ = named_codes(rows, keys)
            distinct = rows[keys].iloc[np.unique(codes, return_index=True)[1]]
            laid, share, at = self._laid_out(distinct)
            mean = sparse.csr_array((share, (np.arange(len(laid)), at)), shape=(len(laid), len(distinct)))
            if len(laid):
                out[:, unnamed] += np.asarray(model.group_draws(group, laid, n, rng) @ mean)[:, codes]
        return out

    def _laid_out(self, rows: pd.DataFrame) -> tuple[pd.DataFrame, Floats, Codes]:
        """The rows on every pattern of their class, each pattern's share, and the place of the row it stands for."""
        logged = [self._by_class.get(kind, ([], [])) for kind in rows["pattern_class"].tolist()]
        at = np.repeat(np.arange(len(rows)), [len(patterns) for patterns, _ in logged])
        patterns = [pattern for patterns, _ in logged for pattern in patterns]
        laid = pd.DataFrame({name: rows[name].to_numpy(dtype=object)[at] for name in rows})
        laid[PATTERN] = pd.Series(patterns, dtype=object)
        return laid, np.array([share for _, shares in logged for share in shares], dtype=float), at

    @cached_property
    def _by_class(self) -> dict[str, tuple[list[str], list[float]]]:
        """Pattern class -> its patterns and their shares."""
        groups = self.shares.groupby("pattern_class", sort=False)
        return {str(kind): (own[PATTERN].tolist(), own["share"].tolist()) for kind, own in groups}


def beyond_logged(
    model: MixedLogit, frame: pd.DataFrame, oil: tuple[str, ...], beyond: Floats, n: int, rng: np.random.Generator
) -> Floats | float:
    """Logits (n, rows) by which oil and games beyond those logged may differ, besides what any new pattern may.

    Args:
        model: the worth model.
        frame: columns ball, line, late (a game beyond those logged, else 0) and the numbers of the oil; maybe pattern.
        oil: those numbers; one oil goes by them to a tenth.
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
        times = beyond if learned else np.hypot(beyond, named)  # where no pattern was named, any is as new
        if not times.any():
            continue
        believed = half_t(group.sd_scale, n, np.random.default_rng([base, 2, k]))
        sd = posterior.sd[group.name] if learned else believed
        codes, names = named_codes(rows, [*oil, "late", *(column for column in group.columns if column != PATTERN)])
        keys = [f"new {group.name}={names[c]}" if far else None for c, far in zip(codes, times, strict=True)]
        out = out + keyed_noise(keys, n, base) * sd[:, None] * times
    return out
