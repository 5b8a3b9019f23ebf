"""Levels of blocks: expected scores of games whose frames differ, against games bowled at random."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.pricing.ledger.block_level import WIDER, expected_game, widened
from pipeline.pricing.rate_draws import expected_score
from tests.scoring import Delivery, score_game

FIRST, SECOND = 8.0, 1.0


def test_like_frames_score_as_the_closed_form_says() -> None:
    p, s, first, second = 0.55, 0.6, 8.3, 1.35
    frames = np.ones(10)
    mean = expected_game(p * frames, s * frames, first * frames, second * frames)
    assert mean == pytest.approx(expected_score(p, s, first, first + second - 10 * s))


def _game(rng: np.random.Generator, strike: np.ndarray, spare: np.ndarray) -> int:
    """A game by the playing rules; a first ball that is no strike fells 8, a missed second ball none."""
    balls: list[int] = []
    for frame in range(10):
        fills = 0
        if rng.random() < strike[frame]:
            balls.append(10)
            fills = 2
        else:
            made = rng.random() < spare[frame]
            balls += [8, 2 if made else 0]
            fills = 1 if made else 0
        while frame == 9 and fills:
            if rng.random() < strike[9]:
                balls.append(10)
                fills -= 1
            elif fills == 2:
                balls += [8, 2 if rng.random() < spare[9] else 0]
                fills = 0
            else:
                balls.append(8)
                fills = 0
    total = score_game([Delivery(pins) for pins in balls]).total
    assert total is not None
    return total


def test_unlike_frames_score_as_bowled_games_do() -> None:
    rng = np.random.default_rng(4)
    strike, spare = np.linspace(0.85, 0.15, 10), np.linspace(0.2, 0.9, 10)
    scores = [_game(rng, strike, spare) for _ in range(20_000)]
    mean = expected_game(strike, spare, np.full(10, 8.0), 2 * spare)
    assert mean == pytest.approx(np.mean(scores), abs=4 * np.std(scores) / np.sqrt(len(scores)))


def test_the_last_frames_weigh_by_their_fill_balls() -> None:
    # A strike in the tenth alone: its two fill balls are thrown as the tenth is, so the frame is 30; the rest 8 each.
    strike = np.zeros(10)
    strike[9] = 1.0
    assert expected_game(strike, np.zeros(10), np.full(10, 8.0), np.zeros(10)) == pytest.approx(9 * 8 + 30)


def test_levels_keep_their_means_and_are_less_sure_than_the_models() -> None:
    """By hand: 190 and 210 about 200 are 8 % farther from it."""
    levels = widened(np.array([[190.0, 150.0], [210.0, 150.0]]))
    assert levels == pytest.approx(np.array([[200 - 10 * WIDER, 150.0], [200 + 10 * WIDER, 150.0]]))
    assert WIDER == 1.08
