"""How to play a cell, in words."""

from __future__ import annotations

from pipeline.decisions.records import Policy
from pipeline.decisions.wording.terms import interval, pins_a_game, plural, with_ball

_A_MOVE = 0.3  # boards per game below which no drift is spoken of


def policy_sentence(policy: Policy) -> str:
    """Ball, start, moves and worth in one or two sentences."""
    worth = f"{pins_a_game(policy.worth.mean)} ({interval(policy.worth)})"
    if policy.keeps_line:
        return f"Play {with_ball(policy.ball_name, policy.line or '')} and stay there: {worth}."
    text = f"Play the {policy.ball_name}"
    if policy.start_board is None:
        return f"{text} and move with the lane: {worth}."
    text += f" from about board {policy.start_board:.0f} at the arrows and move with the lane: {worth}."
    return f"{text}{_moves(policy)}"


def how_to_play(policy: Policy) -> str:
    """The same short, for a sentence of its own: ``the Heron from about board 14, moving with the lane``."""
    if policy.keeps_line:
        return with_ball(policy.ball_name, policy.line or "")
    start = "" if policy.start_board is None else f" from about board {policy.start_board:.0f}"
    return f"the {policy.ball_name}{start}, moving with the lane"


def _moves(policy: Policy) -> str:
    parts = []
    drift = policy.boards_a_game or 0.0
    if abs(drift) >= _A_MOVE:
        parts.append(f"The usual move is {_boards(abs(drift))} {'in' if drift > 0 else 'out'} a game")
    if policy.boards_for_one_high is not None:
        size = _boards(policy.boards_for_one_high)
        parts.append(f"{'a' if parts else 'A'} ball in high by a board asks for about {size} in")
    return f" {'; '.join(parts)}." if parts else ""


def _boards(value: float) -> str:
    whole = round(value)
    return plural(whole, "board") if abs(value - whole) < 0.25 and whole else f"{value:.1f} boards"
