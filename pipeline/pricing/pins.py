"""What a ball on a line is worth: posterior draws of strike, leave and spare turned into pins per game.

A game's frames are taken as alike and independent, so its mean has a closed form: the fill balls of the tenth frame
are the bonus balls of any other, and the mean game is ten times the mean frame. The chance of 200 comes from the exact
distribution, which is a polynomial in the chances of a strike and of a spare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.inference.mixed_logit.design import named_codes
from pipeline.models.fits import Fits
from pipeline.models.fitted import once
from pipeline.models.spares.leave import ball_group
from pipeline.models.strikes.strike_worth import Playing
from pipeline.sport.lane import phase_of
from pipeline.sport.leaves import parse_leave, pins
from pipeline.sport.score_distribution import ScoreSurface

_LEAVE_KEYS = ["bowler", "ball_class", "pattern_class", "phase"]


@dataclass(frozen=True)
class Level:
    """Draws of how somebody bowls; all arrays of one shape, axis 0 the draw.

    Attributes:
        strike: probability of a strike on a first delivery.
        spare: probability of a spare given no strike.
        first_pins: mean pinfall of a first delivery given no strike.
        open_pins: mean pinfall of a frame given no strike, counted only where it stays open (0 where it is spared).
    """

    strike: np.ndarray
    spare: np.ndarray
    first_pins: np.ndarray
    open_pins: np.ndarray

    def score(self) -> np.ndarray:
        """Expected score of a game bowled at this level throughout."""
        return expected_score(self.strike, self.spare, self.first_pins, self.open_pins)


@dataclass(frozen=True)
class Priced:
    """Posterior draws for the rows of a grid, in the grid's order; axis 0 is the draw.

    Attributes:
        pins: (n, rows) worth in pins per game against the bowler's own average at the season's mix.
        score: (n, rows) expected score of a game bowled at this level throughout.
        strike: (n, rows) probability of a strike on a first delivery.
        spare: (n, rows) probability of a spare given no strike.
        p200: (n, rows) probability that such a game reaches 200.
        own_average: bowler -> (n,) expected game score at the bowler's own logged mix of the season.
    """

    pins: np.ndarray
    score: np.ndarray
    strike: np.ndarray
    spare: np.ndarray
    p200: np.ndarray
    own_average: dict[str, np.ndarray]


@dataclass(frozen=True)
class _SecondBall:
    """One bowler's leaves: ``by_type`` (3, n, types) draws of the spare rate, first pinfall and open pinfall of each
    type; by leave (leaves,) the mean share within its type, mean conversion, pins standing, and pins left by a miss."""

    by_type: np.ndarray
    share: np.ndarray
    made: np.ndarray
    standing: np.ndarray
    left: np.ndarray


def expected_score(
    strike: np.ndarray | float,
    spare: np.ndarray | float,
    first_pins: np.ndarray | float,
    open_pins: np.ndarray | float,
) -> np.ndarray:
    """Mean score of a game, ten times the mean frame with its bonus; arguments as in ``Level``, any shapes."""
    p, s = np.asarray(strike), np.asarray(spare)
    none = 1 - p
    one_ball = 10 * p + none * first_pins
    no_strike = 10 * s + open_pins
    two_balls = p * (10 + one_ball) + none * no_strike
    mean: np.ndarray = 10 * (p * (10 + two_balls) + none * (no_strike + s * one_ball))
    return mean


def price(fits: Fits, grid: pd.DataFrame, n: int | None = None) -> Priced:
    """Price every row of ``grid``.

    Args:
        fits: the season's models.
        grid: columns bowler, pattern_class, game, ball, line; optional ball_class, phase, length_ft, volume_ml,
            ratio, pair_load. Any index; rows may repeat. Phase and ball class are filled in where missing.
        n: draws, at most ``fits.n_draws`` (the default); fewer are the first ones of the whole.

    Raises:
        ValueError: a bowler without a logged first delivery, who has no own average.
    """
    grid = grid.reset_index(drop=True)
    return _priced(fits, grid, levels(fits, grid), n)


def _priced(fits: Fits, grid: pd.DataFrame, level: Level, n: int | None = None) -> Priced:
    bowlers = grid["bowler"].astype(str)
    own = {bowler: own_average(fits, bowler) for bowler in bowlers.unique()}
    score = level.score()
    pins_worth, p200 = np.empty_like(score), np.empty_like(score)
    for bowler, average in own.items():
        rows = np.flatnonzero(bowlers == bowler)
        pins_worth[:, rows] = score[:, rows] - average[:, None]
        p200[:, rows] = reaches(fits, bowler, level.strike[:, rows], score[:, rows], 200)
    keep = slice(0, fits.n_draws if n is None else min(n, fits.n_draws))
    return Priced(
        pins=pins_worth[keep],
        score=score[keep],
        strike=level.strike[keep],
        spare=level.spare[keep],
        p200=p200[keep],
        own_average={bowler: draws[keep] for bowler, draws in own.items()},
    )


def price_following(fits: Fits, grid: pd.DataFrame, cell: np.ndarray, weight: np.ndarray) -> Priced:
    """Price the ball of each row with its line following the lane; arguments as in ``following_levels``."""
    grid = grid.reset_index(drop=True)
    return _priced(fits, grid, following_levels(fits, grid, cell, weight))


def following_levels(fits: Fits, grid: pd.DataFrame, cell: np.ndarray, weight: np.ndarray) -> Level:
    """Draws (n_draws, rows) of how the ball of each row is bowled with its line following the lane as the bowler does.

    Args:
        fits: the season's models.
        grid: as in ``price``; the rows of one ``cell`` differ in their line alone.
        cell: (rows,) number of the ball's cell, 0 and up.
        weight: (rows,) how often each of its lines is where the bowler ends up; positive.
    """
    level = levels(fits, grid, "followed")
    share = sparse.csr_array((weight / np.bincount(cell, weight)[cell], (np.arange(len(cell)), cell)))
    return replace(level, strike=(level.strike @ share)[:, cell])


def levels(fits: Fits, grid: pd.DataFrame, line: Playing = "kept", strike: np.ndarray | None = None) -> Level:
    """Draws (n_draws, rows) of how each row of a grid (as in ``price``) is bowled; ``line`` as in the worth model.

    ``strike``: what ``strikes`` found for these rows, if that is known already.
    """
    grid = _complete(fits, grid.reset_index(drop=True))
    if strike is None:
        strike = fits.worth.strike_draws(grid, fits.n_draws, fits.generator("worth"), line)
    distinct, codes = _leave_rows(grid)
    types = fits.leave.type_draws(distinct, fits.n_draws, fits.generator("leave"))
    parts = np.empty((3, fits.n_draws, len(distinct)))
    for bowler in distinct["bowler"].unique():
        rows = np.flatnonzero(distinct["bowler"] == bowler)
        parts[:, :, rows] = np.einsum(
            "nrt,qnt->qnr", types[:, rows], _second_ball(fits, str(bowler)).by_type, optimize=True
        )
    spare, first_pins, open_pins = np.take(parts, codes, axis=2)
    return Level(strike, spare, first_pins, open_pins)


def strikes(fits: Fits, grid: pd.DataFrame) -> np.ndarray:
    """Draws (n_draws, rows) of the probability of a strike on a first delivery; arguments as in ``levels``."""
    return fits.worth.strike_draws(_complete(fits, grid.reset_index(drop=True)), fits.n_draws, fits.generator("worth"))


def own_level(fits: Fits, bowler: str) -> Level:
    """Draws (n_draws,) of a bowler's level at the season's mix: averages of each rate over the first deliveries.

    Raises:
        ValueError: the bowler has no logged first delivery.
    """
    return _own(fits, bowler)[0]


def own_average(fits: Fits, bowler: str) -> np.ndarray:
    """Draws (n_draws,) of the bowler's expected game score, averaged over the mix logged in the season.

    Raises:
        ValueError: the bowler has no logged first delivery.
    """
    return _own(fits, bowler)[1]


def reaches(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray, at_least: int) -> np.ndarray:
    """Probability that one game reaches ``at_least``; arrays of one shape in and out.

    Args:
        fits: the season's models.
        bowler: whose first and second balls the distribution is built from.
        strike: probability of a strike.
        score: expected score; the spare rate of the distribution is the one that has this mean.
        at_least: the score to reach.
    """
    return _surface(fits, bowler)[0].at_least(at_least, *_rates_of(fits, bowler, strike, score))


def score_sd(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray) -> np.ndarray:
    """Standard deviation of one game's score about its mean; arrays of one shape in and out, as in ``reaches``."""
    return _surface(fits, bowler)[0].sd(*_rates_of(fits, bowler, strike, score))


