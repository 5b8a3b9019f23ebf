"""The exact distribution of a ten-frame score, from what each frame's two balls do.

Frames are taken as independent and alike. The dynamic programme runs over frames, carrying the bonus that earlier
frames still claim: none, the next ball (spare), the next two (strike), or the next twice and one more (two strikes).
Scores lie on an axis 0..300 and every leading dimension of the inputs is a batch.

A frame's balls enter as ``first[k]``, the probability that a first ball fells k pins (k = 0..10), and
``second[k, j]``, the probability that the second fells j more after k. ``second[10]`` is not used.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from pipeline.arrays import Floats

MAX_SCORE = 300
_FRAMES = 10
_PINS = 10
_MOST_A_FRAME = 3 * _PINS

# Bonus owed by earlier frames: how often the next ball and the ball after it count on top of their own frame.
_NONE, _SPARE, _STRIKE, _DOUBLE = (0, 0), (1, 0), (1, 1), (2, 1)
_STATES = (_NONE, _SPARE, _STRIKE, _DOUBLE)
_JUST_STRUCK = (_STRIKE, _DOUBLE)


@cache
def _two_ball_frames() -> tuple[tuple[int, int], ...]:
    """Every (first, second) ball pair of a frame without a strike."""
    return tuple((k, j) for k in range(_PINS) for j in range(_PINS + 1 - k))


def _after_strike(state: tuple[int, int]) -> tuple[int, int]:
    """Bonus owed after one more strike: the older claim on its second ball moves up, the new strike claims two."""
    return (state[1] + 1, 1)


def _frame_terms(first: Any, second: Any, state: tuple[int, int]) -> dict[tuple[tuple[int, int], int], Any]:
    """One of frames 1-9: (state after, pins scored now) -> probability, or count, of it."""
    terms: dict[tuple[tuple[int, int], int], Any] = {}
    terms[_after_strike(state), _PINS * (1 + state[0])] = first[..., _PINS]
    for k, j in _two_ball_frames():
        after = _SPARE if k + j == _PINS else _NONE
        key = (after, k * (1 + state[0]) + j * (1 + state[1]))
        terms[key] = terms.get(key, 0) + first[..., k] * second[..., k, j]
    return terms


def _tenth_terms(
    first: Any, second: Any, state: tuple[int, int], after_strike: Any, after_spare: Any
) -> dict[int, Any]:
    """The tenth frame: pins scored -> probability, or count. Fill balls count once, plus any bonus still owed.

    ``after_strike`` and ``after_spare`` are the laws of a fill ball at a new rack.
    """
    terms: dict[int, Any] = {}

    def add(points: int, weight: Any) -> None:
        terms[points] = terms.get(points, 0) + weight

    for k, j in _two_ball_frames():
        points = k * (1 + state[0]) + j * (1 + state[1])
        both = first[..., k] * second[..., k, j]
        if k + j < _PINS:
            add(points, both)
        else:
            for fill in range(_PINS + 1):
                add(points + fill, both * after_spare[..., fill])
        # the same pair thrown as the two fill balls after a strike
        pair = after_strike[..., k] * second[..., k, j]
        add(_PINS * (1 + state[0]) + k * (1 + state[1]) + j, first[..., _PINS] * pair)
    for fill in range(_PINS + 1):
        points = _PINS * (1 + state[0]) + _PINS * (1 + state[1]) + fill
        add(points, first[..., _PINS] * after_strike[..., _PINS] * after_strike[..., fill])
    return terms


def ten_frames(first: Any, second: Any, zeros: Any, after_strike: Any = None, after_other: Any = None) -> Any:
    """Carry the distribution, or counts of games, through ten frames: scores on the first axis, batches on the rest.

    ``first`` is the law of the game's first ball, and of every first ball unless ``after_strike`` and ``after_other``
    give the laws of a first ball that follows a frame with a strike or without.
    """
    after_strike = first if after_strike is None else after_strike
    after_other = first if after_other is None else after_other
    start = zeros.copy()
    start[0] = 1
    laws = {state: after_strike if state in _JUST_STRUCK else after_other for state in _STATES}
    usual = {state: _frame_terms(law, second, state) for state, law in laws.items()}
    states = {_NONE: start}
    for frame in range(_FRAMES - 1):
        following = {state: zeros.copy() for state in _STATES}
        reached = _MOST_A_FRAME * frame + 1
        for state, weights in states.items():
            terms = usual[state] if frame else _frame_terms(first, second, state)
            for (after, points), weight in terms.items():
                following[after][points : points + reached] += weights[:reached] * weight
        states = following
    total = zeros.copy()
    reached = _MOST_A_FRAME * (_FRAMES - 1) + 1
    for state, weights in states.items():
        for points, weight in _tenth_terms(laws[state], second, state, after_strike, after_other).items():
            total[points : points + reached] += weights[: min(reached, MAX_SCORE + 1 - points)] * weight
    return total


def score_distribution(first: npt.ArrayLike, second: npt.ArrayLike) -> Floats:
    """Exact distribution of a game's score.

    Args:
        first: shape (..., 11), summing to one over the last axis.
        second: shape (..., 11, 11), ``second[k, j]`` summing to one over j = 0..10-k for k = 0..9; the leading
            dimensions broadcast against those of ``first``.

    Returns:
        Shape (..., 301): P(score = 0..300).

    Raises:
        ValueError: probabilities that are negative, do not sum to one, or fell more pins than stood.
    """
    first = np.asarray(first, dtype=float)
    second = np.asarray(second, dtype=float)
    _check(first, second)
    batch = np.broadcast_shapes(first.shape[:-1], second.shape[:-2])
    zeros = np.zeros((MAX_SCORE + 1, *batch))
    return np.ascontiguousarray(np.moveaxis(ten_frames(first, second, zeros), 0, -1))


def streaky_distribution(first: npt.ArrayLike, second: npt.ArrayLike, correlation: float) -> Floats:
    """The same where a strike makes the next frame's strike more likely (or, below 0, less likely).

    Strikes follow a two-state Markov chain with the strike rate ``first[10]`` throughout and this correlation between
    one frame's strike and the next's: P(strike | strike) = p + correlation (1 - p) and P(strike | none) = p (1 -
    correlation).
    What falls when it is no strike, and second balls, do not change.

    Args:
        first: shape (..., 11), as in ``score_distribution``; the rate must be below 1.
        second: shape (..., 11, 11).
        correlation: between neighbouring frames; cut to what the rates allow.

    Returns:
        Shape (..., 301).
    """
    first = np.asarray(first, dtype=float)
    second = np.asarray(second, dtype=float)
    _check(first, second)
    p = first[..., _PINS]
    if np.any(p >= 1):
        raise ValueError("a streak needs a strike probability below 1")
    laws = []
    for rate in (p + correlation * (1 - p), p * (1 - correlation)):
        rate = np.clip(rate, 0, 1)
        laws.append(np.concatenate([first[..., :_PINS] * ((1 - rate) / (1 - p))[..., None], rate[..., None]], axis=-1))
    batch = np.broadcast_shapes(first.shape[:-1], second.shape[:-2])
    zeros = np.zeros((MAX_SCORE + 1, *batch))
    return np.ascontiguousarray(np.moveaxis(ten_frames(first, second, zeros, *laws), 0, -1))


def _check(first: Floats, second: Floats) -> None:
    if first.shape[-1:] != (_PINS + 1,) or second.shape[-2:] != (_PINS + 1, _PINS + 1):
        raise ValueError(f"expected shapes (..., 11) and (..., 11, 11), found {first.shape} and {second.shape}")
    used = second[..., :_PINS, :]
    possible = np.add.outer(np.arange(_PINS), np.arange(_PINS + 1)) <= _PINS
    if np.any(first < 0) or np.any(used < 0) or np.any(used[..., ~possible] > 0):
        raise ValueError("a probability is negative or fells more pins than stand")
    if not (np.allclose(first.sum(-1), 1, atol=1e-9) and np.allclose(used.sum(-1), 1, atol=1e-9)):
        raise ValueError("the probabilities of a ball do not sum to one")


def mean_score(first: npt.ArrayLike, second: npt.ArrayLike) -> Floats:
    """Mean score in closed form: shapes (..., 11) and (..., 11, 11) in, (...) out.

    By linearity: every frame's own pins, plus for each strike its next two balls and for each spare its next ball.
    In the tenth frame the fill balls are exactly those bonus balls, so all ten frames contribute alike, save that the
    first ball after a strike in the ninth and the second fill ball follow the same laws: no correction is due.
    """
    first = np.asarray(first, dtype=float)
    second = np.asarray(second, dtype=float)
    pins = np.arange(_PINS + 1)
    strike = first[..., _PINS]
    first_pins = first @ pins
    second_pins = np.einsum("...k,...kj,j->...", first[..., :_PINS], second[..., :_PINS, :], pins.astype(float))
    spare = sum(first[..., k] * second[..., k, _PINS - k] for k in range(_PINS))
    next_two = first_pins + second_pins + strike * first_pins
    return _FRAMES * (first_pins + second_pins + strike * next_two + spare * first_pins)


def balls_of(
    open_first: npt.ArrayLike, miss_second: npt.ArrayLike, p: npt.ArrayLike, s: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """First and second balls from the chance p of a strike and s of a spare after no strike.

    Args:
        open_first: shape (..., 10), P(k pins | no strike).
        miss_second: shape (..., 10, 11), P(j more | k felled, no spare).
        p, s: broadcast against each other and the leading dimensions.

    Returns:
        ``first`` (..., 11) and ``second`` (..., 11, 11) for ``score_distribution``.
    """
    p, s = np.broadcast_arrays(np.asarray(p, dtype=float), np.asarray(s, dtype=float))
    first = np.concatenate([(1 - p)[..., None] * np.asarray(open_first, dtype=float), p[..., None]], axis=-1)
    second = np.zeros((*s.shape, _PINS + 1, _PINS + 1))
    second[..., :_PINS, :] = (1 - s)[..., None, None] * np.asarray(miss_second, dtype=float)
    for k in range(_PINS):
        second[..., k, _PINS - k] += s
    return first, second


@dataclass(init=False, eq=False, repr=False)
class ScoreSurface:
    """Score as a function of two numbers: p, the chance of a strike, and s, the chance of a spare after no strike.

    What a first ball fells when it is no strike, and a second ball when it misses, stay fixed. Every probability in the
    distribution is then a polynomial of degree 12 in p (twelve first balls at most) and 10 in s (one spare a frame), so
    exact distributions at 13 x 11 Chebyshev nodes fix it everywhere on the unit square; no approximation is made.
    """

    _DEGREES: ClassVar[tuple[int, int]] = (12, 10)
    open_first: Floats
    miss_second: Floats
    _coefficients: Floats  # (13, 11, 301), see ``_fit``
    _mean: Floats  # (13, 11) the same of the mean score
    _square: Floats  # and of its square

    def __init__(self, open_first: npt.ArrayLike, miss_second: npt.ArrayLike) -> None:
        """Fix the shape of first balls without a strike and of missed second balls.

        Args:
            open_first: shape (10,), P(k pins | no strike), k = 0..9.
            miss_second: shape (10, 11), P(j more | k felled, no spare); zero from j = 10 - k on.

        Raises:
            ValueError: wrong shapes, or probabilities that do not sum to one.
        """
        self.open_first = np.asarray(open_first, dtype=float)
        self.miss_second = np.asarray(miss_second, dtype=float)
        if self.open_first.shape != (_PINS,) or self.miss_second.shape != (_PINS, _PINS + 1):
            raise ValueError(
                f"expected shapes (10,) and (10, 11), found {self.open_first.shape} and {self.miss_second.shape}"
            )
        if any(self.miss_second[k, j] > 0 for k, j in _two_ball_frames() if k + j == _PINS):
            raise ValueError("a missed second ball cannot fell every pin")
        self._coefficients = self._fit()
        scores = np.arange(MAX_SCORE + 1)
        self._mean = self._coefficients @ scores
        self._square = self._coefficients @ (scores**2)

    def balls(self, p: npt.ArrayLike, s: npt.ArrayLike) -> tuple[Floats, Floats]:
        """The ``first`` (..., 11) and ``second`` (..., 11, 11) arrays that p and s (broadcast) stand for."""
        return balls_of(self.open_first, self.miss_second, p, s)

    def _fit(self) -> Floats:
        """Chebyshev coefficients, shape (13, 11, 301), by interpolation at the nodes."""
        bases = []
        nodes = []
        for degree in self._DEGREES:
            x = np.polynomial.chebyshev.chebpts1(degree + 1)
            nodes.append((x + 1) / 2)
            bases.append(np.linalg.inv(np.polynomial.chebyshev.chebvander(x, degree)))
        p, s = np.meshgrid(*nodes, indexing="ij")
        values = score_distribution(*self.balls(p, s))
        return np.einsum("ai,bj,ijk->abk", bases[0], bases[1], values, optimize=True)

    def _bases(self, p: Floats, s: Floats) -> tuple[Floats, Floats]:
        """Chebyshev polynomials (n, 13) of p and (n, 11) of s, n numbers each in any one shape."""
        if p.size and (min(p.min(), s.min()) < 0 or max(p.max(), s.max()) > 1):
            raise ValueError("p and s must lie in 0..1")
        in_p, in_s = (
            np.asarray(np.polynomial.chebyshev.chebvander(2 * x.ravel() - 1, degree), dtype=float)
            for x, degree in zip((p, s), self._DEGREES, strict=True)
        )
        return in_p, in_s

    def _evaluate(self, coefficients: Floats, p: npt.ArrayLike, s: npt.ArrayLike) -> Floats:
        p, s = np.broadcast_arrays(np.asarray(p, dtype=float), np.asarray(s, dtype=float))
        in_p, in_s = self._bases(p, s)
        return np.asarray(np.einsum("nb,nb->n", in_p @ coefficients, in_s)).reshape(p.shape)

    def mean(self, p: npt.ArrayLike, s: npt.ArrayLike) -> Floats:
        """Mean score, in the broadcast shape of p and s."""
        return self._evaluate(self._mean, p, s)

    def sd(self, p: npt.ArrayLike, s: npt.ArrayLike) -> Floats:
        """Standard deviation of one game's score."""
        square = self._evaluate(self._square, p, s)
        return np.sqrt(np.maximum(square - self.mean(p, s) ** 2, 0))

    def at_least(self, score: int, p: npt.ArrayLike, s: npt.ArrayLike) -> Floats:
        """P(one game's score >= ``score``)."""
        return np.clip(self._evaluate(self._coefficients[..., score:].sum(-1), p, s), 0, 1)

    def mean_distribution(self, p: npt.ArrayLike, s: npt.ArrayLike) -> Floats:
        """The mean of P(score = 0..300) over every p and s (broadcast), shape (301,).

        The distribution is linear in products of the polynomials, so their means stand for all of them.
        """
        in_p, in_s = self._bases(*np.broadcast_arrays(np.asarray(p, dtype=float), np.asarray(s, dtype=float)))
        return np.clip(np.einsum("ab,abk->k", in_p.T @ in_s / len(in_p), self._coefficients), 0, 1)
