"""A bowler's skills as rates, adjusted for what was bowled on and with: pocket, carry, and spares.

Each rate is a mixed logit on counts: fixed effects for the conditions, random effects for the bowler, the bowler in
each third of the season, and the bowler in each block. Every bowler is then read off at the same mix of conditions,
that of the whole class, in a block of average luck. Boards and leaves are mirrored at load, which is the adjustment
for hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit

from pipeline.arrays import Draws
from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.design import Categorical, Design
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.inference.mixed_logit.mixed_fit import PosteriorDraws
from pipeline.store.season import Season
from pipeline.store.shown import FIRST, LAST

_CONDITION_SD = 1.0  # prior sd of a condition's effect, logits: tripling the odds is one sd
_THIRD_SD = 0.3
# Scales of the sds of the groupings, logits. Bowlers may differ widely; an evening, or a third of the season, shifts
# the odds of one bowler by a third or so. Wider ones widened the intervals of progress too far.
_SD_SCALES = {"bowler": 1.0, "block": 0.3, "third": 0.3}
_NODES = 8
_MIX_ROWS = 40  # conditions beyond the commonest forty are left out of the mix all bowlers are read off at


@dataclass(frozen=True)
class SkillDraws:
    """Posterior draws of one skill.

    Attributes:
        bowlers: those who have it logged, in order.
        value: shape (n, bowlers), in the skill's own unit (rates as probabilities).
        progress: bowler -> (n,) last third minus first third; only if both were logged.
        shots: bowler -> tries behind it.
        ends: bowler -> tries in the first and in the last third.
    """

    bowlers: list[str]
    value: Draws
    progress: dict[str, Draws]
    shots: dict[str, int]
    ends: dict[str, tuple[int, int]] = field(default_factory=dict)


def pocket_cells(season: Season) -> pd.DataFrame:
    """Counts of pocket hits (``queries/cells/strike_cells_by_block``): ``shots`` are those with an entry board."""
    cells = season.frame("cells/strike_cells_by_block")
    logged = cells[cells["entries"] > 0].reset_index(drop=True)
    return logged.assign(shots=logged["entries"], strikes=logged["entry_strikes"])


def spare_cells(season: Season) -> pd.DataFrame:
    """Counts of spares by leave (``cells/spare_cells_by_block``), leaves of one pin marked in column ``single``."""
    cells = season.frame("cells/spare_cells_by_block")
    return cells.assign(single=cells["pins"] == 1)


def strike_cells(season: Season) -> pd.DataFrame:
    """Counts of first balls and strikes (``cells/strike_cells_by_block``), whatever was logged of their boards."""
    return season.frame("cells/strike_cells_by_block")


def strike_rate(cells: pd.DataFrame, n: int, rng: np.random.Generator) -> SkillDraws | None:
    """P(strike) on the first ball at the class's mix of pattern, phase and ball."""
    return _rate(cells, "strikes", "shots", ("pattern_class", "phase", "ball_class"), n, rng)


def pocket_rate(cells: pd.DataFrame, n: int, rng: np.random.Generator) -> SkillDraws | None:
    """P(pocket) at the class's mix of pattern, phase and ball; None if no entry board was logged."""
    return _rate(cells, "pockets", "shots", ("pattern_class", "phase", "ball_class"), n, rng)


def carry_rate(cells: pd.DataFrame, n: int, rng: np.random.Generator) -> SkillDraws | None:
    """P(strike | pocket) at the class's mix; None if no pocket hit was logged."""
    return _rate(cells, "pocket_strikes", "pockets", ("pattern_class", "phase", "ball_class"), n, rng)


def spare_rate(cells: pd.DataFrame, n: int, rng: np.random.Generator) -> SkillDraws | None:
    """P(spare) at the class's mix of leaves; give it the single-pin or the multi-pin rows."""
    common = cells.assign(leave=_common_leaves(cells))
    return _rate(common, "made", "attempts", ("leave",), n, rng)


def all_spares(single: SkillDraws, multi: SkillDraws, single_share: float) -> SkillDraws | None:
    """P(spare) over all leaves, from the rates at single-pin and at other leaves, for those who have both.

    Args:
        single: the rate at leaves of one pin.
        multi: the rate at all others; fitted apart, so its draws are independent of those of ``single``.
        single_share: share of the class's spare attempts that were at one pin.

    Returns:
        Draws at the class's mix of leaves; None if nobody has both rates.
    """
    bowlers = [bowler for bowler in single.bowlers if bowler in multi.bowlers]
    if not bowlers:
        return None
    weights = ((single, single_share), (multi, 1 - single_share))
    value = np.sum([w * one.value[:, [one.bowlers.index(b) for b in bowlers]] for one, w in weights], axis=0)
    both = [bowler for bowler in single.progress if bowler in multi.progress]
    progress = {b: single_share * single.progress[b] + (1 - single_share) * multi.progress[b] for b in both}
    return SkillDraws(bowlers, value, progress, {b: single.shots[b] + multi.shots[b] for b in bowlers})