def score_histogram(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray) -> np.ndarray:
    """P(score = k), k = 0..300, of one game, averaged over every draw in ``strike`` and ``score`` (one shape)."""
    strike, spare = _rates_of(fits, bowler, strike, score)
    histogram = _surface(fits, bowler)[0].distribution(np.ravel(strike), np.ravel(spare)).mean(axis=0)
    shares: np.ndarray = histogram / histogram.sum()
    return shares


def _rates_of(fits: Fits, bowler: str, strike: np.ndarray, score: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rates of strike and spare a score surface takes, of one shape; the mean is linear in the spare rate."""
    _, first_pins, open_pins = _surface(fits, bowler)
    none = expected_score(strike, 0.0, first_pins, open_pins)
    every = expected_score(strike, 1.0, first_pins, 0.0)
    return np.clip(strike, 0.0, 1.0), np.clip((score - none) / (every - none), 0.0, 1.0)


def _complete(fits: Fits, grid: pd.DataFrame) -> pd.DataFrame:
    """The grid with ball_class and phase."""
    grid = grid.assign(bowler=grid["bowler"].astype(str))
    games = grid["game"].tolist()
    classes = [fits.worth.ball_classes.get(ball) for ball in grid["ball"].tolist()]
    phase = {game: phase_of(int(game), fits.settings.phases) for game in set(games)}
    phases = [phase[game] for game in games]
    return grid.assign(ball_class=_or_usual(grid, "ball_class", classes), phase=_or_usual(grid, "phase", phases))


def _or_usual(grid: pd.DataFrame, column: str, usual: Sequence[str | None]) -> pd.Series:
    """The texts of a column, or the usual ones where it is missing."""
    given = grid[column].tolist() if column in grid else [None] * len(grid)
    return pd.Series(
        [other if pd.isna(value) else value for value, other in zip(given, usual, strict=True)], dtype=object
    )


def _leave_rows(grid: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """The few distinct rows of a complete grid that leave and spare depend on, and each row's place among them."""
    keys = grid[_LEAVE_KEYS].assign(ball_class=[ball_group(kind) for kind in grid["ball_class"]])
    codes, _ = named_codes(keys, _LEAVE_KEYS)
    return keys.iloc[np.unique(codes, return_index=True)[1]].reset_index(drop=True), codes


@once()
def _own(fits: Fits, bowler: str) -> tuple[Level, np.ndarray]:
    """The bowler's level and average over the season's mix."""
    mix = fits.rates.mix
    mine = mix[mix["bowler"] == bowler]
    if mine.empty:
        raise ValueError(f"{bowler!r} has no logged first delivery, so there is no average to measure against")
    level, weight = levels(fits, mine, "followed"), mine["weight"].to_numpy(float)
    missed = (1 - level.strike) * weight
    missed = missed / missed.sum(axis=1, keepdims=True)
    rates = [(values * missed).sum(axis=1) for values in (level.spare, level.first_pins, level.open_pins)]
    return Level(level.strike @ weight, *rates), level.score() @ weight


def _type_matrix(fits: Fits) -> np.ndarray:
    """(leaves, types) indicator of each leave's type."""
    kinds = fits.leave.leaves["leave_type"].to_numpy()
    return (kinds[:, None] == np.array(fits.leave.types, dtype=object)[None, :]).astype(float)


@once()
def _second_ball(fits: Fits, bowler: str) -> _SecondBall:
    """How one bowler's first balls without a strike, and the second balls after them, turn out."""
    leaves = fits.leave.leaves["leave"].tolist()
    share = fits.leave.leave_draws(bowler, fits.n_draws, fits.generator("leave"))
    made = fits.conversion.bowler_draws(bowler, leaves, fits.n_draws, fits.generator("conversion"))
    standing = np.array([len(pins(parse_leave(leave))) for leave in leaves], dtype=float)
    left = np.array([fits.conversion.pins_left_on_miss(leave) for leave in leaves])
    parts = [share * made, share * (10 - standing), share * (1 - made) * (10 - left)]
    member = _type_matrix(fits)
    by_type = np.stack([part @ member for part in parts])
    return _SecondBall(by_type, share.mean(axis=0), made.mean(axis=0), standing, left)


@once()
def _surface(fits: Fits, bowler: str) -> tuple[ScoreSurface, float, float]:
    """The bowler's score distribution, with its mean first pinfall without a strike and mean open frame."""
    mix = fits.rates.mix
    mine = _complete(fits, mix[mix["bowler"] == bowler].reset_index(drop=True))
    distinct, codes = _leave_rows(mine)
    types = fits.leave.type_draws(distinct, fits.n_draws, fits.generator("leave")).mean(axis=0)
    second = _second_ball(fits, bowler)
    weight = second.share * (_type_matrix(fits) @ (np.bincount(codes, weights=mine["weight"]) @ types))
    open_first, miss_second = _pinfall(weight / weight.sum(), second.made, second.standing, second.left)
    first_pins = float(open_first @ np.arange(10))
    second_pins = float(open_first @ (miss_second @ np.arange(11)))
    return ScoreSurface(open_first, miss_second), first_pins, first_pins + second_pins


def _pinfall(
    weight: np.ndarray, made: np.ndarray, standing: np.ndarray, left: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """First pinfall without a strike (10,) and second pinfall of a miss (10, 11) from a mix of leaves.

    A miss leaves a whole number of pins: the two next to its mean, in the proportion that has that mean.
    """
    first = (10 - standing).astype(int)
    open_first = np.bincount(first, weights=weight, minlength=10)
    second = np.zeros((10, 11))
    felled = np.clip(standing - left, 0.0, standing - 1)
    low = np.floor(felled).astype(int)
    np.add.at(second, (first, low), weight * (1 - made) * (1 - (felled - low)))
    np.add.at(second, (first, np.minimum(low + 1, 10)), weight * (1 - made) * (felled - low))
    totals = second.sum(axis=1, keepdims=True)
    second[totals[:, 0] <= 0, 0] = 1.0
    return open_first, second / np.where(totals > 0, totals, 1.0)
