"""The true level of a block: the expected score of its shots, the same balls on the same lines, frame by frame.

A score is the level plus luck. The level includes the choices made, the pattern, the games, the wear of the pair and of
each ball, and the night's effect on the bowler, which the block's strikes inform; execution, carry, leaves and spares
are averaged over. So the level of a high block is shrunk toward what its shots usually score, less so the more evidence
the block holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import logit

from pipeline.arrays import Draws
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.effect_draws import keyed_noise
from pipeline.inference.mixed_logit.named_effects import MixedLogit
from pipeline.models.fits import Fits
from pipeline.models.strikes.stretches import moved_draws, stretches
from pipeline.pricing.ledger.class_usual import OWN
from pipeline.pricing.ledger.deliveries import Account, Ledger
from pipeline.pricing.score_chances import score_histogram

_FRAMES = 10
_CHOICE = ["pattern", "game", "ball", "line"]
_FRAMES_AT_ONCE = 4_000  # whose draws are held together
WIDER = 1.08
"""Intervals of levels against those of the models alone, whose form no lane has: learned in seven simulated worlds."""


@dataclass(frozen=True)
class BlockLevels:
    """The level of every block of one bowler with a complete game; arrays follow ``blocks``.

    Attributes:
        blocks: block ids.
        games: complete games (blocks,).
        pins: (n, blocks) draws of the level, pins per game.
        strike: mean chance of a strike (blocks,).
    """

    blocks: list[str]
    games: np.ndarray
    pins: Draws
    strike: np.ndarray


@dataclass(frozen=True)
class Ages:
    """Effect of the age of balls: draws ``logit`` (n, rows) of log odds of a strike, for the rows of ``balls``.

    ``balls``: columns ball and block, each pair once. It is counted from the ball's own mean over the season.
    """

    balls: pd.DataFrame
    logit: Draws


def block_levels(ledger: Ledger, bowler: str, ages: Ages | None = None) -> BlockLevels:
    """Levels of one bowler's blocks, by the bowler's own chances; without ``ages`` balls are as on average."""
    frames = ledger.rows("frame_shots", bowler=bowler)
    account = ledger.accounts[OWN, bowler]
    step = max(1, _FRAMES_AT_ONCE // _FRAMES) * _FRAMES
    pieces = [frames.iloc[start : start + step] for start in range(0, len(frames), step)]
    known = stretches(ledger.season)
    parts = [_games(account, ledger.fits, bowler, piece, ages, known) for piece in pieces]
    scores = np.concatenate([scores for scores, _ in parts], axis=1)
    strike = np.concatenate([strike for _, strike in parts])
    codes, blocks = pd.factorize(frames["block"].to_numpy()[::_FRAMES])
    games = np.bincount(codes).astype(float)
    of_block = (codes[:, None] == np.arange(len(blocks))) / games
    levels = widened(scores @ of_block)
    return BlockLevels([str(block) for block in blocks], games.astype(int), levels, strike @ of_block)


def widened(levels: Draws) -> Draws:
    """Draws (n, blocks) spread ``WIDER`` times as far about the same means."""
    mean = levels.mean(axis=0)
    result: Draws = mean + WIDER * (levels - mean)
    return result


def luck_percentile(fits: Fits, bowler: str, level: BlockLevels, place: int, score: float) -> np.ndarray:
    """Draws (n,) of the chance that the same shots score less than they did; a tie counts half.

    Args:
        fits: the season's models.
        bowler: whose block.
        level: of the bowler's blocks.
        place: of the block among them.
        score: what its complete games scored together.
    """
    from scipy.signal import fftconvolve  # slow to import

    pins, games = level.pins[:, place], int(level.games[place])
    one = score_histogram(fits, bowler, np.array(level.strike[place]), np.array(pins.mean()))
    together = one
    for _ in range(games - 1):
        together = fftconvolve(together, one)
    below = np.cumsum(together) - together / 2
    shifted = score - games * (pins - pins.mean())
    chances: np.ndarray = np.clip(np.interp(shifted, np.arange(len(below)), below, left=0.0, right=1.0), 0.0, 1.0)
    return chances


def expected_game(strike: Draws, spare: Draws, first: Draws, second: Draws) -> Draws:
    """Mean score of a game whose frames are independent and not alike.

    Args:
        strike, spare, first, second: chances and mean pins as in ``sport/state_values.Chances``, (..., 10) by frame;
            the fill balls are thrown as the tenth frame is.

    Returns:
        Shape (...).
    """
    none = 1 - strike
    balls = 10 * strike + none * first
    pairs = none * second
    made = strike + none * spare
    nothing = np.zeros_like(strike[..., :1])
    struck = np.concatenate([nothing, strike[..., :-1]], axis=-1)
    claims = np.concatenate([nothing, made[..., :-1]], axis=-1)  # a strike or spare before claims the next ball
    double = struck * np.concatenate([nothing, struck[..., :-1]], axis=-1)
    score = (balls * (1 + claims + double) + pairs * (1 + struck)).sum(axis=-1)
    last, fill = strike[..., -1], balls[..., -1]
    after_strike = fill * (1 + strike[..., -2]) + pairs[..., -1] + last * fill
    mean: np.ndarray = score + last * after_strike + none[..., -1] * spare[..., -1] * fill
    return mean


def _games(
    account: Account, fits: Fits, bowler: str, frames: pd.DataFrame, ages: Ages | None, known: dict[str, str]
) -> tuple[Draws, np.ndarray]:
    """Draws of the expected score of each game (n, games), and its mean chance of a strike (games,)."""
    places = account.stages.rows.reset_index(names="at")
    at = frames[_CHOICE].merge(places, on=_CHOICE, how="left")["at"].to_numpy(dtype=int)
    drawn = account.stages.draws["line"]
    then = frames["block"].astype(str).map(known)
    moved = moved_draws(fits.worth.model, bowler, then, fits.worth.now, fits.n_draws, fits.generator("worth"))
    tonight = _night(fits, bowler, frames["block"]) + _load(fits, bowler, frames) + moved
    if ages is not None:
        tonight += _aged(ages, frames, len(tonight))
    strike = logistic(logit(np.clip(drawn["strike"][:, at], 1e-6, 1 - 1e-6)) + tonight)
    by_frame = [
        values.reshape(len(values), -1, _FRAMES)
        for values in (strike, *(drawn[name][:, at] for name in ("spare", "first_pins", "second_pins")))
    ]
    return expected_game(*by_frame), by_frame[0].mean(axis=(0, 2))


def _load(fits: Fits, bowler: str, frames: pd.DataFrame) -> Draws:
    """Draws (n, frames) of the effect of the pair's load, beyond what is usual in that game, in log odds."""
    row = fits.mix.cells[fits.mix.cells["bowler"] == bowler].head(1)
    fresh, worn = (
        fits.worth.logit_draws(row.assign(pair_load=load), fits.n_draws, fits.generator("worth")) for load in (0.0, 1.0)
    )
    by_game = fits.worth.covariates.load_by_game
    usual = np.interp(frames["game"].to_numpy(dtype=float), np.arange(1, len(by_game) + 1), by_game)
    more = frames["pair_load"].to_numpy(dtype=float) - usual
    result: Draws = (worn - fresh) * np.nan_to_num(more)
    return result


