"""What follows a first ball that does not strike: leaves, spares, and the pins a missed spare still fells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.models.fits import Fits
from pipeline.models.fitted import once
from pipeline.sport.leaves import parse_leave, pins


@dataclass(frozen=True)
class SecondBall:
    """One bowler's leaves: ``by_type`` (3, n, types) draws of the spare rate, first pinfall and open pinfall of each
    type; by leave (leaves,) the mean share within its type, mean conversion, pins standing, and pins left by a miss."""

    by_type: np.ndarray
    share: np.ndarray
    made: np.ndarray
    standing: np.ndarray
    left: np.ndarray


def type_matrix(fits: Fits) -> np.ndarray:
    """(leaves, types) indicator of each leave's type."""
    kinds = fits.leave.leaves["leave_type"].to_numpy()
    return (kinds[:, None] == np.array(fits.leave.types, dtype=object)[None, :]).astype(float)


@once()
def second_ball(fits: Fits, bowler: str) -> SecondBall:
    """One bowler's leaves after first balls without a strike, and the results of the second balls."""
    leaves = fits.leave.leaves["leave"].tolist()
    share = fits.leave.leave_draws(bowler, fits.n_draws, fits.generator("leave"))
    made = fits.conversion.bowler_draws(bowler, leaves, fits.n_draws, fits.generator("conversion"))
    standing = np.array([len(pins(parse_leave(leave))) for leave in leaves], dtype=float)
    left = np.array([fits.conversion.pins_left_on_miss(leave) for leave in leaves])
    parts = [share * made, share * (10 - standing), share * (1 - made) * (10 - left)]
    member = type_matrix(fits)
    by_type = np.stack([part @ member for part in parts])
    return SecondBall(by_type, share.mean(axis=0), made.mean(axis=0), standing, left)
