"""Strikes and spares as a whole: sums of other skills, shown beside them and never a focus themselves."""

from __future__ import annotations

from pipeline.models.fitted import Fitted
from pipeline.models.skills.skill import SkillDraws, all_spares, spare_cells, strike_cells, strike_rate


def whole_skills(fitted: Fitted, skills: dict[str, SkillDraws]) -> dict[str, SkillDraws]:
    """``strikes`` on all first balls, and ``spares`` at all leaves from the draws of its two parts in ``skills``."""
    season, fits = fitted.season, fitted.fits
    wholes = {"strikes": strike_rate(strike_cells(season), fits.n_draws, fits.generator("skill strikes"))}
    single, multi = skills.get("single-pin spares"), skills.get("multi-pin spares")
    if single is not None and multi is not None:
        attempts = spare_cells(season).groupby("single")["attempts"].sum()
        wholes["spares"] = all_spares(single, multi, float(attempts[True] / attempts.sum()))
    return {skill: draws for skill, draws in wholes.items() if draws is not None}
