"""How far the line a pair of lanes asks for lies from the usual one that night, as everybody's earlier shots show it.

Two nights on one pattern are not alike, and a pair changes as it is bowled on. Everybody on a pair meets the same lane,
so where they all play, and where their balls come in, tells of it. The state is one number for each block, pair and
side of the lane (left- and right-handers wear different oil): boards by which the lane asks for more than the usual
line, in arrows. It starts at a night's own value and walks on as deliveries are thrown; a Kalman filter (Kalman, J.
Basic Engineering 82, 1960) follows it. At each load only earlier shots count, so no shot tells of itself. What a bowler
plays now was chosen before the shot, so that line says the rest: nobody stays far off for long.

How much nights differ, and how fast a lane walks, is learned from what different bowlers on one pair have in common.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codes, named_codes

LANE = ("block", "pair", "hand")
CHOICE = ("bowler", "pattern_class", "pattern", "ball")
# What is believed beforehand, in arrows squared, and as how many pairs' worth of evidence; our own choice. Nights
# differ by a board and a half, a pair by two thirds of a board after a hundred deliveries, bowlers by two boards.
_NIGHT, _WALK, _BOWLER_LINE, _PAIRS = 0.10, 0.02 / 100, 0.16, 4.0
_ONE_SHOT = 0.03  # scatter of one logged arrow board


@dataclass(frozen=True)
class Variances:
    """Arrows squared.

    Attributes:
        night: of the lane's state between nights.
        walk: more of it for each delivery.
        bowler_line: of where one bowler plays on one night, about what the lane asks for.
        choice: between nights, of what one bowler and ball are asked for beyond that state.
    """

    night: float
    walk: float
    bowler_line: float
    choice: float = 0.0

    def at(self, load: Floats) -> Floats:
        """Variance of what is asked of one bowler and ball on a night nobody has seen, at these loads."""
        return self.night + self.choice + self.walk * load


@dataclass(frozen=True)
class Seen:
    """What cells show of the lane: each (cells,); nan where it was not logged.

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
        """One over the variance of ``asked``, (cells,); 0 where no entry board says it."""
        return np.where(np.isfinite(self.asked), 1.0 / np.where(self.noise > 0, self.noise, 1.0), 0.0)


@dataclass(frozen=True)
class State:
    """The lane's state by the earlier shots on the pair and the bowler's line, and how it varies: each (cells,)."""

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
    before, unsure = (values[lane, step] for values in _filtered(weight, total, loads, variances))
    of_line = np.where(np.isfinite(seen.played), 1.0 / (variances.bowler_line + _ONE_SHOT / seen.shots), 0.0)
    variance = 1.0 / (1.0 / unsure + of_line)
    return State(variance * (before / unsure + of_line * np.nan_to_num(seen.played)), variance, variances)


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
    """Precision (cells,) of what each cell's lines and entry boards say.

    A bowler's own line lies off the lane's for the whole block, so all cells of one say of it together what one does.
    """
    logged = np.isfinite(seen.played)
    cells = np.bincount(who, weights=logged)[who]
    played = np.where(logged, 1.0 / (variances.bowler_line * np.maximum(cells, 1.0) + _ONE_SHOT / seen.shots), 0.0)
    return played, seen.precision


def _variances(lane: Codes, who: Codes, load: Floats, seen: Seen) -> Variances:
    """The variances by products of what different bowlers on one pair show."""
    bowler_line = _BOWLER_LINE
    night, pairs = _NIGHT, _PAIRS
    lane_of = np.zeros(int(who.max()) + 1, dtype=np.int64)
    lane_of[who] = lane
    for _ in range(2):  # the weights hang on the variances
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
    """What each bowler on a pair shows of it (nan where nothing), and the variance of its noise."""
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
    """Variance that the state gains with each delivery, by how bowlers' later shots differ from their earlier ones."""
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
    """The variances with that between nights of what is asked of one bowler and ball on one pattern alone.

    One night may ask a strong ball for more than a weak one, and one bowler for more than another. It is what the entry
    boards of a choice differ by from night to night beyond their noise and what everybody's do. ``seen`` must be from
    one usual line: lines learned from other blocks differ from block to block besides.
    """
    load = frame["pair_load"].to_numpy(dtype=float)
    choice, names = named_codes(frame, [column for column in CHOICE if column in frame])
    night, nights = named_codes(frame.assign(choice=choice), ["choice", "block"])
    precise = seen.precision
    weight = np.bincount(night, weights=precise)
    safe = np.where(weight > 0, weight, 1.0)
    asked = np.bincount(night, weights=precise * np.nan_to_num(seen.asked)) / safe
    common = variances.night + variances.walk * np.bincount(night, weights=precise * load) / safe
    known = np.where(weight > 0, 1.0 / (common + 1.0 / safe), 0.0)  # by which a night of a choice counts
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
    """The same and one cell more that shows nothing."""
    nan = np.append(seen.played, np.nan)
    return Seen(nan, np.append(seen.asked, np.nan), np.append(seen.noise, 1.0), np.append(seen.shots, 0.0))
