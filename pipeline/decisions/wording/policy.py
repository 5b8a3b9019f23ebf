"""How to play a cell, in words, and the gain of it."""

from __future__ import annotations

from pipeline.decisions.records import GainOverNow, Policy
from pipeline.decisions.wording.terms import in_phase, interval, on_pattern, pins_a_game, plural, sentence, with_ball
from pipeline.settings import BlockPhases
from pipeline.sport.lane import NO_LINE

_A_LITTLE = 0.5  # pins per game; a better ball is mentioned only from this
A_MOVE = 0.3
"""Boards per game below which no drift is spoken of."""


def policy_sentence(policy: Policy, better: str | None = None, more: float = 0.0) -> str:
    """Ball, start, moves and worth in one or two sentences.

    ``better``: name of a ball worth ``more`` pins per game there, but not enough to pay for a change; else None.
    """
    text = _how_played(policy)
    if better is None or more < _A_LITTLE:
        return text
    return f"{text} The {better} would add {pins_a_game(more, 1)} here: too little or too uncertain for a change."


def _how_played(policy: Policy) -> str:
    worth = f"{pins_a_game(policy.worth.mean)} ({interval(policy.worth)})"
    if policy.keeps_line:
        return f"Play {with_ball(policy.ball_name, policy.line or '')} and stay there: {worth}."
    text = f"Play the {policy.ball_name}"
    if policy.start_board is None:
        return f"{text} and move with the lane: {worth}."
    text += f" from about board {policy.start_board:.0f} at the arrows and move with the lane: {worth}."
    return f"{text}{_moves(policy)}"


def how_to_play(policy: Policy) -> str:
    """The same in short, for a separate sentence: ``the Heron from about board 14, moving with the lane``."""
    if policy.keeps_line:
        return with_ball(policy.ball_name, policy.line or "")
    start = "" if policy.start_board is None else f" from about board {policy.start_board:.0f}"
    return f"the {policy.ball_name}{start}, moving with the lane"


def gain_sentence(
    pattern_class: str, phase: str, limits: BlockPhases, policy: Policy, gain: GainOverNow, other: str | None
) -> str:
    """What the policy gains in a cell; ``other``: name of the ball thrown most instead, None if nothing else is."""
    place = sentence(f"{on_pattern(pattern_class)} {in_phase(phase, limits)}")
    how = how_to_play(policy)
    if other is None:
        return f"{place}, {how} is all you throw."
    if gain.share_now >= 0.5:
        act = f"play {how} more often"
    else:
        line = gain.instead_of_line if policy.keeps_line else None
        act = f"play {how} instead of {with_ball(other, line or NO_LINE)}"
    more = pins_a_game(gain.gain.mean, 1)
    logged = f"{plural(gain.games, 'game')} logged"
    return f"{place}, {act}. That is worth {more} over what you throw there now ({logged})."


def _moves(policy: Policy) -> str:
    parts = []
    drift = policy.boards_a_game or 0.0
    if abs(drift) >= A_MOVE:
        parts.append(f"The usual move is {boards_in_words(abs(drift))} {'in' if drift > 0 else 'out'} per game")
    if policy.boards_for_one_high is not None:
        size = boards_in_words(policy.boards_for_one_high)
        parts.append(f"{'one' if parts else 'One'} board high at the pins asks for about {size} in")
    return f" {'; '.join(parts)}." if parts else ""


def boards_in_words(value: float) -> str:
    """``2 boards``, or with a tenth if it is not near a whole one."""
    whole = round(value)
    return plural(whole, "board") if abs(value - whole) < 0.25 and whole else f"{value:.1f} boards"
