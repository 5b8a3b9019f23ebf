"""Accuracy: how widely a bowler's boards spread around the line intended at that moment.

The line intended is not logged, so the spread is taken from steps between successive shots with the same ball on the
same lane: half the mean squared step estimates the variance whatever slow course the target takes (von Neumann et al.,
Ann. Math. Stat. 12 (1941), where its efficiency on normal data is two thirds). Cutting shots into lines first would
cut the spread itself, for a line is named after the board hit. Steps beyond three sd of a step count as moves of the
line and are left out; the variance a normal loses by that cut is given back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr, softmax

from pipeline.arrays import Draws
from pipeline.models.skills.skill import SkillDraws, counted, tries_at_ends
from pipeline.store.season import Season
from pipeline.store.shown import FIRST, LAST

_EFFICIENCY = 2 / 3
_CUT = 3.0
_RESAMPLES = 40
_LEAST = 0.01  # boards: keeps the log of a resampled spread finite
_KEPT_VARIANCE = 1 - 2 * _CUT * (np.exp(-(_CUT**2) / 2) / np.sqrt(2 * np.pi)) / (
    2 * ndtr(_CUT) - 1
)  # of a normal distribution cut at so many sds
_FEWEST_STEPS = 8
_SD_GRID = np.array([0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.3, 0.45, 0.65])
_SD_PRIOR = 0.3  # scale of the half-normal prior on the sds of log spread: bowlers differ by some 30 %


def step_table(season: Season) -> pd.DataFrame:
    """Sizes of steps (``queries/cells/board_steps``)."""
    return season.frame("cells/board_steps")


def trimmed_spread(size: NDArray[np.float64], steps: NDArray[np.float64], squares: NDArray[np.float64]) -> float:
    """Spread in boards from steps binned by size, with moves of the line left out; 0 if nothing moved.

    Args:
        size: absolute step of each bin, boards.
        steps: how many.
        squares: sum of their squares.
    """
    inside = np.ones(len(size), dtype=bool)
    order = np.argsort(size)
    middle = size[order][np.searchsorted(np.cumsum(steps[order]), steps.sum() / 2)]
    limit = max(_CUT * 1.4826 * float(middle), 1.0)
    for _ in range(20):
        now = size <= limit
        spread = float(np.sqrt(squares[now].sum() / max(steps[now].sum(), 1) / 2 / _KEPT_VARIANCE))
        if np.array_equal(now, inside):
            break
        inside, limit = now, max(_CUT * np.sqrt(2) * spread, 1.0)
    return spread


def accuracy(table: pd.DataFrame, board: str, n: int, rng: np.random.Generator) -> SkillDraws | None:
    """Spread at the ``'arrow'`` or ``'entry'`` board at the class's mix of patterns, boards; None if not logged."""
    cells = _cells(table[table["board"] == board], rng)
    if cells.empty:
        return None
    bowlers = sorted(cells["bowler"].unique())
    classes = sorted(cells["pattern_class"].unique())
    keys = sorted(set(zip(cells["bowler"], cells["third"], strict=True)))
    fixed = _indicators(cells["pattern_class"], classes)
    person = _indicators(cells["bowler"], bowlers)
    third = _indicators(zip(cells["bowler"], cells["third"], strict=True), keys)
    y = cells["log_spread"].to_numpy(dtype=float)
    variance = cells["variance"].to_numpy(dtype=float)
    draws = _draw(y, variance, fixed, person, third, n, rng)
    weight = cells.groupby("pattern_class")["steps"].sum().reindex(classes).to_numpy(dtype=float)
    common = draws[:, : len(classes)] @ (weight / weight.sum())
    of_bowlers = draws[:, len(classes) : len(classes) + len(bowlers)]
    at = draws[:, len(classes) + len(bowlers) :]
    by_key = {key: np.exp(common + of_bowlers[:, bowlers.index(key[0])] + at[:, k]) for k, key in enumerate(keys)}
    spread_known = set(zip(*(counted(cells)[name] for name in ("bowler", "third")), strict=True))
    thirds = {b: [v for k, v in by_key.items() if k[0] == b and k in spread_known] for b in bowlers}
    value = np.column_stack([np.mean(thirds[b], axis=0) for b in bowlers])
    progress = {
        b: by_key[(b, LAST)] - by_key[(b, FIRST)] for b in bowlers if (b, FIRST) in by_key and (b, LAST) in by_key
    }
    shots = counted(cells).groupby("bowler")["steps"].sum()
    tries = {str(b): int(shots[b]) for b in bowlers}
    return SkillDraws([str(b) for b in bowlers], value, progress, tries, tries_at_ends(cells, "steps"))


