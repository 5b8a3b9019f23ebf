"""A plan for a posted pattern: which ball and line to start with, when to go on to what, and what to score.

Of all ways through the games the one that adds up to most pins is taken, a change being worth making only where it
gains four in all. Oil that nobody bowled on is as unsure as the patterns bowled on differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.decisions.advice.sequence import best_sequence
from pipeline.decisions.candidates import choices_of
from pipeline.decisions.estimates import estimate, probability_best
from pipeline.decisions.plan.bag import pack
from pipeline.decisions.plan.choices import Lane, Options, PlanError, choices, priced
from pipeline.decisions.plan.novelty import novelty, same_pattern, within_logged
from pipeline.decisions.plan.triggers import failing, going_on, sooner
from pipeline.decisions.records import BlockPlan, EventPlan, PlanStep
from pipeline.decisions.wording.block_plan import plan_sentence, plan_text
from pipeline.decisions.wording.terms import sentence
from pipeline.models.fits import Fits
from pipeline.pricing.pins import reaches, score_histogram, score_sd
from pipeline.sport.classes import length_class
from pipeline.store.season import Season

_DEFAULT_GAMES = 6
_HISTOGRAM_DRAWS = 200

__all__ = ["PlanError", "default_plans", "plan", "plan_text"]

Draws = NDArray[np.float64]
Oil = dict[str, float | None]


@dataclass(frozen=True)
class Posted:
    """A posted pattern: feet, mL, ratio of inside to outside, and what it goes by."""

    length_ft: float
    volume_ml: float | None = None
    ratio: float | None = None
    name: str | None = None


def plan(
    season: Season,
    fits: Fits,
    bowler: str,
    length_ft: float,
    volume_ml: float | None = None,
    ratio: float | None = None,
    games: int = _DEFAULT_GAMES,
    name: str | None = None,
) -> BlockPlan:
    """Plan one block of ``games`` games on a pattern; ``name`` is what it goes by.

    The choices are those of ``plan_choices.choices``, and ``best_sequence`` says which are changed to when. Luck of the
    block is in the intervals, and so is what a pattern never bowled may do beyond its numbers. Oil beyond any logged is
    priced as the nearest logged, for no trend is known to go on, and widens the intervals.

    Raises:
        PlanError: no first delivery of that bowler, or fewer than one game.
    """
    posted = Posted(length_ft, volume_ml, ratio, name)
    return _planned(fits, bowler, posted, games, options_for(season, fits, bowler, posted, games))


def _planned(fits: Fits, bowler: str, posted: Posted, games: int, found: tuple[Options, str, float]) -> BlockPlan:
    """The plan of one round from its choices as ``options_for`` prices them."""
    options, pattern_class, distance = found
    order = best_sequence(options)
    steps, backup = _steps(options, order), _backup(options, order)
    at = list(enumerate(order))
    strike = np.column_stack([options.strike[:, g, k] for g, k in at])
    score = np.column_stack([options.score[:, g, k] for g, k in at])
    some = slice(None, None, max(1, len(strike) // _HISTOGRAM_DRAWS))
    bowled_average = estimate(score.mean(axis=1) + _luck_of_games(fits, bowler, strike, score))
    return BlockPlan.model_validate(
        {
            "bowler": bowler,
            "pattern": posted.name,
            "length_ft": posted.length_ft,
            "volume_ml": posted.volume_ml,
            "ratio": posted.ratio,
            "games": games,
            "pattern_class": pattern_class,
            "novelty": distance,
            "steps": steps,
            "backup": backup,
            "score": estimate(score.mean(axis=1)),
            "score_kept_line": estimate(np.mean([options.kept[:, g, k] for g, k in at], axis=0)),
            "average": bowled_average,
            "score_histogram": score_histogram(fits, bowler, strike[some], score[some]).tolist(),
            "p_200": float(reaches(fits, bowler, strike[some], score[some], 200).mean()),
            "sentence": plan_sentence(steps, bowled_average, distance, posted.length_ft, games),
        }
    )


def options_for(season: Season, fits: Fits, bowler: str, posted: Posted, games: int) -> tuple[Options, str, float]:
    """The choices priced for one round, its pattern class, and how far it lies from patterns logged.

    Raises:
        PlanError: as in ``plan``.
    """
    pattern_class = length_class(posted.length_ft, fits.settings.pattern)
    rows = choices(season, fits, bowler, pattern_class)
    if games < 1:
        raise PlanError(f"A plan needs at least one game, not {games}.")
    bowled = patterns_bowled(season, fits)
    distance = novelty(bowled[bowled["bowler"] == bowler], posted.length_ft, posted.volume_ml, posted.ratio)
    oil: Oil = {"length_ft": posted.length_ft, "volume_ml": posted.volume_ml, "ratio": posted.ratio}
    lane: Lane = {"pattern_class": pattern_class, "pattern": same_pattern(bowled, oil)} | oil
    nearest = lane | within_logged(bowled, oil)
    return priced(fits, bowler, rows, lane, nearest, games), pattern_class, distance


def plan_event(
    season: Season, fits: Fits, bowler: str, rounds: Sequence[Posted], games: int, balls: int | None = None
) -> EventPlan:
    """A plan for every round, and which ``balls`` to take to all of them where a number is asked for.

    Raises:
        PlanError: as in ``plan``; no ball is asked for.
    """
    choices_by_round = [options_for(season, fits, bowler, posted, games) for posted in rounds]
    bag = None
    if balls is not None:
        listed = season.table("balls")
        spare = listed[(listed["bowler"] == bowler) & listed["spare_ball"].eq(True)]
        bag = pack([options for options, _, _ in choices_by_round], balls, sorted(spare["name"].astype(str)))
    both = zip(rounds, choices_by_round, strict=True)
    plans = [_planned(fits, bowler, posted, games, found) for posted, found in both]
    return EventPlan(bowler=bowler, rounds=plans, bag=bag)


def posted_by_name(season: Season, names: Sequence[str]) -> list[Posted]:
    """The oil of patterns known by id or name, whatever the capitals.

    Raises:
        PlanError: a pattern that is not known, or whose length nobody posted.
    """
    known = season.table("patterns")
    found = []
    for asked in names:
        same = [known[column].astype(str).str.casefold() == asked.casefold() for column in ("pattern", "name")]
        rows = known[same[0] if same[0].any() else same[1]]
        if rows.empty:
            listed = ", ".join(sorted(known["pattern"].astype(str))) or "none"
            raise PlanError(
                f"No pattern {asked!r} is loaded; patterns are {listed}. Or give its numbers with --length."
            )
        row = rows.iloc[0]
        if pd.isna(row["length_ft"]):
            raise PlanError(f"Nobody posted the length of {row['name']}; give it with --length.")
        volume, ratio = (None if pd.isna(row[part]) else float(row[part]) for part in ("volume_ml", "ratio"))
        found.append(Posted(float(row["length_ft"]), volume, ratio, str(row["name"])))
    return found


def default_plans(season: Season, fits: Fits) -> list[BlockPlan]:
    """One plan a bowler, for the pattern of the last posted block of the season; none where no pattern was posted."""
    bowled = patterns_bowled(season, fits)
    posted = bowled[bowled["length_ft"].notna()].sort_values(["date", "block"])
    if posted.empty:
        return []
    last = posted.iloc[-1]
    length, volume, ratio = (
        None if pd.isna(last[name]) else float(last[name]) for name in ("length_ft", "volume_ml", "ratio")
    )
    games = int(bowled.loc[bowled["block"] == last["block"], "games"].max())
    bowlers = sorted(choices_of(season, fits.rates.shots)["bowler"].unique())
    return [plan(season, fits, str(bowler), float(length or 0), volume, ratio, games) for bowler in bowlers]


def patterns_bowled(season: Season, fits: Fits) -> pd.DataFrame:
    """Everybody's blocks with their oil (``cells/patterns_bowled``); read at the first call and kept with the fits."""
    return fits.once("patterns bowled", lambda: season.frame("cells/patterns_bowled"))


