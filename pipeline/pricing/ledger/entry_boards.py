"""The expectation of a first ball once its entry board is known.

The entry model gives the differences between boards. The chances by board are set so that their mean over the usual
boards equals the expectation before the board was known: under a bowler's own usual the boards of that ball in the
bowler's hands, shrunk toward all the bowler's balls; under the class everybody's boards. The usual boards are uncertain
(``entry_nights.py``): each draw reweights the nights, because boards of one night are alike, and draws how far the
ball's usual boards on that pattern lie from those on all.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.models.fits import Fits
from pipeline.pricing.ledger.class_usual import CLASS, ClassUsual
from pipeline.pricing.ledger.entry_nights import night_weights
from pipeline.pricing.ledger.stages import Stages

_OWN_SPREAD = 30.0  # shots of one ball with the same weight as the bowler's boards over all balls
NIGHTS = 64
"""Groups of nights, as ``ledger/ledger_boards`` counts them."""
_SHIFTS = np.linspace(-7.0, 7.0, 85)  # log odds between which the shift is interpolated


def entry_draws(
    fits: Fits, usual: ClassUsual, bowler: str, reference: str, stages: Stages, pairs: pd.DataFrame
) -> np.ndarray:
    """Draws (n, pairs) of the chance of a strike at each pair's entry board.

    Args:
        fits: the season's models; the entry model must have been fitted.
        usual: the class's boards among it.
        bowler: whose.
        reference: of ``REFERENCES``.
        stages: the bowler's choices under that reference.
        pairs: columns ``at``, the place of the choice among ``stages.rows``, and entry_half.
    """
    mine = usual.boards[usual.boards["bowler"] == bowler]
    spread = usual.class_boards() if reference == CLASS else mine
    boards = np.array(sorted({*spread["entry_half"], *pairs["entry_half"]}), dtype=float)
    who = AVERAGE if reference == CLASS else bowler
    line = stages.draws["line"]["strike"]
    effect = fits.entry.board_draws(boards, who, fits.n_draws, fits.generator("entry"))[: len(line)]
    out = np.empty((len(line), len(pairs)))
    ball = stages.rows["ball"].to_numpy()[pairs["at"].to_numpy()]
    column = np.searchsorted(boards, pairs["entry_half"].to_numpy(dtype=float))
    nights = night_weights(spread, len(line), NIGHTS, fits.generator("nights of entry boards"))
    everywhere = _counts(spread, boards, nights)
    everywhere *= _OWN_SPREAD / everywhere.sum(axis=1, keepdims=True)
    odds_against = np.exp(-effect)  # once for all shifts
    shifted = [1.0 / (1.0 + odds_against * np.exp(-shift)) for shift in _SHIFTS]
    for name in pd.unique(ball):
        rows = np.flatnonzero(ball == name)
        of_ball = 0.0 if reference == CLASS else _counts(mine[mine["ball"] == name], boards, nights)
        weight = of_ball + everywhere
        at = pairs["at"].to_numpy()[rows]
        shift = _shifts(shifted, weight / weight.sum(axis=1, keepdims=True), line[:, at])
        out[:, rows] = logistic(effect[:, column[rows]] + shift)
    return np.clip(out + _of_patterns(fits, usual, reference, stages.rows.iloc[pairs["at"]], len(out)), 1e-6, 1 - 1e-6)


def _of_patterns(fits: Fits, usual: ClassUsual, reference: str, choices: pd.DataFrame, n: int) -> np.ndarray:
    """Draws (n, choices) of how far the mean chance over the usual boards on each pattern lies from that on all."""
    between = usual.between_nights
    if between is None:
        return np.zeros((n, len(choices)))
    whose = ["" if reference == CLASS else str(ball) for ball in choices["ball"]]
    keys = [f"{ball}:{pattern}" for ball, pattern in zip(whose, choices["pattern"], strict=True)]
    return between.of_patterns(keys, n, fits.generator("boards_by_pattern"))


def _counts(shots: pd.DataFrame, boards: np.ndarray, nights: np.ndarray) -> np.ndarray:
    """Shots over the boards (n, boards) with each night counted as often as a draw of ``nights`` (n, NIGHTS) has it."""
    counts = np.zeros((NIGHTS, len(boards)))
    at = np.searchsorted(boards, shots["entry_half"].to_numpy(dtype=float))
    np.add.at(counts, (shots["night"].to_numpy(dtype=int), at), shots["shots"].to_numpy())
    return np.asarray(nights @ counts)


def _shifts(shifted: list[np.ndarray], weight: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """Log odds (n, rows) to add so that the mean of chances by ``weight`` (n, boards) is ``chance``.

    ``shifted``: the chances (n, boards) with each of ``_SHIFTS`` added.
    """
    means = np.stack([np.einsum("nb,nb->n", chances, weight) for chances in shifted], axis=1)
    return np.stack([np.interp(chance[i], means[i], _SHIFTS) for i in range(len(chance))])
