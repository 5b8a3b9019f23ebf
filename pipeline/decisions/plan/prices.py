"""The balls a plan compares, priced in every game of the rounds planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logit

from pipeline.arrays import Draws
from pipeline.decisions.candidates import ELSEWHERE, ChoiceRow, row_dicts
from pipeline.decisions.plan.choices import AdviceByPhase, Options, Round, compared_in
from pipeline.decisions.records import PHASES
from pipeline.inference.logistic import logistic
from pipeline.models.fits import Fits
from pipeline.pricing.rate_draws import RateDraws, average_score, followed_rate_draws, rate_draws
from pipeline.sport.lane import NO_LINE, line_name, phase_of

_LOGIT_LIMIT = 1e-6


@dataclass(frozen=True)
class _PricedRates:
    """One round's balls in each game, games outermost: rows, and each ball's rates as played and on the line kept.

    ``moving``: the same of these balls and, after them in each game, of the bowler's others, lines following the lane.
    """

    frame: pd.DataFrame
    as_played: RateDraws
    kept: RateDraws
    moving: RateDraws


def priced(fits: Fits, bowler: str, rounds: Sequence[Round]) -> list[Options]:
    """The balls of each round in each of its games, in a block of random luck; all rounds are priced together.

    Oil beyond what was logged widens the draws about the means of the nearest logged, so uncertainty neither adds pins
    nor favours a choice.
    """
    balls = [_by_ball(asked.rows) for asked in rounds]
    near = _rates_of(fits, bowler, [replace(asked, lane=asked.nearest) for asked in rounds], balls)
    beyond = [k for k, asked in enumerate(rounds) if asked.lane != asked.nearest]
    rates = _rates_of(fits, bowler, [rounds[k] for k in beyond], [balls[k] for k in beyond]) if beyond else []
    wide = dict(zip(beyond, rates, strict=True))
    return [_options(fits, bowler, asked, balls[k], near[k], wide.get(k)) for k, asked in enumerate(rounds)]


def _rates_of(fits: Fits, bowler: str, rounds: Sequence[Round], balls: list[list[ChoiceRow]]) -> list[_PricedRates]:
    """Every round at its ``lane``."""
    played = _played(fits, rounds, [_on_lane(fits, bowler, *both) for both in zip(rounds, balls, strict=True)])
    staying = rate_draws(fits, played.drop(columns=["keeps", "board"]))
    result, start = [], 0
    for asked, rows, moving in zip(rounds, balls, _moving(fits, bowler, rounds, balls), strict=True):
        there = slice(start, start + asked.games * len(rows))
        frame, kept, start = played.iloc[there], _of(staying, there), there.stop
        compared = np.arange(moving.strike.shape[1]).reshape(asked.games, -1)[:, : len(rows)].ravel()
        as_moving = _of(moving, compared)
        strike = np.where(frame["keeps"].to_numpy(dtype=bool), kept.strike, as_moving.strike)
        result.append(_PricedRates(frame, replace(as_moving, strike=strike), kept, moving))
    return result


def _by_ball(rows: list[ChoiceRow]) -> list[ChoiceRow]:
    """One record per ball, its shots added up over its lines; ``line`` is the one thrown most."""
    by_ball: dict[str, ChoiceRow] = {}
    for row in sorted(rows, key=lambda row: (-row["counted"], row["ball"], row["line"])):
        if row["ball"] not in by_ball:
            by_ball[row["ball"]] = {**row, "in_phase": dict(row["in_phase"])}
            continue
        ball = by_ball[row["ball"]]
        for name in ("shots", "shots_elsewhere", "counted"):
            ball[name] += row[name]
        ball["in_phase"] = {phase: ball["in_phase"][phase] + row["in_phase"][phase] for phase in PHASES}
    return list(by_ball.values())


def _played(fits: Fits, rounds: Sequence[Round], grids: list[pd.DataFrame]) -> pd.DataFrame:
    """The rows of all rounds (``_on_lane``) with the line to keep or to start on, and where it is usually played."""
    grid = pd.concat(grids, ignore_index=True)
    asked = [asked for asked, part in zip(rounds, grids, strict=True) for _ in range(len(part))]
    boards = fits.worth.usual_boards(grid).tolist() if fits.worth.lines_logged else [None] * len(grid)
    kept_lines = [_line_kept(*row) for row in zip(asked, grid["phase"], grid["ball"], strict=True)]
    lines = [
        kept_on or (line if board is None else line_name(board))
        for kept_on, line, board in zip(kept_lines, grid["line"], boards, strict=True)
    ]
    keeps = [line is not None for line in kept_lines]
    return grid.assign(line=pd.Series(lines, dtype=object), keeps=keeps, board=pd.Series(boards, dtype=float))


def _line_kept(asked: Round, phase: str, ball: str) -> str | None:
    """The line that the advice by phase keeps the ball on; None if it moves with the lane."""
    way = asked.answers[phase].ways.get(ball) if phase in asked.answers else None
    return way.line if way is not None and way.keeps_line else None


def _on_lane(fits: Fits, bowler: str, asked: Round, rows: list[ChoiceRow]) -> pd.DataFrame:
    """The rows in each game of a round, games outermost, as the price takes them."""
    grid = pd.DataFrame([{name: row[name] for name in ("ball", "ball_class", "line")} for row in rows] * asked.games)
    grid["line"] = grid["line"].where(grid["line"] != NO_LINE, None)
    game = np.repeat(np.arange(asked.games) + 1, len(rows))
    phase = [phase_of(int(number), fits.settings.phases) for number in game]
    lane = {name: np.nan if value is None else value for name, value in asked.lane.items()}
    return grid.assign(bowler=bowler, game=game, phase=phase, **lane)


def _moving(fits: Fits, bowler: str, rounds: Sequence[Round], balls: list[list[ChoiceRow]]) -> list[RateDraws]:
    """Of each round every game and ball with its line following the lane: the balls, then the bowler's others."""
    grids, cells, weights, ends, start = [], [], [], [], 0
    for asked, rows in zip(rounds, balls, strict=True):
        lines = [*asked.rows, *asked.own.others]
        grid = _on_lane(fits, bowler, asked, lines)
        place = {ball: k for k, ball in enumerate([row["ball"] for row in rows] + _other_balls(asked))}
        cells.append(start + (grid["game"] - 1) * len(place) + grid["ball"].map(place))
        both = zip(lines * asked.games, grid["phase"], strict=True)
        weights.append([row["in_phase"][phase] + ELSEWHERE * row["counted"] for row, phase in both])
        grids.append(grid)
        ends.append(range(start, start + asked.games * len(place)))
        start = ends[-1].stop
    cell = np.concatenate(cells).astype(np.intp)
    rates = followed_rate_draws(fits, pd.concat(grids, ignore_index=True), cell, np.concatenate(weights))
    first = np.unique(cell, return_index=True)[1]
    return [_of(rates, first[there.start : there.stop]) for there in ends]


