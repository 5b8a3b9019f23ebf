"""Scoring against the worked examples and statements of published rule books."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.scoring import Delivery, score_game


def _game(*pins: int, foul_at: int | None = None, foul_felled: int = 0) -> list[Delivery]:
    balls = [Delivery(count) for count in pins]
    if foul_at is not None:
        balls[foul_at] = Delivery(foul_felled, foul=True)
    return balls


# Frames: X, X, X, 7-2, 8-spare, F9, X, 7-spare, 9-, XX8; the foul counts none, whatever it felled.
EXAMPLE = (10, 10, 10, 7, 2, 8, 2, 0, 9, 10, 7, 3, 9, 0, 10, 10)
RUNNING = (30, 57, 76, 85, 95, 104, 124, 143, 152)


@pytest.mark.parametrize("felled_by_the_foul", [0, 4, 9])
def test_worked_example_180(felled_by_the_foul: int) -> None:
    # World Bowling / IBF universal playing rules 2.1.2, VERIFIED.
    game = score_game(_game(*EXAMPLE, 8, foul_at=7, foul_felled=felled_by_the_foul))
    assert game.frames == (*RUNNING, 180)
    assert game.total == 180


def test_worked_example_179() -> None:
    # Scottish Tenpin Bowling Association playing rules 1.1.2, VERIFIED: the same game ending XX7.
    assert score_game(_game(*EXAMPLE, 7, foul_at=7)).frames == (*RUNNING, 179)


def test_three_strikes_then_nothing_is_60() -> None:
    # 30 + 20 + 10: text of a published puzzle column, VERIFIED.
    game = score_game(_game(10, 10, 10, *[0] * 14))
    assert game.frames[:3] == (30, 50, 60)
    assert game.total == 60


def test_most_on_a_strike_then_a_spare_is_20() -> None:
    # BTBA general rules 2-4, VERIFIED.
    best = max(score_game(_game(10, first, 10 - first, *[0] * 16)).frames[0] for first in range(10))
    assert best == 20


def test_most_on_a_double_then_no_strike_is_29() -> None:
    # BTBA general rules 2-4, VERIFIED: a double with nine on the next ball.
    frames = [score_game(_game(10, 10, pins, 0, *[0] * 14)).frames[0] for pins in range(10)]
    assert max(frames) == 29


def test_a_triple_counts_30_and_twelve_strikes_300() -> None:
    # USBC playing rules, rule 2a-2f, VERIFIED.
    perfect = score_game(_game(*[10] * 12))
    assert all(later - earlier == 30 for earlier, later in pairwise((0, *perfect.frames)))
    assert perfect.total == 300


def test_a_spare_counts_10_and_the_next_ball() -> None:
    # USBC playing rules, rule 2a-2f, VERIFIED.
    assert score_game(_game(4, 6, 7, 1)).frames == (17, 25)


@pytest.mark.parametrize(
    ("balls", "deliveries"),
    # 11 to 21 deliveries a game, 12 for a 300: quoted in a published question, VERIFIED.
    [
        ([10] * 9 + [4, 3], 11),
        ([4, 3] * 9 + [4, 6, 5], 21),
        ([10] * 12, 12),
    ],
)
def test_fewest_and_most_deliveries(balls: list[int], deliveries: int) -> None:
    assert len(balls) == deliveries
    assert score_game(_game(*balls)).total is not None
    assert score_game(_game(*balls[:-1])).total is None
