"""Practice focus: what raising one skill to the class's upper quartile would be worth, in pins per game.

Each skill acts on the score through one path: pocket rate, carry and accuracy through the strike, spares through the
spare, versatility through the share of games on the worst pattern class. A skill above the quartile gains nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from pipeline.arrays import Draws
from pipeline.decisions.candidates import candidates, row_dicts
from pipeline.decisions.estimates import estimate
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import PracticeFocus
from pipeline.decisions.season.summary import game_scores
from pipeline.decisions.wording.focus import focus_sentence
from pipeline.models.fitted import Fitted
from pipeline.models.skills.skill import SkillDraws, pocket_cells, spare_cells
from pipeline.pricing.pinfall import Pinfall, pinfalls
from pipeline.settings import PocketLimits

_HARDLY = 0.5  # pins per game; a skill worth less is not called a focus
_SUMS = ("shots", "pockets", "pocket_strikes", "strikes", "entry_sum")
_LOWER_IS_BETTER = ("accuracy at the arrows", "accuracy at the pocket")


@dataclass(frozen=True)
class _Bowler:
    """The numbers that turn one bowler's skills into pins."""

    shape: Pinfall
    strike_off_pocket: float
    pocket: float
    mean_entry: float
    entry_per_arrow: Draws
    single_share: float
    worst_share: float


def win_back(fitted: Fitted, skills: dict[str, SkillDraws]) -> dict[str, dict[str, Draws]]:
    """Bowler -> skill -> (n,) pins per game gained by reaching the class's upper quartile in that skill alone.

    For the bowlers reported, and skills with ``min_shots`` tries that another bowler has, too.
    """
    facts, win_backs = _facts(fitted), {}
    for bowler in sorted({b for draws in skills.values() for b in draws.bowlers} & set(fitted.fits.mix.shots)):
        gains = {}
        for skill, draws in skills.items():
            enough = draws.shots.get(bowler, 0) >= fitted.fits.settings.evidence.min_shots
            if enough and len(draws.bowlers) > 1:
                gains[skill] = _gain(skill, skills, bowler, facts[bowler], fitted.fits.settings.pocket)
        if gains:
            win_backs[bowler] = gains
    return win_backs


def focus_of(gains: dict[str, dict[str, Draws]], skills: dict[str, SkillDraws]) -> list[PracticeFocus]:
    """The most valuable skill of each bowler of ``win_back``."""
    return [_focus(bowler, mine, skills) for bowler, mine in gains.items()]


def _focus(bowler: str, gains: dict[str, Draws], skills: dict[str, SkillDraws]) -> PracticeFocus:
    names = list(gains)
    table = np.column_stack([gains[name] for name in names])
    best = int(np.argmax(table.mean(axis=0)))
    value, likely = estimate(table[:, best]), float(probability_best(table)[best])
    shots = skills[names[best]].shots[bowler]
    focus = PracticeFocus(
        bowler=bowler, skill=names[best], pins_if_class_best=value, p_best=likely, shots=shots, sentence=""
    )
    return focus.model_copy(update={"sentence": focus_sentence(focus, value.mean >= _HARDLY)})


def _gain(skill: str, skills: dict[str, SkillDraws], bowler: str, facts: _Bowler, pocket: PocketLimits) -> Draws:
    """Pins per game of raising one skill to the upper quartile of the class, draw by draw; never below 0."""
    rise, shape = _rise(skill, skills[skill], bowler), facts.shape
    if skill == "versatility":
        return rise * facts.worst_share
    if skill in ("single-pin spares", "multi-pin spares"):
        share = facts.single_share if skill == "single-pin spares" else 1 - facts.single_share
        return shape.mean(shape.strike, shape.spare + rise * share) - shape.mean(shape.strike)
    more = _more_strikes(skill, skills, bowler, rise, facts, pocket)
    return shape.mean(shape.strike + more) - shape.mean(shape.strike)


def _rise(skill: str, draws: SkillDraws, bowler: str) -> Draws:
    """How far the bowler is from the class's upper quartile, in the skill's unit; 0 if above it."""
    bowler_draws = draws.value[:, draws.bowlers.index(bowler)]
    if skill in _LOWER_IS_BETTER:
        return np.maximum(bowler_draws - np.quantile(draws.value, 0.25, axis=1), 0)
    return np.maximum(np.quantile(draws.value, 0.75, axis=1) - bowler_draws, 0)


