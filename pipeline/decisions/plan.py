"""A plan for a posted pattern: what to start with, when to go on to what, and which scores to expect."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit, logit

from pipeline.decisions.candidates import TRIED, Record, candidates, records
from pipeline.decisions.estimates import estimate, probability_best
from pipeline.decisions.novelty import novelty, same_pattern, unlikeness, within_logged
from pipeline.decisions.plan_words import plan_sentence, plan_text
from pipeline.decisions.results import PHASES, BlockPlan, PlanStep
from pipeline.decisions.words import NO_LINE, direction, percent, the_line, with_ball
from pipeline.errors import RackledgerError
from pipeline.models.fits import Fits
from pipeline.models.season import Season
from pipeline.models.value import levels, own_average, reaches, score_histogram
from pipeline.trade.classes import length_class
from pipeline.trade.lane import phase_of

_MOST_CHOICES = 20  # the most thrown choices are compared; rarer ones cannot lead a plan
_WORTH_CHANGING = 2.0  # pins per game a later choice must promise before the plan leaves the one in hand
_WORTH_CHANGING_IN_ALL = 4.0  # and pins over the games left of the phase
_LOGIT_LIMIT = 1e-6
_DEFAULT_GAMES = 6
_HISTOGRAM_DRAWS = 200

__all__ = ["PlanError", "default_plans", "plan", "plan_text"]

Draws = NDArray[np.float64]
Oil = dict[str, float | None]
Lane = dict[str, str | float | None]


class PlanError(RackledgerError):
    """A plan that cannot be made; the message says for want of what."""


@dataclass(frozen=True)
class _Options:
    """The choices compared.

    ``pins``, ``strike``, ``score`` of shape (n, games, choices); ``tried`` (games, choices): logged enough in the
    game's phase to be advised there; ``phase`` (games,): the phase of each game.
    """

    rows: list[Record]
    tried: NDArray[np.bool_]
    phase: list[str]
    pins: Draws
    strike: Draws
    score: Draws


def plan(
    season: Season,
    fits: Fits,
    bowler: str,
    length_ft: float,
    volume_ml: float | None = None,
    ratio: float | None = None,
    games: int = _DEFAULT_GAMES,
) -> BlockPlan:
    """Plan one block of ``games`` games on a pattern.

    Choices are the balls and lines with enough shots by the bowler on that pattern class; where none has, whatever was
    logged there; where nothing was, whatever was logged anywhere. The plan leaves the choice in hand only for one that
    promises two pins per game more. Luck of the block is in the intervals. Oil beyond any logged is priced as the
    nearest logged, for no trend is known to go on, and widens the intervals.

    Raises:
        PlanError: no first delivery of that bowler, or fewer than one game.
    """
    rows = choices(season, fits, bowler, length_class(length_ft, fits.settings.pattern))
    if games < 1:
        raise PlanError(f"A plan needs at least one game, not {games}.")
    pattern_class = length_class(length_ft, fits.settings.pattern)
    bowled = season.frame("53_patterns_bowled")
    distance = novelty(bowled[bowled["bowler"] == bowler], length_ft, volume_ml, ratio)
    oil: Oil = {"length_ft": length_ft, "volume_ml": volume_ml, "ratio": ratio}
    same = same_pattern(bowled, oil)
    lane: Lane = {"pattern_class": pattern_class, "pattern": same} | within_logged(bowled, oil)
    options = _price(fits, bowler, rows, lane, games, distance)
    order = _sequence(options)
    steps = _steps(options, order)
    at = list(enumerate(order))
    strike = np.column_stack([options.strike[:, g, k] for g, k in at])
    score = np.column_stack([options.score[:, g, k] for g, k in at])
    few = slice(None, None, max(1, len(strike) * games // (_HISTOGRAM_DRAWS * games)))
    average = estimate(score.mean(axis=1))
    backup = _backup(options, order)
    return BlockPlan.model_validate(
        {
            "bowler": bowler,
            **oil,
            "games": games,
            "pattern_class": pattern_class,
            "novelty": distance,
            "steps": steps,
            "backup": backup,
            "score": average,
            "score_histogram": score_histogram(fits, bowler, strike[few], score[few]).tolist(),
            "p_200": float(reaches(fits, bowler, strike[few], score[few], 200).mean()),
            "sentence": plan_sentence(steps, backup, average.mean, average.lo80, average.hi80, distance, length_ft),
        }
    )


def default_plans(season: Season, fits: Fits) -> list[BlockPlan]:
    """One plan a bowler, for the pattern of the last posted block of the season; none where no pattern was posted."""
    bowled = season.frame("53_patterns_bowled")
    posted = bowled[bowled["length_ft"].notna()].sort_values(["date", "block"])
    if posted.empty:
        return []
    last = posted.iloc[-1]
    length, volume, ratio = (
        None if pd.isna(last[name]) else float(last[name]) for name in ("length_ft", "volume_ml", "ratio")
    )
    games = int(bowled.loc[bowled["block"] == last["block"], "games"].max())
    bowlers = sorted(candidates(season, fits).rows["bowler"].unique())
    return [plan(season, fits, str(bowler), float(length or 0), volume, ratio, games) for bowler in bowlers]


def choices(season: Season, fits: Fits, bowler: str, pattern_class: str) -> list[Record]:
    """The choices a plan compares, with their shots by phase.

    Raises:
        PlanError: no first delivery of that bowler.
    """
    rows = candidates(season, fits).rows
    own = rows[(rows["bowler"] == bowler) & (rows["shots"] > 0)]
    if own.empty:
        known = ", ".join(sorted(rows["bowler"].unique()))
        raise PlanError(f"No first delivery of {bowler!r} is logged; bowlers with shots are {known}.")
    here = own[own["pattern_class"] == pattern_class]
    used = (own if here.empty else here).groupby(["ball", "line"], as_index=False)
    found = used.agg(ball_name=("ball_name", "first"), ball_class=("ball_class", "first"), shots=("shots", "sum"))
    enough = found[found["shots"] >= fits.settings.evidence.min_shots]
    found = found if enough.empty else enough
    most = found.sort_values(["shots", "ball", "line"], ascending=[False, True, True]).head(_MOST_CHOICES)
    by_phase = (own if here.empty else here).groupby(["ball", "line", "phase"])["shots"].sum().to_dict()
    return [
        {**row, "in_phase": {phase: int(by_phase.get((row["ball"], row["line"], phase), 0)) for phase in PHASES}}
        for row in records(most)
    ]


def tried_in(rows: list[Record], phase: list[str]) -> NDArray[np.bool_]:
    """Choices (games, choices) logged enough in each game's phase; where none was, the most logged; else all."""
    shots = np.array([[row["in_phase"][name] for row in rows] for name in phase])
    most = shots.max(axis=1, keepdims=True)
    result: NDArray[np.bool_] = shots >= np.minimum(most, TRIED)
    return result


