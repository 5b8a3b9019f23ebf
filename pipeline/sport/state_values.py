"""What every state of a game is worth: expected pins from here to the end, before each rack and after each ball.

A game has twelve positions at which a new rack may be met: the first ball of frames 1 to 10, the ball after a strike in
the tenth frame (11), and a last ball alone at a new rack (12), after two strikes or a spare in the tenth. At each, four
states of bonus owed tell how often the next two balls count for earlier frames. A ball's pins count once for itself and
once for each frame that still claims it, so the pins credited over a game add up to its score.

Values rest on four numbers: how often a first ball strikes, how often a spare follows where it does not, and the mean
pins of both balls where it does not. Fouls are left out of the expectation: no bowler plans one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.arrays import Floats

POSITIONS = 12
"""Places at which a new rack may be met; position 1 to 10 are the frames, 11 and 12 the tenth's fill balls."""
OWED: tuple[tuple[int, int], ...] = ((0, 0), (1, 0), (1, 1), (2, 1))
"""How often the next ball, and the one after it, count on top of themselves: none, a spare, a strike, two strikes."""
_PINS = 10
_TENTH, _FIRST_FILL, _LAST_FILL = 9, 10, 11  # from 0
_NONE, _SPARE = 0, 1
_AFTER_STRIKE = (2, 2, 3, 3)  # by what was owed before it
_FILL_AFTER_STRIKE = (0, 0, 1, 1)  # the tenth's own strike claims nothing: its fill balls count themselves
_POSSIBLE = np.array([[True] * 4] * 10 + [[True, True, False, False], [True, False, False, False]])
_POSSIBLE[0, 1:] = False


@dataclass(frozen=True)
class Chances:
    """What is expected of a bowler at any new rack; arrays of one shape, the batch.

    Attributes:
        strike: probability that the first ball strikes.
        spare: probability of the spare where it does not.
        first_pins: mean pins of a first ball that does not strike.
        second_pins: mean pins of the second ball after one that does not strike.
    """

    strike: Floats
    spare: Floats
    first_pins: Floats
    second_pins: Floats


@dataclass(frozen=True)
class StateValues:
    """Worth of every state under one set of chances. Arrays are (..., 12, 4): batch, position, bonus owed.

    A state that cannot occur, such as a bonus owed at the first ball, is nan.

    Attributes:
        first_times, second_times: how often pins of the rack's first and second ball count; 0 if there is none.
        after_strike, after_spare, after_open: expected pins of everything after the rack's balls.
        before: expected pins from before the first ball at the rack to the end.
    """

    first_times: Floats
    second_times: Floats
    after_strike: Floats
    after_spare: Floats
    after_open: Floats
    before: Floats


def possible_states() -> npt.NDArray[np.bool_]:
    """Whether each position can be met with each bonus owed, shape (12, 4)."""
    return _POSSIBLE.copy()


def state_values(chances: Chances) -> StateValues:
    """Value every state by working back from the last ball.

    Args:
        chances: arrays of the batch's shape.

    Returns:
        Arrays of shape (..., 12, 4); ``before[..., 0, 0]`` is the expected score of a game.
    """
    batch = np.shape(chances.strike)
    first, second = _times()
    strike, spare, other, before = (np.full((*batch, POSITIONS, len(OWED)), np.nan) for _ in range(4))
    for position in reversed(range(POSITIONS)):
        for owed in np.flatnonzero(_POSSIBLE[position]):
            here = (..., position, owed)
            strike[here], spare[here], other[here] = _after(before, position, int(owed))
            missed = chances.first_pins * first[position, owed] + chances.second_pins * second[position, owed]
            missed = missed + chances.spare * spare[here] + (1 - chances.spare) * other[here]
            struck = _PINS * first[position, owed] + strike[here]
            before[here] = chances.strike * struck + (1 - chances.strike) * missed
    whole = strike.shape
    return StateValues(np.broadcast_to(first, whole), np.broadcast_to(second, whole), strike, spare, other, before)


def state_shares(strike: npt.ArrayLike, spare: npt.ArrayLike) -> Floats:
    """How often each bonus is owed at each position of games bowled at these chances.

    Args:
        strike, spare: as in ``Chances``, of the batch's shape.

    Returns:
        Shape (..., 12, 4), summing to one at each position (of the games that meet it).
    """
    p, s = np.broadcast_arrays(np.asarray(strike, dtype=float), np.asarray(spare, dtype=float))
    shares = np.zeros((*p.shape, POSITIONS, len(OWED)))
    shares[..., 0, _NONE] = 1.0
    for position in range(_TENTH):
        for owed in range(len(OWED)):
            here = shares[..., position, owed]
            shares[..., position + 1, _AFTER_STRIKE[owed]] += here * p
            shares[..., position + 1, _SPARE] += here * (1 - p) * s
            shares[..., position + 1, _NONE] += here * (1 - p) * (1 - s)
    for owed in range(len(OWED)):
        shares[..., _FIRST_FILL, _FILL_AFTER_STRIKE[owed]] += shares[..., _TENTH, owed]
    shares[..., _LAST_FILL, _NONE] = 1.0
    return shares


def averaged(values: Floats, shares: Floats) -> Floats:
    """Mean over the bonus owed at each position: shapes (..., 12, 4) twice in, (..., 12) out."""
    result: Floats = np.where(shares > 0, np.nan_to_num(values) * shares, 0.0).sum(axis=-1)
    return result


def _times() -> tuple[Floats, Floats]:
    """How often the first and second ball at a rack count, each (12, 4); nan if the state cannot occur."""
    owed = np.array(OWED, dtype=float)
    first = np.tile(1 + owed[:, 0], (POSITIONS, 1))
    second = np.tile(1 + owed[:, 1], (POSITIONS, 1))
    second[_LAST_FILL] = 0.0
    return np.where(_POSSIBLE, first, np.nan), np.where(_POSSIBLE, second, np.nan)


def _after(before: Floats, position: int, owed: int) -> tuple[Floats | float, Floats | float, Floats | float]:
    """Expected pins after a strike, a spare and an open pair at this rack, given those before later racks."""
    if position < _TENTH:
        later = before[..., position + 1, :]
        return later[..., _AFTER_STRIKE[owed]], later[..., _SPARE], later[..., _NONE]
    if position == _TENTH:
        return before[..., _FIRST_FILL, _FILL_AFTER_STRIKE[owed]], before[..., _LAST_FILL, _NONE], 0.0
    return (before[..., _LAST_FILL, _NONE] if position == _FIRST_FILL else 0.0), 0.0, 0.0
