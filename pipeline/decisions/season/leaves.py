"""What each bowler leaves, how often it is converted, and what missing it costs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.decisions.estimates import estimates
from pipeline.decisions.records import LeaveShare
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.rate_draws import average_rates, expected_score


def leave_shares(fitted: Fitted) -> list[LeaveShare]:
    """Every leave each bowler left, the costliest first, with what a good spare shooter would win back.

    The cost is the expected score had every attempt at that leave been made, less the expected score as it is, at
    the bowler's own level of the season. Leaves are mirrored to a right-hander's view.
    """
    counts = (
        fitted.season.frame("cells/leave_cells")
        .groupby(["bowler", "leave", "leave_type"], as_index=False)[["shots"]]
        .sum()
    )
    shares: list[LeaveShare] = []
    for bowler, mine in counts.groupby("bowler", sort=True):
        shares.extend(_of_bowler(fitted.fits, str(bowler), mine))
    return shares


def _of_bowler(fits: Fits, bowler: str, mine: pd.DataFrame) -> list[LeaveShare]:
    leaves = mine["leave"].tolist()
    count = mine["shots"].to_numpy(int)
    made = fits.conversion.bowler_draws(bowler, leaves, fits.n_draws, fits.generator("conversion"))
    share = count / count.sum()
    lost = _pins_gained(fits, bowler, leaves, share * (1 - made)).tolist()
    good = fits.conversion.upper_quartile_draws(leaves, fits.n_draws, fits.generator("conversion"))
    back = _pins_gained(fits, bowler, leaves, share * np.maximum(good - made, 0.0)).tolist()
    per_100 = 100 * count / fits.mix.shots[bowler]
    rows = zip(leaves, mine["leave_type"], count.tolist(), per_100.tolist(), estimates(made), lost, back, strict=True)
    shares = [
        LeaveShare(
            bowler=bowler,
            leave=leave,
            leave_type=kind,
            count=shots,
            per_100_first_balls=rate,
            conversion=conversion,
            pins_per_game_lost=pins,
            pins_to_win_back=won,
        )
        for leave, kind, shots, rate, conversion, pins, won in rows
    ]
    return sorted(shares, key=lambda row: (-row.pins_per_game_lost, row.leave))


def _pins_gained(fits: Fits, bowler: str, leaves: list[str], missed: np.ndarray) -> np.ndarray:
    """Posterior mean pins per game that ``missed`` (n, leaves) would bring if made instead.

    ``missed`` is a share of the first balls that were no strike.
    """
    rates = average_rates(fits, bowler)
    left = np.array([fits.conversion.pins_left_on_miss(leave) for leave in leaves])
    strike, first_pins = rates.strike[:, None], rates.first_pins[:, None]
    spare, open_pins = rates.spare[:, None], rates.open_pins[:, None]
    # A share of spares cannot exceed 1, and open pins cannot fall below 0.
    better_spare = np.minimum(spare + missed, 1.0)
    better_open = np.maximum(open_pins - missed * (10 - left), 0.0)
    better = expected_score(strike, better_spare, first_pins, better_open)
    lost: np.ndarray = np.maximum(better - rates.score()[:, None], 0.0).mean(axis=0)
    return lost
