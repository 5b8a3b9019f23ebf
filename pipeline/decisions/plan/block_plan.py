"""A plan for a posted pattern: the ball and line to start with, when to change to what, and the score to expect.

The balls are those that the advice by phase names for patterns of its class, unless this pattern asks for others
(``order.py``). Oil that nobody bowled on is as uncertain as the patterns bowled on differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.arrays import Draws
from pipeline.decisions.advice.ball_by_phase import advised
from pipeline.decisions.candidates import ChoiceRow, candidates, row_dicts
from pipeline.decisions.estimates import estimate
from pipeline.decisions.plan.bag import pack
from pipeline.decisions.plan.choices import AdviceByPhase, Lane, Options, OwnMix, PlanError, Round, choices
from pipeline.decisions.plan.novelty import novelty, same_pattern, within_logged
from pipeline.decisions.plan.order import order_of
from pipeline.decisions.plan.own_mix import own_mix
from pipeline.decisions.plan.prices import priced
from pipeline.decisions.plan.steps import backup_of, steps_of
from pipeline.decisions.records import BlockPlan, EventPlan
from pipeline.decisions.wording.block_plan import plan_sentence, plan_text
from pipeline.decisions.wording.names import ball_named, pattern_named
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted, once
from pipeline.pricing.score_chances import reaches, score_histogram, score_sd
from pipeline.sport.classes import length_class
from pipeline.store.season import Season

_DEFAULT_GAMES = 6
_HISTOGRAM_DRAWS = 200

__all__ = ["PlanError", "default_plans", "plan", "plan_text"]

Oil = dict[str, float | None]


@dataclass(frozen=True)
class Posted:
    """A posted pattern: length in feet, volume in mL, ratio of inside to outside, and its name."""

    length_ft: float
    volume_ml: float | None = None
    ratio: float | None = None
    name: str | None = None


def plan(
    fitted: Fitted,
    bowler: str,
    length_ft: float,
    volume_ml: float | None = None,
    ratio: float | None = None,
    games: int = _DEFAULT_GAMES,
    name: str | None = None,
) -> BlockPlan:
    """Plan one block of ``games`` games on a pattern; ``name`` is that of the pattern.

    The intervals include luck of the block, and the effect of a new pattern beyond its numbers. Oil beyond any
    logged is priced as the nearest logged, because no trend is known to continue, and widens the intervals.

    Raises:
        PlanError: no first delivery of that bowler, or fewer than one game.
    """
    return _plans(fitted, bowler, [(Posted(length_ft, volume_ml, ratio, name), games)])[0]


def _plans(fitted: Fitted, bowler: str, rounds: Sequence[tuple[Posted, int]]) -> list[BlockPlan]:
    """A plan for each posted pattern and its number of games; all are priced together."""
    asked = [_round(fitted, bowler, posted, games) for posted, games in rounds]
    priced_balls = priced(fitted.fits, bowler, asked)
    both = zip(rounds, asked, priced_balls, strict=True)
    return [_planned(fitted.fits, bowler, posted, of, options) for (posted, _), of, options in both]


def _planned(fits: Fits, bowler: str, posted: Posted, asked: Round, options: Options) -> BlockPlan:
    """The plan of one round from its balls as ``priced`` gives them."""
    pattern_class, games = str(asked.lane["pattern_class"]), asked.games
    order = order_of(options, asked.answers, pattern_class)
    steps, backup = steps_of(options, order.balls), backup_of(options, order.balls)
    at = list(enumerate(order.balls))
    strike = np.column_stack([options.strike[:, g, k] for g, k in at])
    score = np.column_stack([options.score[:, g, k] for g, k in at])
    some = slice(None, None, max(1, len(strike) // _HISTOGRAM_DRAWS))
    bowled_average = estimate(score.mean(axis=1) + _luck_of_games(fits, bowler, strike, score))
    gain = (score - options.own).mean(axis=1)
    gained, p_gain = estimate(gain), float((gain > 0).mean())
    return BlockPlan.model_validate(
        {
            "bowler": bowler,
            "pattern": posted.name,
            "length_ft": posted.length_ft,
            "volume_ml": posted.volume_ml,
            "ratio": posted.ratio,
            "games": games,
            "pattern_class": pattern_class,
            "novelty": asked.distance,
            "steps": steps,
            "backup": backup,
            "departs": order.departs,
            "gain": gained,
            "p_gain": p_gain,
            "score": estimate(score.mean(axis=1)),
            "score_kept_line": estimate(np.mean([options.kept[:, g, k] for g, k in at], axis=0)),
            "average": bowled_average,
            "score_histogram": score_histogram(fits, bowler, strike[some], score[some]).tolist(),
            "p_200": float(reaches(fits, bowler, strike[some], score[some], 200).mean()),
            "sentence": plan_sentence(steps, gained, p_gain, bowled_average, asked.distance, posted.length_ft),
        }
    )


def _round(fitted: Fitted, bowler: str, posted: Posted, games: int) -> Round:
    """What is priced for one round.

    Raises:
        PlanError: as in ``plan``.
    """
    pattern_class = length_class(posted.length_ft, fitted.fits.settings.pattern)
    answers = _answers(fitted, bowler, pattern_class)
    rows = _choices(fitted, bowler, pattern_class)
    if games < 1:
        raise PlanError(f"A plan needs at least one game, not {games}.")
    bowled = patterns_bowled(fitted)
    distance = novelty(bowled[bowled["bowler"] == bowler], posted.length_ft, posted.volume_ml, posted.ratio)
    oil: Oil = {"length_ft": posted.length_ft, "volume_ml": posted.volume_ml, "ratio": posted.ratio}
    lane: Lane = {"pattern_class": pattern_class, "pattern": same_pattern(bowled, oil), **oil}
    own = _own_mix(fitted, bowler, pattern_class)
    return Round(rows, lane, {**lane, **within_logged(bowled, oil)}, games, distance, answers, own)


@once(stored=False)
def _choices(fitted: Fitted, bowler: str, pattern_class: str) -> list[ChoiceRow]:
    """The choices of a plan, with every ball that is advised on some lane of the class."""
    answers = _answers(fitted, bowler, pattern_class)
    return choices(
        fitted, bowler, pattern_class, frozenset(ball for answer in answers.values() for ball in answer.ways)
    )


@once(stored=False)
def _own_mix(fitted: Fitted, bowler: str, pattern_class: str) -> OwnMix:
    """What the bowler throws on the class now."""
    return own_mix(fitted, bowler, pattern_class, _choices(fitted, bowler, pattern_class))


def _answers(fitted: Fitted, bowler: str, pattern_class: str) -> AdviceByPhase:
    advice = advised(fitted)
    return {phase: answer for (who, kind, phase), answer in advice.items() if (who, kind) == (bowler, pattern_class)}


def plan_event(
    fitted: Fitted, bowler: str, rounds: Sequence[Posted], games: int, balls: int | None = None
) -> EventPlan:
    """A plan for every round, and which ``balls`` to take to all of them if a number is asked for.

    Raises:
        PlanError: as in ``plan``; no ball is asked for.
    """
    asked = [_round(fitted, bowler, posted, games) for posted in rounds]
    options = priced(fitted.fits, bowler, asked)
    bag = None
    if balls is not None:
        listed = fitted.season.table("balls")
        spare = listed[(listed["bowler"] == bowler) & listed["spare_ball"].eq(True)]
        bag = pack(options, balls, spare.sort_values("name")["ball"].map(ball_named).tolist())
    both = zip(rounds, asked, options, strict=True)
    return EventPlan(bowler=bowler, rounds=[_planned(fitted.fits, bowler, *parts) for parts in both], bag=bag)


def posted_by_name(season: Season, names: Sequence[str]) -> list[Posted]:
    """The oil of patterns known by id or name, whatever the capitals.

    Raises:
        PlanError: a pattern that is not known, or whose length nobody posted.
    """
    known = season.table("patterns")
    rounds: list[Posted] = []
    for asked in names:
        same = [known[column].astype(str).str.casefold() == asked.casefold() for column in ("pattern", "name")]
        rows = known[same[0] if same[0].any() else same[1]]
        if rows.empty:
            listed = ", ".join(sorted(known["pattern"].astype(str))) or "none"
            raise PlanError(
                f"No pattern {asked!r} is loaded; patterns are {listed}. Or give its numbers with --length."
            )
        row = row_dicts(rows)[0]
        if pd.isna(row["length_ft"]):
            raise PlanError(f"Nobody posted the length of {row['name']}; give it with --length.")
        rounds.append(_posted(row))
    return rounds


def default_plans(fitted: Fitted) -> list[BlockPlan]:
    """Plans for every bowler and posted pattern bowled on: by bowler, the most recent pattern first.

    Each is for as many games as the last block on it had. Empty if no pattern was posted.
    """
    rounds = _logged_patterns(fitted)
    bowlers = sorted(candidates(fitted).rows["bowler"].unique())
    return [made for bowler in bowlers if rounds for made in _plans(fitted, str(bowler), rounds)]


def _logged_patterns(fitted: Fitted) -> list[tuple[Posted, int]]:
    """Posted patterns bowled on in the period reported, the latest first, with the games of the last block on each."""
    bowled, period = patterns_bowled(fitted), fitted.season.period
    if period is not None:
        begun = pd.to_datetime(bowled.groupby("block")["date"].transform("min"))
        bowled = bowled[begun.between(pd.Timestamp(period.since), pd.Timestamp(period.until))]
    firsts: dict[str, str] = dict.fromkeys(("pattern", "length_ft", "volume_ml", "ratio"), "first")
    posted = bowled[bowled["length_ft"].notna()]
    blocks = posted.groupby("block", as_index=False).agg({"date": "max", "games": "max", **firsts})
    last = blocks.sort_values(["date", "block"]).groupby("pattern").tail(1).iloc[::-1]
    return [(_posted(row), int(row["games"])) for row in row_dicts(last)]


def _posted(row: ChoiceRow) -> Posted:
    volume: float | None
    ratio: float | None
    volume, ratio = (None if pd.isna(row[part]) else float(row[part]) for part in ("volume_ml", "ratio"))
    return Posted(float(row["length_ft"]), volume, ratio, pattern_named(row["pattern"]))


@once(of=Fitted.everybody)
def patterns_bowled(fitted: Fitted) -> pd.DataFrame:
    """Everybody's blocks with their oil, on all nights (``cells/patterns_bowled``)."""
    return fitted.season.frame("cells/patterns_bowled")


def _luck_of_games(fits: Fits, bowler: str, strike: Draws, score: Draws) -> Draws:
    """Draws (n,) of what luck adds to the average of the games, near normal; ``strike`` and ``score``: (n, games)."""
    # A game's luck hardly depends on the draw, so its size is taken at their means.
    sd = score_sd(fits, bowler, strike.mean(axis=0), score.mean(axis=0))
    noise = fits.generator(f"luck of the games of {bowler}").standard_normal(len(strike))
    # Luck is as often good as bad, so it must not move the mean.
    result: Draws = np.sqrt((sd**2).sum()) / strike.shape[1] * (noise - noise.mean())
    return result
