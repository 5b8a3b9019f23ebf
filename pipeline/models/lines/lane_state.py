"""How far the line that a pair of lanes asks for lies from the usual one that night, by everybody's earlier shots.

Nights on one pattern differ, and a pair changes as it is bowled on. Everybody on a pair meets the same lane, so the
lines they play and their entry boards are evidence of its state: one number per block, pair and side of the lane (left-
and right-handers wear different oil), the arrows by which the lane asks for more than the usual line. The state starts
at a value of that night and follows a random walk as deliveries are thrown; a Kalman filter (Kalman, J. Basic
Engineering 82, 1960) tracks it. At each load only earlier shots count, so no shot explains itself. The line a bowler
plays now was chosen before the shot, so it counts as well: nobody stays far off for long.

The variances between nights and of the walk are learned from what different bowlers on one pair have in common.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codes, named_codes

LANE = ("block", "pair", "hand")
CHOICE = ("bowler", "pattern_class", "pattern", "ball")
# Priors, in arrows squared, and the pairs of lanes that they count for; our own choice. Nights
# differ by a board and a half, a pair by two thirds of a board after a hundred deliveries, bowlers by two boards.
_NIGHT, _WALK, _BOWLER_LINE, _PAIRS = 0.10, 0.02 / 100, 0.16, 4.0
_ONE_SHOT = 0.03  # scatter of one logged arrow board


@dataclass(frozen=True)
class Variances:
    """Variances, in arrows squared.

    Attributes:
        night: of the lane's state, between nights.
        walk: of the state's walk, per delivery.
        bowler_line: of one bowler's line on one night, about what the lane asks for.
        choice: of what the lane asks of one bowler and ball beyond the state, between nights.
    """

    night: float
    walk: float
    bowler_line: float
    choice: float = 0.0

    def at(self, load: Floats) -> Floats:
        """Variance of what a new night asks of one bowler and ball, at these loads, of any shape."""
        return self.night + self.choice + self.walk * load


@dataclass(frozen=True)
class Seen:
    """Evidence of the lane's state, by cell: each (cells,); nan if it was not logged.

    Attributes:
        played: arrows by which the line played lies from the usual one.
        asked: arrows by which the entry boards say the lane asks for more than usual.
        noise: variance of ``asked``.
        shots: first deliveries.
    """

    played: Floats
    asked: Floats
    noise: Floats
    shots: Floats

    @property
    def precision(self) -> Floats:
        """One over the variance of ``asked``, (cells,); 0 if no entry board says it."""
        return np.where(np.isfinite(self.asked), 1.0 / np.where(self.noise > 0, self.noise, 1.0), 0.0)


@dataclass(frozen=True)
class State:
    """Posterior mean and variance (cells,) of the lane's state by earlier shots and the bowler's line."""

    mean: Floats
    variance: Floats
    variances: Variances


def follow(frame: pd.DataFrame, seen: Seen, variances: Variances | None = None) -> State:
    """The state of the lane at each cell of ``frame`` (block, pair, hand, bowler, pair_load).

    Without ``variances`` they are learned.
    """
    lane, names = named_codes(frame, LANE)
    load = frame["pair_load"].to_numpy(dtype=float)
    who, _ = named_codes(frame, [*LANE, "bowler"])
    variances = variances or _variances(lane, who, load, seen)
    loads, step = np.unique(load, return_inverse=True)
    played, asked = _precisions(who, step, seen, variances)
    size = (len(names), len(loads))
    weight, total = np.zeros(size), np.zeros(size)
    np.add.at(weight, (lane, step), played + asked)
    np.add.at(total, (lane, step), played * np.nan_to_num(seen.played) + asked * np.nan_to_num(seen.asked))
    before, variance_before = (values[lane, step] for values in _filtered(weight, total, loads, variances))
    of_line = np.where(np.isfinite(seen.played), 1.0 / (variances.bowler_line + _ONE_SHOT / seen.shots), 0.0)
    variance = 1.0 / (1.0 / variance_before + of_line)
    return State(variance * (before / variance_before + of_line * np.nan_to_num(seen.played)), variance, variances)


def _filtered(weight: Floats, total: Floats, loads: Floats, variances: Variances) -> tuple[Floats, Floats]:
    """State ahead of each step of load, (lanes, loads): mean and variance before the shots of that step."""
    mean, variance = np.zeros_like(total), np.zeros_like(total)
    now, known = np.zeros(len(total)), np.full(len(total), variances.night)
    before = 0.0
    for k, load in enumerate(loads.tolist()):
        known = known + variances.walk * (load - before)
        mean[:, k], variance[:, k], before = now, known, load
        precise = 1.0 / known + weight[:, k]
        now, known = (now / known + total[:, k]) / precise, 1.0 / precise
    return mean, variance


def _precisions(who: Codes, step: Codes, seen: Seen, variances: Variances) -> tuple[Floats, Floats]:
    """Precision (cells,) of each cell's line and entry boards as readings of the state.

    A bowler's line is off by the same amount for the whole block, so all cells of one bowler together count as one.
    """
    logged = np.isfinite(seen.played)
    cells = np.bincount(who, weights=logged)[who]
    played = np.where(logged, 1.0 / (variances.bowler_line * np.maximum(cells, 1.0) + _ONE_SHOT / seen.shots), 0.0)
    return played, seen.precision


def _variances(lane: Codes, who: Codes, load: Floats, seen: Seen) -> Variances:
    """The variances, by the products of the readings of different bowlers on one pair."""
    bowler_line = _BOWLER_LINE
    night, pairs = _NIGHT, _PAIRS
    lane_of = np.zeros(int(who.max()) + 1, dtype=np.int64)
    lane_of[who] = lane
    for _ in range(2):  # the weights depend on the variances
        value, noise = _by_bowler(who, seen, bowler_line)
        weight = np.where(np.isfinite(value), night / (night + noise), 0.0)
        common, evidence = _in_common(np.nan_to_num(value), weight, lane_of)
        night = max((_NIGHT * pairs + common) / (pairs + evidence), 0.1 * _NIGHT)
        played, _ = _by_bowler(
            who, Seen(seen.played, np.full_like(seen.asked, np.nan), seen.noise, seen.shots), bowler_line
        )
        held = np.isfinite(played)
        spread = float((played[held] ** 2).sum()) - night * held.sum()
        bowler_line = max((_BOWLER_LINE * pairs + spread) / (pairs + held.sum()), 0.25 * _BOWLER_LINE)
    return Variances(night, _walk(lane, who, load, seen, bowler_line), bowler_line)


def _by_bowler(who: Codes, seen: Seen, bowler_line: float) -> tuple[Floats, Floats]:
    """Reading of the state by each bowler on a pair (nan without one), and its error variance."""
    logged = np.isfinite(seen.played)
    shots = np.where(logged, seen.shots, 0.0)
    count = np.bincount(who, weights=shots)
    played = np.bincount(who, weights=shots * np.nan_to_num(seen.played)) / np.where(count > 0, count, 1.0)
    precise = seen.precision
    asked = np.bincount(who, weights=precise * np.nan_to_num(seen.asked))
    weight = (count > 0) / bowler_line + np.bincount(who, weights=precise)
    total = (count > 0) * played / bowler_line + asked
    some = weight > 0
    safe = np.where(some, weight, 1.0)
    return np.where(some, total / safe, np.nan), 1.0 / safe


def _in_common(value: Floats, weight: Floats, lane: Codes) -> tuple[float, float]:
    """Sum of the weighted products of two different bowlers on one pair, and of the weights, in pairs of lanes."""
    one, two = np.bincount(lane, weights=weight * value), np.bincount(lane, weights=(weight * value) ** 2)
    total, squares = np.bincount(lane, weights=weight), np.bincount(lane, weights=weight**2)
    each = np.maximum(total, 1e-12)  # a pair of lanes counts by how well it is known, not by how many bowl on it
    return float(((one**2 - two) / each).sum()), float(((total**2 - squares) / each).sum())


def _walk(lane: Codes, who: Codes, load: Floats, seen: Seen, bowler_line: float) -> float:
    """Variance of the walk per delivery, by how bowlers' later shots differ from their earlier ones."""
    shots = seen.shots
    middle = np.bincount(lane, weights=shots * load) / np.bincount(lane, weights=shots)
    late = load > middle[lane]
    part = 2 * who + late
    size = 2 * (int(who.max()) + 1)
    value, noise = _by_bowler(np.append(part, size - 1), _with_nothing(seen), bowler_line)
    mean_load = np.bincount(part, weights=shots * load, minlength=size) / np.maximum(
        np.bincount(part, weights=shots, minlength=size), 1e-12
    )
    change, gap = value[1::2] - value[::2], mean_load[1::2] - mean_load[::2]
    held = np.isfinite(change) & (gap > 0)
    if not held.any():
        return _WALK
    usual = float(gap[held].mean())
    scale = _WALK * 2 / 3 * usual  # of means of two halves of a walk
    lane_of = np.zeros(len(change), dtype=np.int64)
    lane_of[who] = lane
    weight = np.where(held, scale / (scale + noise[1::2] + noise[::2]), 0.0)
    common, evidence = _in_common(np.where(held, change, 0.0), weight, lane_of)
    pooled = (scale * _PAIRS + common) / (_PAIRS + evidence)
    return max(pooled, 0.1 * scale) / (2 / 3 * usual)