def _price(
    fits: Fits,
    bowler: str,
    rows: list[Record],
    lane: Lane,
    games: int,
    distance: float,
) -> _Options:
    grid = pd.DataFrame([{name: row[name] for name in ("ball", "ball_class", "line")} for row in rows] * games)
    grid["line"] = grid["line"].where(grid["line"] != NO_LINE, None)
    grid = grid.assign(bowler=bowler, game=np.repeat(np.arange(games) + 1, len(rows)))
    grid = grid.assign(**{name: np.nan if value is None else value for name, value in lane.items()})
    level = levels(fits, grid)
    rng = fits.generator(f"plan of {bowler}")
    names = [f"{row['ball']} {row['line']}" for row in rows] * games
    noise = unlikeness(distance, names, fits.n_draws, rng)
    noise += _block_luck(fits, rng)[:, None]
    strike = expit(logit(np.clip(level.strike, _LOGIT_LIMIT, 1 - _LOGIT_LIMIT)) + noise)
    score = type(level)(strike, level.spare, level.first_pins, level.open_pins).score()
    shape = (fits.n_draws, games, len(rows))
    pins = score - own_average(fits, bowler)[:, None]
    phase = [phase_of(game + 1, fits.settings.phases) for game in range(games)]
    tried = tried_in(rows, phase)
    return _Options(rows, tried, phase, pins.reshape(shape), strike.reshape(shape), score.reshape(shape))