def _common_leaves(cells: pd.DataFrame) -> pd.Series:
    """The leave if it was faced at least thirty times, else its type: a rare leave borrows from its type."""
    faced = cells.groupby("leave")["attempts"].transform("sum")
    return cells["leave"].where(faced >= 30, cells["leave_type"])


def _rate(
    cells: pd.DataFrame, made: str, tried: str, conditions: tuple[str, ...], n: int, rng: np.random.Generator
) -> SkillDraws | None:
    keys = ["bowler", "block", "third", *conditions]
    used = cells[cells[tried] > 0].groupby(keys, as_index=False, dropna=False)[[made, tried]].sum()
    if used.empty:
        return None
    used = used.assign(third=used["third"].fillna(0).astype(int))
    design = Design([Categorical((name,), _CONDITION_SD) for name in conditions] + [Categorical(("third",), _THIRD_SD)])
    design.learn(used)
    bowlers = sorted(used["bowler"].unique())
    thirds = used[["bowler", "third"]].drop_duplicates(ignore_index=True)
    terms = _terms(used, bowlers, thirds)
    fit = fit_mixed_logit(
        design.matrix(used),
        terms,
        used[made].to_numpy(dtype=float),
        used[tried].to_numpy(dtype=float),
        fixed_precision=design.precision(),
        sd_prior=[_SD_SCALES[term.name] for term in terms],
        nodes=_NODES,
    )
    draws = fit.draw(n, rng)
    by_third = _read_off(used, design, draws, bowlers, thirds, conditions, tried)
    value = np.column_stack([np.mean([by_third[k] for k in _of(thirds, bowler)], axis=0) for bowler in bowlers])
    progress = {}
    for bowler in bowlers:
        place = {int(thirds["third"].iloc[k]): k for k in _of(thirds, bowler)}
        if FIRST in place and LAST in place:
            progress[bowler] = by_third[place[LAST]] - by_third[place[FIRST]]
    shots = counted(used).groupby("bowler")[tried].sum()
    tries = {str(b): int(shots[b]) for b in bowlers}
    return SkillDraws([str(b) for b in bowlers], value, progress, tries, tries_at_ends(used, tried))


def _of(thirds: pd.DataFrame, bowler: str) -> NDArray[np.intp]:
    """Places of the bowler's thirds; the one outside the season only if no third is within it."""
    mine = (thirds["bowler"] == bowler).to_numpy()
    inside = mine & (thirds["third"] > 0).to_numpy()
    return np.flatnonzero(inside if inside.any() else mine)


def tries_at_ends(cells: pd.DataFrame, tried: str) -> dict[str, tuple[int, int]]:
    """Bowler -> tries in the first and in the last third, of those who have both."""
    by = (
        cells.groupby(["bowler", "third"])[tried]
        .sum()
        .unstack(fill_value=0)
        .reindex(columns=[FIRST, LAST], fill_value=0)
    )
    return {str(bowler): (int(first), int(last)) for bowler, first, last in by.itertuples() if first and last}


def counted(cells: pd.DataFrame) -> pd.DataFrame:
    """Rows of the season's thirds; all of a bowler's rows if none is. Column ``third``: 0 outside."""
    inside = cells["third"] > 0
    return cells[inside | ~inside.groupby(cells["bowler"]).transform("any")]


def _terms(used: pd.DataFrame, bowlers: list[str], thirds: pd.DataFrame) -> list[Term]:
    person = np.array([bowlers.index(bowler) for bowler in used["bowler"]], dtype=np.int64)
    third_keys = list(zip(thirds["bowler"], thirds["third"], strict=True))
    place = {key: k for k, key in enumerate(third_keys)}
    third = np.array([place[key] for key in zip(used["bowler"], used["third"], strict=True)], dtype=np.int64)
    block = np.array(used.groupby(["bowler", "block"], sort=True).ngroup(), dtype=np.int64)
    terms = [Term("bowler", person, len(bowlers)), Term("block", block, int(block.max()) + 1)]
    if len(third_keys) > len(bowlers):
        terms.append(Term("third", third, len(third_keys)))
    return terms


def _read_off(
    used: pd.DataFrame,
    design: Design,
    draws: PosteriorDraws,
    bowlers: list[str],
    thirds: pd.DataFrame,
    conditions: tuple[str, ...],
    tried: str,
) -> list[Draws]:
    """Draws of the rate of every (bowler, third) at the commonest conditions of the class, weighted by their tries."""
    mix = used.groupby(list(conditions), as_index=False)[[tried]].sum().nlargest(_MIX_ROWS, tried)
    weight = mix[tried].to_numpy(dtype=float) / mix[tried].sum()
    usual = {third: draws.fixed @ design.matrix(mix.assign(third=third)).T for third in thirds["third"].unique()}
    result = []
    for k, (bowler, third) in enumerate(zip(thirds["bowler"], thirds["third"], strict=True)):
        logit = usual[third] + draws.random["bowler"][:, [bowlers.index(bowler)]]
        if "third" in draws.random:
            logit += draws.random["third"][:, [k]]
        result.append(expit(logit) @ weight)
    return result