def _other_balls(asked: Round) -> list[str]:
    """The bowler's other balls, in the order they are priced after those compared."""
    return [row["ball"] for row in _by_ball(asked.own.others)]


def _of(rates: RateDraws, columns: slice | NDArray[np.intp]) -> RateDraws:
    return RateDraws(*(getattr(rates, part)[:, columns] for part in ("strike", "spare", "first_pins", "open_pins")))


def _options(
    fits: Fits, bowler: str, asked: Round, balls: list[ChoiceRow], near: _PricedRates, wide: _PricedRates | None
) -> Options:
    """One round's balls as they are priced on the nearest lane logged, with draws as ``wide`` as on the lane itself."""
    luck = _block_luck(fits, fits.generator(f"plan of {bowler}"))[:, None]
    (strike, score), (_, staying) = (_shifted(rates, luck) for rates in (near.as_played, near.kept))
    phase = [phase_of(game + 1, fits.settings.phases) for game in range(asked.games)]
    by = _drawn_in(balls, phase, asked.answers)
    score, staying = score + by, staying + by
    _, moving = _shifted(near.moving, luck)
    if wide is not None:
        (wide_strike, wide_score), (_, wide_kept) = (_shifted(rates, luck) for rates in (wide.as_played, wide.kept))
        score, staying = _about(score, wide_score), _about(staying, wide_kept)
        strike = np.clip(_about(strike, wide_strike), _LOGIT_LIMIT, 1 - _LOGIT_LIMIT)
        moving = _about(moving, _shifted(wide.moving, luck)[1])
    shape = (fits.n_draws, asked.games, len(balls))
    pins = score - average_score(fits, bowler)[:, None]
    rows = [row | _by_game(near.frame, k, len(balls)) for k, row in enumerate(balls)]
    parts = (part.reshape(shape) for part in (pins, staying, strike, score))
    own = _own(moving.reshape(*shape[:2], -1), asked, [*(row["ball"] for row in balls), *_other_balls(asked)], phase)
    return Options(rows, compared_in(balls, phase, asked.answers), phase, own, *parts)