def _block_luck(fits: Fits, rng: np.random.Generator) -> Draws:
    """A new block's own effect, in logits: drawn from the population of blocks."""
    posterior, _ = fits.worth.model.draws(fits.n_draws, fits.generator("worth"))
    sd = posterior.sd.get("bowler:block", np.zeros(fits.n_draws))
    result: Draws = sd * rng.standard_normal(fits.n_draws)
    return result


def _sequence(options: _Options) -> list[int]:
    """Best choice of every game, leaving the one in hand only where the rest of the phase gains enough by it."""
    order: list[int] = []
    for game in range(options.pins.shape[1]):
        usable = np.flatnonzero(options.tried[game])
        left = options.phase[game:].count(options.phase[game])
        rest = options.pins[:, game : game + left]
        best = int(usable[rest[:, :, usable].mean(axis=(0, 1)).argmax()])
        order.append(best if not order or _leave(options, rest, game, order[-1], best) else order[-1])
    return order


def _leave(options: _Options, rest: Draws, game: int, now: int, then: int) -> bool:
    """Whether to leave the choice in hand, given all choices' pins (n, games left, choices) from this game on.

    One never tried so late is left for any that is likelier than not to be better in this game.
    """
    gain = rest[:, :, then] - rest[:, :, now]
    mean = gain.mean(axis=0)
    if not options.tried[game, now]:
        return bool(mean.mean() > 0 and (gain[:, 0] > 0).mean() > 0.5)
    return bool(mean.mean() >= _WORTH_CHANGING and mean.sum() >= _WORTH_CHANGING_IN_ALL and mean[0] > 0)


def _steps(options: _Options, order: list[int]) -> list[PlanStep]:
    runs = [(k, [g for g, _ in part]) for k, part in groupby(enumerate(order), key=lambda pair: pair[1])]
    steps = []
    for i, (k, games) in enumerate(runs):
        trigger, likely = "", None
        if i + 1 < len(runs):
            then, (game, *_) = runs[i + 1]
            likely = float((options.pins[:, game, then] > options.pins[:, game, k]).mean())
            trigger = _trigger(options, k, then, game, likely)
        steps.append(_step(options, k, games, trigger, likely))
    return steps


def _step(options: _Options, choice: int, games: list[int], trigger: str, p_going_on: float | None = None) -> PlanStep:
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
        shots=int(row["shots"]),
        trigger=trigger,
        p_going_on=p_going_on,
    )


def _p_best(options: _Options, pins: Draws, game: int, choice: int) -> float:
    """Probability that the choice beats all others tried in the phase of that game."""
    tried = options.tried[game].copy()
    tried[choice] = True
    return float(probability_best(pins[:, tried])[int(tried[:choice].sum())])


def _trigger(options: _Options, now: int, then: int, game: int, likely: float) -> str:
    """What to watch for before going on: the strike rate half-way between staying and going in the game after."""
    old, new = options.rows[now], options.rows[then]
    stay, go = float(options.strike[:, game, now].mean()), float(options.strike[:, game, then].mean())
    if new["ball"] == old["ball"]:
        what = f"move {direction(old['line'], new['line'])} to {the_line(new['line'])}".replace("  ", " ")
    else:
        what = f"change to {with_ball(new['ball_name'], new['line'])}"
    return (
        f"From game {game + 1} {what} ({percent(likely)} likely better); sooner if no more than "
        f"{_few(0.5 * (stay + go))} of the last 10 first deliveries struck."
    )


def _few(rate: float) -> int:
    """So few strikes in ten first deliveries that the rate is in doubt: two below the number expected, at least one."""
    return max(1, round(10 * rate) - 2)


def _backup(options: _Options, order: list[int]) -> PlanStep | None:
    """The best choice with another ball over the first stretch, or on another line where there is one ball only."""
    first = [g for g, k in enumerate(order) if k == order[0]]
    start = options.rows[order[0]]
    usable = [k for k in range(len(options.rows)) if k != order[0] and options.tried[0, k]]
    others = [k for k in usable if options.rows[k]["ball"] != start["ball"]] or usable
    if not others:
        return None
    mean = options.pins[:, first, :].mean(axis=(0, 1))
    best = max(others, key=lambda k: float(mean[k]))
    low = _few(float(options.strike[:, first, order[0]].mean()))
    return _step(
        options,
        best,
        first,
        f"Go to it if {low} or fewer of the first 10 first deliveries strike, or the pocket is gone.",
    )