def _aged(ages: Ages, frames: pd.DataFrame, n: int) -> Draws:
    """Draws (n, frames) of the effect of the age of each frame's ball, in log odds; 0 if its age is not known."""
    known = ages.balls.assign(at=np.arange(len(ages.balls)))
    at = frames[["ball", "block"]].merge(known, on=["ball", "block"], how="left")["at"].fillna(-1).to_numpy(dtype=int)
    logit = np.column_stack([ages.logit[:n], np.zeros(n)])  # the last column is where -1 leads
    aged: Draws = logit[:, at]
    return aged


def _night(fits: Fits, bowler: str, blocks: pd.Series) -> Draws:
    """Draws (n, rows) of the night's effect on the log odds of the bowler's strikes.

    Effects of nights are not kept for a season of very many bowlers; there they are drawn as for a new night.
    """
    model: MixedLogit = fits.worth.model
    rows = pd.DataFrame({"bowler": bowler, "block": blocks.astype(str)}).reset_index(drop=True)
    posterior, base = model.draws(fits.n_draws, fits.generator("worth"))
    night = np.zeros((len(posterior.fixed), len(rows)))
    for group in model.groups:
        if not group.usual_only or group.slope is not None or not set(group.columns) <= {"bowler", "block"}:
            continue
        if model.levels[group.name]:
            night += model.group_draws(group, rows, fits.n_draws, fits.generator("worth"))
        else:
            night += keyed_noise([f"night={block}" for block in rows["block"]], len(night), base) * posterior.sd[
                group.name
            ].reshape(-1, 1)
    return night
