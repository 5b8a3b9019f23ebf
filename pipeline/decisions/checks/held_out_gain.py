"""The gain of the model's choice of ball on nights it had not seen, for everyone and for each bowler."""

from __future__ import annotations

import pandas as pd

from pipeline.decisions.candidates import TRIED
from pipeline.decisions.checks.model_checks import refits, some_blocks
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import Estimate, HeldOutGain, HeldOutVerdict
from pipeline.decisions.wording.checks import held_out_sentence
from pipeline.everyone import EVERYONE
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted, once
from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.pricing.pins_per_strike import pins_per_strike
from pipeline.sport.lane import phase_of
from pipeline.validation.held_out import followed
from pipeline.validation.held_out_choice import ValueOfChoosing, value_of_choosing

_LITTLE = 1.0  # pins per game within which the whole 80 % interval must lie to say that it makes no difference


def held_out_gain(fitted: Fitted) -> list[HeldOutGain]:
    """Everyone first, then bowlers by id; those without enough blocks held out are left out."""
    valued = choices_on_new_blocks(fitted)
    if valued is None:
        return []
    bowlers = [None, *sorted(set(valued.rows["bowler"].astype(str)) & set(fitted.fits.mix.shots))]
    gains = [_record(valued, bowler, fitted.fits) for bowler in bowlers]
    return [item for item in gains if item is not None]


@once(of=Fitted.modelled)
def choices_on_new_blocks(fitted: Fitted) -> ValueOfChoosing | None:
    """Every held-out choice valued."""
    cells, balls = some_blocks(worth_cells(fitted.season), fitted.fits), fitted.season.table("balls")
    phases = {game: phase_of(int(game), fitted.fits.settings.phases) for game in cells["game"].unique()}
    price = {bowler: float(draws.mean()) for bowler, draws in pins_per_strike(fitted.fits).items()}
    spare = balls.loc[balls["spare_ball"].astype(bool), "ball"].astype(str)
    return value_of_choosing(
        cells.assign(phase=cells["game"].map(phases)), followed(refits(fitted)), price, TRIED, set(spare)
    )


def _record(valued: ValueOfChoosing, bowler: str | None, fits: Fits) -> HeldOutGain | None:
    from scipy.stats import t as student  # slow to import

    measured = valued.gain(bowler)
    if measured is None:
        return None
    mean, se, blocks = measured
    rows: pd.DataFrame = valued.rows if bowler is None else valued.rows[valued.rows["bowler"] == bowler]
    rng = fits.generator(f"held-out gain of {bowler}")
    gain = estimate(mean + se * student.rvs(blocks - 1, size=fits.n_draws, random_state=rng))
    shots = int(rows["shots"].sum())
    record = HeldOutGain(
        bowler=EVERYONE if bowler is None else bowler,
        gain=gain,
        predicted=valued.predicted(bowler),
        share_changed=float(rows["changed"].sum() / max(shots, 1)),
        verdict=_verdict(gain),
        blocks=blocks,
        shots=shots,
        sentence="",
    )
    return record.model_copy(update={"sentence": held_out_sentence(record)})


def _verdict(gain: Estimate) -> HeldOutVerdict:
    if gain.lo80 > 0:
        return "gained"
    if gain.hi80 < 0:
        return "lost"
    return "no difference" if max(-gain.lo80, gain.hi80) <= _LITTLE else "too noisy to tell"
