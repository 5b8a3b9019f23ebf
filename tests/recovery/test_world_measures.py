"""Measures of a simulated season, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from tests.recovery.world_measures import _brought_in


def _advice(phase: str, game: int, ball: str | None, board: float | None, kept: bool = False) -> Any:
    policy = None if ball is None else SimpleNamespace(ball=ball, keeps_line=kept, start_board=board)
    return SimpleNamespace(bowler="a", pattern_class="long", phase=phase, from_game=game, policy=policy)


def test_a_ball_that_stays_comes_in_once() -> None:
    late, fresh, middle = (
        _advice("late", 5, "y", 14.0),
        _advice("fresh", 1, "x", 9.0),
        _advice("transition", 3, "x", 11.0),
    )
    found = _brought_in([late, fresh, middle])
    assert [found["a", "long", phase] for phase in ("fresh", "transition", "late")] == [(1, 9.0), (1, 9.0), (5, 14.0)]


def test_a_ball_that_first_keeps_its_line_is_then_followed_from_a_board_of_its_own() -> None:
    found = _brought_in([_advice("fresh", 1, "x", None, kept=True), _advice("transition", 3, "x", 11.0)])
    assert found["a", "long", "transition"] == (3, 11.0)
    assert _brought_in([_advice("fresh", 1, None, None)]) == {}