def _indicators(values: Iterable[object], levels: Sequence[object]) -> Draws:
    """0/1 columns (values, levels) of the level of each value."""
    place = {level: k for k, level in enumerate(levels)}
    return np.eye(len(levels))[[place[value] for value in values]]


def _cells(table: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Log spread of every bowler x pattern class x third with enough steps, its sampling variance and steps."""
    rows = []
    keyed = table.assign(third=table["third"].fillna(0).astype(int))
    for (bowler, pattern_class, third), group in keyed.groupby(["bowler", "pattern_class", "third"]):
        steps = group["steps"].to_numpy(dtype=float)
        if steps.sum() < _FEWEST_STEPS:
            continue
        size, squares = group["size"].to_numpy(dtype=float), group["squares"].to_numpy(dtype=float)
        spread = trimmed_spread(size, steps, squares)
        if spread > 0:
            variance = _sampling_variance(size, steps, squares, rng)
            # a log of a variance on f degrees of freedom has mean about -1/f, variance 2/f: half of each for the spread
            rows.append((bowler, pattern_class, third, np.log(spread) + variance, variance, int(steps.sum())))
    return pd.DataFrame(rows, columns=["bowler", "pattern_class", "third", "log_spread", "variance", "steps"])


def _sampling_variance(
    size: NDArray[np.float64], steps: NDArray[np.float64], squares: NDArray[np.float64], rng: np.random.Generator
) -> float:
    """Variance of the log of the trimmed spread, by resampling the steps; not below that of normal steps.

    Boards have longer tails than a normal and the cut moves with the spread, so the normal formula alone is too
    narrow. Steps that share a shot are not independent; the efficiency accounts for that.
    """
    total = int(steps.sum())
    again = rng.multinomial(total, steps / total, size=_RESAMPLES).astype(float)
    each = squares / steps
    logs = np.log([max(trimmed_spread(size, variances, variances * each), _LEAST) for variances in again])
    result: float = max(float(logs.var(ddof=1)), 0.5 / total) / _EFFICIENCY
    return result


def _draw(
    y: Draws, variance: Draws, fixed: Draws, person: Draws, third: Draws, n: int, rng: np.random.Generator
) -> Draws:
    """Joint draws of (fixed, person, third) effects on ``y``; the two sds are integrated over a grid."""
    design = np.hstack([fixed, person, third])
    cross = design.T @ (design / variance[:, None])
    right = design.T @ (y / variance)
    weights, means, roots = [], [], []
    for sd_person in _SD_GRID:
        for sd_third in _SD_GRID:
            prior = np.concatenate(
                [
                    np.full(fixed.shape[1], 1 / 2.0**2),
                    np.full(person.shape[1], sd_person**-2),
                    np.full(third.shape[1], sd_third**-2),
                ]
            )
            root = np.linalg.cholesky(cross + np.diag(prior))
            mean = np.linalg.solve(root.T, np.linalg.solve(root, right))
            evidence = 0.5 * right @ mean + 0.5 * np.log(prior).sum() - np.log(np.diag(root)).sum()
            evidence -= 0.5 * (sd_person**2 + sd_third**2) / _SD_PRIOR**2
            weights.append(evidence)
            means.append(mean)
            roots.append(root)
    width = np.gradient(_SD_GRID)
    share = softmax(np.array(weights) + np.log(np.outer(width, width).ravel()))
    picked = rng.choice(len(share), size=n, p=share)
    result = np.empty((n, design.shape[1]))
    for node in np.unique(picked):
        at = np.flatnonzero(picked == node)
        noise = rng.standard_normal((design.shape[1], len(at)))
        result[at] = (means[node][:, None] + np.linalg.solve(roots[node].T, noise)).T
    return result
