"""When to leave a plan: after so few strikes that luck alone seldom brings them.

A bowler looks once a game, at ten first deliveries. Each look more is a chance more of leaving a good line for bad
luck, so the limit is set for all looks of a stretch together.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from pipeline.decisions.words import direction, percent, plural, the_line, with_ball

_LOOK = 10  # first deliveries in a look: the frames of a game
_BY_LUCK = 0.10  # most that a limit is met where nothing is wrong, over all its looks; our own choice

Draws = NDArray[np.float64]


def so_few(strike: Draws) -> tuple[int, float] | None:
    """The most strikes in ten first deliveries to leave at, and how likely luck alone brings them at some look.

    Args:
        strike: (n, looks) draws of the strike probability expected at each look.

    Returns:
        None where even ten first deliveries without a strike are too likely, or where there is no look.
    """
    if strike.shape[1] == 0:
        return None
    at_most = binom.cdf(np.arange(_LOOK + 1), _LOOK, strike[:, :, None])
    by_luck: Draws = 1 - (1 - np.asarray(at_most)).prod(axis=1).mean(axis=0)
    limits = np.flatnonzero(by_luck <= _BY_LUCK)
    return (int(limits[-1]), float(by_luck[limits[-1]])) if len(limits) else None


def going_on(game: int, old: tuple[str, str], new: tuple[str, str, str], likely: float, strike: Draws) -> str:
    """What to watch for before the next step.

    Args:
        game: first game of the next step.
        old: ball and line in hand.
        new: ball, its name, and line of the next step.
        likely: probability that the next step is better then.
        strike: (n, games) draws of the strike probability in the stretch, looked at after each game but the last.
    """
    ball, name, line = new
    if ball == old[0]:
        what = f"move {direction(old[1], line)} to {the_line(line)}".replace("  ", " ")
    else:
        what = f"change to {with_ball(name, line)}"
    text = f"From game {game} {what} ({percent(likely)} likely better)"
    limit = so_few(strike[:, :-1])
    if limit is None:
        return f"{text}."
    return f"{text}; sooner after a game with {_no_more_than(limit[0])} in its ten frames ({_luck(limit[1])})."


def failing(strike: Draws) -> str:
    """When to go to the backup; ``strike``: (n,) draws of the strike probability expected of the start in game 1."""
    limit = so_few(strike[:, None])
    if limit is None:
        return "Go to it if the pocket is gone."
    return (
        f"Go to it if the first ten frames bring {_no_more_than(limit[0])} ({_luck(limit[1])}), or the pocket is gone."
    )


def _no_more_than(strikes: int) -> str:
    return "no strike" if strikes == 0 else f"no more than {plural(strikes, 'strike')}"


def _luck(by_luck: float) -> str:
    return f"by luck alone in {percent(by_luck)} of such blocks"