def with_choice_variance(variances: Variances, frame: pd.DataFrame, seen: Seen) -> Variances:
    """The variances with ``choice`` learned.

    A night may ask more of a strong ball than of a weak one, and more of one bowler than of another. The variance is
    that between nights of the entry boards of one choice on one pattern, beyond their noise and what nights do to
    everybody. ``seen`` must be from one usual line: lines learned from other blocks also differ from block to block.
    """
    load = frame["pair_load"].to_numpy(dtype=float)
    choice, names = named_codes(frame, [column for column in CHOICE if column in frame])
    night, nights = named_codes(frame.assign(choice=choice), ["choice", "block"])
    precise = seen.precision
    weight = np.bincount(night, weights=precise)
    safe = np.where(weight > 0, weight, 1.0)
    asked = np.bincount(night, weights=precise * np.nan_to_num(seen.asked)) / safe
    common = variances.night + variances.walk * np.bincount(night, weights=precise * load) / safe
    known = np.where(weight > 0, 1.0 / (common + 1.0 / safe), 0.0)  # weight of a night of a choice
    of = np.zeros(len(nights), dtype=np.int64)
    of[night] = choice
    total = np.bincount(of, weights=known, minlength=len(names))
    share = np.divide(known, total[of], out=np.zeros_like(known), where=total[of] > 0)
    mean = np.bincount(of, weights=share * asked, minlength=len(names))
    squares = float((known * (asked - mean[of]) ** 2).sum())
    expected = float((known > 0).sum() - (total > 0).sum())
    growth = float(known.sum() - (share * known).sum())  # of the expected sum, per unit of the variance sought
    between = max(squares - expected, 0.0) / (growth + _PAIRS / variances.night) if growth > 0 else 0.0
    return replace(variances, choice=between)


def _with_nothing(seen: Seen) -> Seen:
    """The same and one cell more without evidence."""
    nan = np.append(seen.played, np.nan)
    return Seen(nan, np.append(seen.asked, np.nan), np.append(seen.noise, 1.0), np.append(seen.shots, 0.0))