def _more_strikes(
    skill: str, skills: dict[str, SkillDraws], bowler: str, rise: Draws, facts: _Bowler, pocket: PocketLimits
) -> Draws:
    """Strikes per first delivery that a rise of carry, of the pocket rate or of accuracy adds."""
    if skill == "carry":
        return rise * facts.pocket
    on_pocket = _of(skills, "carry", bowler, facts.shape.strike)
    hits = rise if skill == "pocket" else _pocket_from_spread(skill, skills, bowler, rise, facts, pocket)
    result: Draws = hits * np.maximum(on_pocket - facts.strike_off_pocket, 0)
    return result


def _of(skills: dict[str, SkillDraws], skill: str, bowler: str, otherwise: float) -> Draws:
    draws = skills.get(skill)
    if draws is None or bowler not in draws.bowlers:
        return np.array(otherwise)
    return draws.value[:, draws.bowlers.index(bowler)]


def _pocket_from_spread(
    skill: str,
    skills: dict[str, SkillDraws],
    bowler: str,
    rise: Draws,
    facts: _Bowler,
    pocket: PocketLimits,
) -> Draws:
    """Rise of the pocket rate when the spread shrinks: normal entry boards around the bowler's own mean entry."""
    level = _of(skills, skill, bowler, 0.0)
    spread = level if skill == "accuracy at the pocket" else _of(skills, "accuracy at the pocket", bowler, 0.0)
    if skill == "accuracy at the pocket":
        tighter = level - rise
    else:
        less = facts.entry_per_arrow**2 * (level**2 - (level - rise) ** 2)  # draw by draw, so the slope's noise counts
        tighter = np.sqrt(np.maximum(spread**2 - less, (0.2 * spread) ** 2))
    if not np.any(spread > 0):
        return np.zeros_like(level)
    low = pocket.centre_board - pocket.half_width - facts.mean_entry
    high = pocket.centre_board + pocket.half_width - facts.mean_entry

    def inside(sd: Draws) -> Draws:
        sd = np.maximum(sd, 1e-3)
        result: Draws = ndtr(high / sd) - ndtr(low / sd)
        return result

    return np.maximum(inside(tighter) - inside(spread), 0)


def _facts(fitted: Fitted) -> dict[str, _Bowler]:
    shapes = pinfalls(fitted)
    totals = pocket_cells(fitted.season).groupby("bowler", as_index=False)[list(_SUMS)].sum()
    pockets = {str(row["bowler"]): row for row in row_dicts(totals)}
    spares = spare_cells(fitted.season)
    slope = fitted.fits.worth.slope.draws(fitted.fits.n_draws, fitted.fits.generator("entry per arrow"))
    worst = _worst_shares(fitted)
    result = {}
    for bowler, shape in shapes.items():
        bowler_spares = spares[spares["bowler"] == bowler]
        tries = bowler_spares["attempts"].sum()
        single = float(bowler_spares.loc[bowler_spares["single"], "attempts"].sum() / tries) if tries else 0.0
        off, pocket, entry = shape.strike, 0.0, fitted.fits.settings.pocket.centre_board
        if bowler in pockets:
            row = pockets[bowler]
            off = float((row["strikes"] - row["pocket_strikes"] + 1) / (row["shots"] - row["pockets"] + 3))
            pocket = float(row["pockets"] / row["shots"])
            entry = float(row["entry_sum"] / row["shots"])
        result[bowler] = _Bowler(shape, off, pocket, entry, slope, single, worst.get(bowler, 0.0))
    return result


def _worst_shares(fitted: Fitted) -> dict[str, float]:
    """Share of each bowler's games that were on the pattern class with the lowest worth."""
    options = candidates(fitted)
    rows = options.rows[(options.rows["shots"] > 0) & (options.rows["pattern_class"] != "unposted")]
    rows = rows.assign(total=options.priced.pins.mean(axis=0)[rows.index.to_numpy()] * rows["shots"])
    sums = rows.groupby(["bowler", "pattern_class"], as_index=False)[["total", "shots"]].sum()
    lowest = sums.assign(worth=sums["total"] / sums["shots"]).sort_values("worth").drop_duplicates("bowler")
    games = game_scores(fitted.season).groupby(["bowler", "pattern_class"]).size().to_dict()
    played = game_scores(fitted.season).groupby("bowler").size().to_dict()
    return {
        str(row["bowler"]): games.get((row["bowler"], row["pattern_class"]), 0) / played[row["bowler"]]
        for row in row_dicts(lowest)
    }
