"""Scores of simulated games, vectorised over games: the plain way that the exact distribution replaces."""

from __future__ import annotations

import numpy as np


def simulate_scores(first: np.ndarray, second: np.ndarray, games: int, rng: np.random.Generator) -> np.ndarray:
    """Final scores of ``games`` games.

    Args:
        first: (11,) probability of each pinfall of a first ball.
        second: (11, 11) probability of each further pinfall, by the first.
    """
    ones, twos = _frames(first, second, (games, 12), rng)
    strike, spare = ones == 10, (ones < 10) & (ones + twos == 10)
    next_ball = ones[:, 1:]
    ball_after = np.where(strike[:, 1:-1], ones[:, 2:], twos[:, 1:-1])
    total = np.zeros(games)
    for frame in range(10):
        bonus_strike = next_ball[:, frame] + ball_after[:, frame]
        bonus = np.where(strike[:, frame], bonus_strike, np.where(spare[:, frame], next_ball[:, frame], 0))
        total += ones[:, frame] + twos[:, frame] + bonus
    return total


def _frames(
    first: np.ndarray, second: np.ndarray, shape: tuple[int, int], rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    ones = np.searchsorted(first.cumsum(), rng.random(shape)).clip(0, 10)
    edges = second.cumsum(axis=1)
    dice = rng.random(shape)
    twos = (dice[..., None] > edges[ones]).sum(axis=-1).clip(0, 10)
    return ones, np.where(ones == 10, 0, np.minimum(twos, 10 - ones))