def _luck_of_games(fits: Fits, bowler: str, strike: Draws, score: Draws) -> Draws:
    """Draws (n,) of what luck adds to the average of the games, near normal; ``strike`` and ``score``: (n, games)."""
    spread = np.sqrt((score_sd(fits, bowler, strike, score) ** 2).sum(axis=1)) / strike.shape[1]
    result: Draws = spread * fits.generator(f"luck of the games of {bowler}").standard_normal(len(strike))
    return result


def _steps(options: Options, order: list[int]) -> list[PlanStep]:
    runs = [(k, [g for g, _ in part]) for k, part in groupby(enumerate(order), key=lambda pair: pair[1])]
    steps = []
    for i, (k, games) in enumerate(runs):
        trigger, likely = "", None
        if i + 1 < len(runs):
            then, (game, *_) = runs[i + 1]
            likely = float((options.pins[:, game, then] > options.pins[:, game, k]).mean())
            trigger = going_on(game + 1, options.rows[k], options.rows[then], likely)
            # In the first stretch a bad game means the backup.
            trigger += sooner(options.strike[:, games, k].mean(axis=0)) if i else ""
        steps.append(_step(options, k, games, sentence(f"{trigger}.") if trigger else "", likely))
    return steps


def _step(options: Options, choice: int, games: list[int], trigger: str, p_going_on: float | None = None) -> PlanStep:
    pins = options.pins[:, games, :].mean(axis=1)
    row = options.rows[choice]
    return PlanStep(
        from_game=games[0] + 1,
        to_game=games[-1] + 1,
        ball=row["ball"],
        ball_name=row["ball_name"],
        line=row["line"],
        worth=estimate(pins[:, choice]),
        p_best=_p_best(options, pins, games[0], choice),
        shots=row["shots"],
        shots_elsewhere=row["shots_elsewhere"],
        trigger=trigger,
        p_going_on=p_going_on,
    )


def _p_best(options: Options, pins: Draws, game: int, choice: int) -> float | None:
    """Probability that the choice beats all others tried in the phase of that game; None where there is no other."""
    tried = options.tried[game].copy()
    tried[choice] = True
    alone = tried.sum() == 1
    return None if alone else float(probability_best(pins[:, tried])[int(tried[:choice].sum())])


def _backup(options: Options, order: list[int]) -> PlanStep | None:
    """The best choice with another ball over the first stretch, or on another line where there is one ball only."""
    first = [g for g, k in enumerate(order) if k == order[0]]
    start = options.rows[order[0]]
    usable = [k for k in range(len(options.rows)) if k != order[0] and options.tried[0, k]]
    others = [k for k in usable if options.rows[k]["ball"] != start["ball"]] or usable
    if not others:
        return None
    mean = options.pins[:, first, :].mean(axis=(0, 1))
    best = max(others, key=lambda k: float(mean[k]))
    return _step(options, best, first, failing(options.strike[:, first, order[0]].mean(axis=0)))