def _own(moving: Draws, asked: Round, balls: list[str], phase: list[str]) -> Draws:
    """Expected score (n, games) of what the bowler throws now, from that of each ball (n, games, balls) that moves."""
    share, drawn_in = (
        np.array([[by_phase.get(name, {}).get(ball, 0.0) for ball in balls] for name in phase])
        for by_phase in (asked.own.shares, asked.own.drawn_in)
    )
    result: Draws = np.einsum("ngb,gb->ng", moving + drawn_in, share)
    return result


def _drawn_in(balls: list[ChoiceRow], phase: list[str], answers: AdviceByPhase) -> Draws:
    """Pins (games x balls,) that draw each ball toward what is thrown on the class in the game's phase, as on its card.

    0 if nothing on the class was compared: how balls differ on a new pattern is uncertain enough.
    """
    ways = [answers[name].ways if name in answers else {} for name in phase]
    return np.array(
        [of_game[row["ball"]].drawn_in if row["ball"] in of_game else 0.0 for of_game in ways for row in balls]
    )


def _by_game(played: pd.DataFrame, ball: int, count: int) -> ChoiceRow:
    """How one of ``count`` balls is played in each game, from the rows of ``_played``."""
    of_ball = row_dicts(played.iloc[ball::count])
    return {
        "lines": [NO_LINE if pd.isna(row["line"]) else str(row["line"]) for row in of_ball],
        "keeps": [bool(row["keeps"]) for row in of_ball],
        "boards": [None if np.isnan(row["board"]) else float(row["board"]) for row in of_ball],
    }


def _shifted(rates: RateDraws, logits: Draws) -> tuple[Draws, Draws]:
    """Strike probability and expected score at these rates with the strikes shifted by ``logits``."""
    strike = logistic(logit(np.clip(rates.strike, _LOGIT_LIMIT, 1 - _LOGIT_LIMIT)) + logits)
    return strike, replace(rates, strike=strike).score()


def _about(near: Draws, wide: Draws) -> Draws:
    """Draws as wide as the ``wide`` ones, about the means of those ``near``."""
    result: Draws = wide + (near.mean(axis=0) - wide.mean(axis=0))
    return result


def _block_luck(fits: Fits, rng: np.random.Generator) -> Draws:
    """A new block's own effect, in logits: drawn from the population of blocks."""
    posterior, _ = fits.worth.model.draws(fits.n_draws, fits.generator("worth"))
    sd = posterior.sd.get("bowler:block", np.zeros(fits.n_draws))
    result: Draws = sd * rng.standard_normal(fits.n_draws)
    return result
