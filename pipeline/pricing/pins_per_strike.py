"""What a change of the strike probability is worth in pins per game, near each bowler's own level."""

from __future__ import annotations

from pipeline.arrays import Floats
from pipeline.models.fits import Fits
from pipeline.models.fitted import once
from pipeline.pricing.rate_draws import average_rates, expected_score

_STEP = 0.02  # the score is a cubic in the strike probability: a central difference this wide is as good as exact


@once()
def pins_per_strike(fits: Fits) -> dict[str, Floats]:
    """Bowler -> draws (n,) of pins per game per unit of strike probability, spare rate held fixed.

    Only bowlers with a logged first delivery are in it.
    """
    return {bowler: _of(fits, bowler) for bowler, shots in fits.mix.shots.items() if shots}


def _of(fits: Fits, bowler: str) -> Floats:
    rates = average_rates(fits, bowler)
    rest = (rates.spare, rates.first_pins, rates.open_pins)
    up, down = (expected_score(rates.strike + step, *rest) for step in (_STEP, -_STEP))
    return (up - down) / (2 * _STEP)
