from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.scoring import Delivery, ScoringError, score_game


def _balls(*pins: int) -> list[Delivery]:
    return [Delivery(count) for count in pins]


@pytest.mark.parametrize(
    ("pins", "reason"),
    [
        ((11,), "delivery 1"),
        ((-1,), "delivery 1"),
        ((4, 7), "frame 1"),
        ((*[0] * 18, 6, 5), "frame 10"),
        ((*[0] * 18, 6, 3, 1), "frame 10"),
        ((*[0] * 18, 10, 6, 5), "after its strike"),
        ((*[10] * 13,), "frame 10"),
    ],
)
def test_illegal_games_are_refused_with_a_reason(pins: tuple[int, ...], reason: str) -> None:
    with pytest.raises(ScoringError) as caught:
        score_game(_balls(*pins))
    assert reason in caught.value.reason


def test_a_foul_on_a_spare_ball_makes_an_open_frame() -> None:
    game = score_game([Delivery(7), Delivery(3, foul=True), *_balls(*[0] * 18)])
    assert game.total == 7


def test_ten_after_a_foul_is_a_spare() -> None:
    # the rack is respotted and the second delivery fells all ten: a spare, as the frame's second delivery
    game = score_game([Delivery(10, foul=True), *_balls(10, 5, *[0] * 17)])
    assert game.frames[0] == 15


@st.composite
def games(draw: st.DrawFn) -> list[int]:
    pins: list[int] = []
    for _ in range(9):
        first = draw(st.integers(0, 10))
        pins += [10] if first == 10 else [first, draw(st.integers(0, 10 - first))]
    first = draw(st.integers(0, 10))
    if first == 10:
        second = draw(st.integers(0, 10))
        third = draw(st.integers(0, 10 if second == 10 else 10 - second))
        return [*pins, 10, second, third]
    second = draw(st.integers(0, 10 - first))
    return [*pins, first, second] + ([draw(st.integers(0, 10))] if first + second == 10 else [])


def _by_definition(pins: list[int]) -> int:
    """Total by summing each frame's balls and bonus balls straight from the list."""
    total = at = 0
    for _ in range(10):
        marked = pins[at] == 10 or pins[at] + pins[at + 1] == 10
        total += sum(pins[at : at + (3 if marked else 2)])
        at += 1 if pins[at] == 10 else 2
    return total


@given(games())
def test_any_whole_game(pins: list[int]) -> None:
    game = score_game(_balls(*pins))
    assert game.total == _by_definition(pins)
    assert len(game.frames) == 10
    assert list(game.frames) == sorted(game.frames)


@given(games(), st.data())
def test_part_of_a_game_has_the_same_settled_frames(pins: list[int], data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, len(pins) - 1))
    part = score_game(_balls(*pins[:cut]))
    assert part.total is None
    assert part.frames == score_game(_balls(*pins)).frames[: len(part.frames)]


@given(games())
def test_a_ball_after_the_end_is_refused(pins: list[int]) -> None:
    with pytest.raises(ScoringError):
        score_game(_balls(*pins, 0))
