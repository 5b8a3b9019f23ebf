"""How strong each ball is: boards of hook at the pins, from its entry boards and the numbers printed on it.

A ball's class is only a word for its cover and core. RG, differentials, layout and the grit of the surface as thrown
predict its hook better, and its entry boards, given its boards at the arrows, show it best. So the hook of a ball is

    h = w . numbers + u,    w ~ N(common practice, sd^2),    u ~ N(0, sd of balls^2)

with the entry boards of each bowler compared inside blocks. The weights are the same for everybody, the sd of balls is
integrated over a grid, and a ball without an entry board is taken as its numbers predict. Linear
normal models with known errors: Gelman et al., Bayesian Data Analysis, chapter 15 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import softmax

from pipeline.arrays import Floats
from pipeline.models.lines.entry_slope import EntrySlope
from pipeline.sport.classes import BALL_CLASSES, strength_rank
from pipeline.sport.layout import MOST_FLARE_IN, pin_to_axis

# Boards of hook for one standard deviation of each number over the balls: mean and sd of the prior. Directions are
# common practice - a stronger class, low RG, high differentials, a dull surface and a pin where a ball flares most hook
# more - and the sizes our own choice.
_WEIGHTS = {
    "rank": (0.4, 0.3),
    "rg_in": (-0.1, 0.2),
    "diff_in": (0.2, 0.2),
    "int_diff_in": (0.05, 0.2),
    "off_most_flare": (-0.05, 0.2),
    "grit_doublings": (-0.2, 0.2),
}
_BALL_SDS = np.array([0.03, 0.06, 0.12, 0.2, 0.3, 0.45, 0.7, 1.0])  # boards that no number predicts; a grid with a
_BALL_SCALE = 0.4  # half-normal prior of this scale; our own choice
_FURTHEST = 3.0  # sds; numbers beyond count as this far
_LEAST_VARIANCE = 1.0  # boards squared of one entry board about its mean


@dataclass(frozen=True)
class BallStrength:
    """Strength, as boards of hook about the average ball, of each ball by id and, for a ball not listed, by class.

    ``unread``: balls whose layout is written but does not say where the pin is.
    """

    of_ball: dict[str, float]
    of_class: dict[str, float]
    unread: int = 0

    def __call__(self, balls: list[str], classes: list[str]) -> Floats:
        """Strength (rows,) of balls of these classes; 0 if neither is known."""
        strengths = [
            self.of_ball.get(ball, self.of_class.get(kind, 0.0)) for ball, kind in zip(balls, classes, strict=True)
        ]
        return np.array(strengths, dtype=float)


def by_class() -> BallStrength:
    """Strength by class alone, without a log of entry boards."""
    rank = {kind: strength_rank(kind) for kind in BALL_CLASSES}
    mean = float(np.mean(list(rank.values())))
    return BallStrength({}, {kind: _WEIGHTS["rank"][0] * (value - mean) for kind, value in rank.items()})


def ball_strength(cells: pd.DataFrame, listed: pd.DataFrame, slope: EntrySlope) -> BallStrength:
    """Strength of every ball of ``cells/ball_numbers``, from the cells of ``cells/worth_cells``."""
    if listed.empty:
        return by_class()
    unread = int(sum(bool(text) and pin_to_axis(text) is None for text in listed["layout"].fillna("").tolist()))
    numbers, ranks = _standardised(listed)
    names = listed["ball"].astype(str).tolist()
    place = {ball: k for k, ball in enumerate(names)}
    evidence = list(_evidence(cells, slope, place))
    weights, beyond = _posterior(numbers, evidence)
    strength = numbers @ weights + beyond
    of_class = {kind: weights[0] * (strength_rank(kind) - ranks[0]) / ranks[1] for kind in BALL_CLASSES}
    return BallStrength(dict(zip(names, strength.tolist(), strict=True)), of_class, unread)


def _standardised(listed: pd.DataFrame) -> tuple[Floats, tuple[float, float]]:
    """Numbers (balls, weights) in sds over the balls but spare balls, 0 if unknown; mean and sd of the rank."""
    pins = [pin_to_axis(text) for text in listed["layout"].fillna("").tolist()]
    away = [np.nan if pin is None else abs(pin - MOST_FLARE_IN) for pin in pins]
    rank = [strength_rank(kind) for kind in listed["ball_class"]]
    raw = listed.assign(rank=rank, off_most_flare=away)[list(_WEIGHTS)].astype(float)
    strike = ~listed["spare_ball"].astype(bool)
    usual = raw[strike] if strike.any() else raw
    mean, sd = usual.mean().fillna(0.0), usual.std(ddof=0).fillna(0.0)
    sd = sd.where(sd > 1e-6, 1.0)
    numbers: Floats = ((raw - mean) / sd).clip(-_FURTHEST, _FURTHEST).fillna(0.0).to_numpy(dtype=float)
    return numbers, (float(mean["rank"]), float(sd["rank"]))


@dataclass(frozen=True)
class _Evidence:
    """Likelihood of the hook h of some balls by one bowler's entry boards: exp(-h' precision h / 2 + pull h)."""

    balls: np.ndarray
    precision: Floats
    pull: Floats


def _evidence(cells: pd.DataFrame, slope: EntrySlope, place: dict[str, int]) -> Iterator[_Evidence]:
    """Entry boards, less what the arrow boards ask for, as differences between balls of a bowler inside a block."""
    known = cells["entries"].gt(0) & cells["arrow_board"].notna() & cells["ball"].isin(place.keys())
    rows = cells[known]
    if rows.empty:
        return
    rows = rows.assign(
        hook=rows["entry_board"].astype(float) - slope.mean * rows["arrow_board"].astype(float),
        weight=rows["entries"].astype(float),
        at=rows["ball"].map(place).astype(int),
    )
    parts = [_inside_blocks(mine) for _, mine in rows.groupby("bowler", sort=True)]
    left, freedom = (sum(part[k] for part in parts) for k in (2, 3))
    variance = max(float(left) / max(float(freedom), 1.0), _LEAST_VARIANCE)
    for precision, pull, _, _, balls in parts:
        if len(balls) > 1:
            yield _Evidence(balls, precision / variance, pull / variance)


def _inside_blocks(mine: pd.DataFrame) -> tuple[Floats, Floats, float, int, np.ndarray]:
    """Normal equations (balls, balls) and (balls,) of one bowler, blocks and games taken out; residuals and freedom."""
    weight = mine["weight"].to_numpy()
    balls, code = np.unique(mine["at"].to_numpy(), return_inverse=True)
    block = pd.factorize(mine["block"])[0]
    columns = np.column_stack([np.eye(len(balls))[code], mine["game"].to_numpy(dtype=float), mine["hook"].to_numpy()])
    total = np.bincount(block, weight)
    for k in range(columns.shape[1]):
        columns[:, k] -= (np.bincount(block, weight * columns[:, k]) / total)[block]
    cross = columns.T @ (columns * weight[:, None])
    game = len(balls)
    if cross[game, game] > 1e-9:
        cross -= np.outer(cross[game], cross[game]) / cross[game, game]
    precision, pull = cross[:game, :game], cross[:game, -1]
    hook = np.linalg.lstsq(precision, pull, rcond=1e-9)[0]
    left = float(cross[-1, -1] - hook @ pull)
    return precision, pull, max(left, 0.0), max(len(mine) - len(total) - len(balls), 0), balls


def _posterior(numbers: Floats, evidence: list[_Evidence]) -> tuple[Floats, Floats]:
    """Posterior means of the weights and of ``u`` (balls,), over the grid of its sd."""
    mean, sd = (np.array([prior[k] for prior in _WEIGHTS.values()]) for k in (0, 1))
    posteriors, log_density = [], []
    for ball_sd in _BALL_SDS:
        precision, pull, log = np.diag(sd**-2.0), mean / sd**2, -0.5 * (ball_sd / _BALL_SCALE) ** 2 + np.log(ball_sd)
        inner = []
        for each in evidence:
            inverse = np.linalg.inv(each.precision + np.eye(len(each.balls)) / ball_sd**2)
            shrunk = each.precision @ inverse
            here = numbers[each.balls]
            precision = precision + here.T @ (each.precision - shrunk @ each.precision) @ here
            pull = pull + here.T @ (each.pull - shrunk @ each.pull)
            log += 0.5 * (np.linalg.slogdet(inverse / ball_sd**2)[1] + each.pull @ inverse @ each.pull)
            inner.append(inverse)
        weights = np.linalg.solve(precision, pull)
        log += 0.5 * (pull @ weights - np.linalg.slogdet(precision)[1])
        beyond = np.zeros(len(numbers))
        for each, inverse in zip(evidence, inner, strict=True):
            beyond[each.balls] = inverse @ (each.pull - each.precision @ (numbers[each.balls] @ weights))
        posteriors.append(np.concatenate([weights, beyond]))
        log_density.append(log)
    average: Floats = softmax(np.array(log_density)) @ np.array(posteriors)
    return average[: len(mean)], average[len(mean) :]
