"""When to leave a step of a plan: as the next one begins, or after so few strikes that luck alone seldom brings them.

A bowler looks once a game, at ten first deliveries. Each look more is a chance more of leaving a good line for bad
luck, so the limit is set for all looks of a stretch together.
"""

from __future__ import annotations

import numpy as np
from scipy.special import bdtr

from pipeline.arrays import Floats
from pipeline.decisions.candidates import Record
from pipeline.decisions.wording.terms import direction, percent, plural, the_line, with_ball

_LOOK = 10  # first deliveries in a look: the frames of a game
_BY_LUCK = 0.10  # most that a limit is met where nothing is wrong, over all its looks; our own choice


def so_few(rates: Floats) -> tuple[int, float] | None:
    """The most strikes in ten first deliveries to leave at, and how likely chance alone brings them at some look.

    Args:
        rates: (looks,) the strike probability expected at each look.

    Returns:
        None if even ten first deliveries without a strike are too likely, or where there is no look.
    """
    if len(rates) == 0:
        return None
    at_most = np.asarray(bdtr(np.arange(_LOOK + 1, dtype=float), _LOOK, rates[:, None]))
    by_luck = 1 - (1 - at_most).prod(axis=0)
    limits = np.flatnonzero(by_luck <= _BY_LUCK)
    return (int(limits[-1]), float(by_luck[limits[-1]])) if len(limits) else None


def going_on(game: int, old: Record, new: Record, likely: float | None) -> str:
    """The change or move that begins the next step, with how likely it is better; no full stop.

    Args:
        game: first game of the next step.
        old, new: balls in hand and of the next step, with their ``line`` and whether it ``keeps`` to it.
        likely: probability that the next step is better then; None if the two are not compared.
    """
    if new["ball"] != old["ball"]:
        what = f"change to {with_ball(new['ball_name'], new['line'])}"
        sure = "too few shots so late with the one in hand" if likely is None else f"{percent(likely)} likely better"
        return f"from game {game} {what} ({sure})"
    if not new["keeps"]:
        return f"from game {game} move with the lane"
    if new["line"] == old["line"]:
        return f"from game {game} stay on {the_line(new['line'])}"
    return f"from game {game} move {direction(old['line'], new['line'])} to {the_line(new['line'])}".replace("  ", " ")


def sooner(rates: Floats) -> str:
    """When to go on before that; ``rates``: (games,) strike rates expected in the stretch, looked at after each game.

    Nothing is looked at after the last game, for the next step comes anyway; empty where luck alone is too likely.
    """
    limit = so_few(rates[:-1])
    return "" if limit is None else f"; sooner after a game with {_said(limit)}"


def failing(rates: Floats) -> str:
    """When to go to the backup in the first stretch; ``rates`` as in ``sooner``."""
    limit = so_few(rates[:-1])
    if limit is None:
        return "Go to it if the pocket is gone."
    return f"Go to it after a game with {_said(limit)}, or if the pocket is gone."


def _said(limit: tuple[int, float]) -> str:
    strikes, by_luck = limit
    many = "no strike" if strikes == 0 else f"no more than {plural(strikes, 'strike')}"
    return f"{many} in its ten frames (a good line does this by chance in {percent(by_luck)} of blocks)"
