"""Carry: the probability of a strike on a first delivery, as mixed logistic models over counts.

Two models. The *worth model* answers what a ball on a line is worth in all: it does not look at the entry board, for
ball and line act through it. The *entry model* answers how the strike depends on where the ball enters.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.models.season import Season


@dataclass
class WorthFit:
    """The fitted worth model.

    ``notes``: plain sentences on what was missing and how it was met. ``shots``: first deliveries used.
    ``ball_classes``: ball id -> ball class. ``games``: highest game logged.
    """

    notes: list[str] = field(default_factory=list)
    shots: int = 0
    ball_classes: dict[str, str] = field(default_factory=dict)
    games: int = 0

    def strike_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator) -> np.ndarray:
        """Posterior draws of the strike probability, shape (n, len(grid)), in a block of average luck.

        ``grid`` needs bowler, pattern_class, game, ball, line; it may have ball_class (for a ball never thrown),
        length_ft, volume_ml, ratio (default: mean of the pattern class), pair_load (default: usual at that game).
        The draws behind two calls with the same ``n`` are the same, so differences between calls are coherent;
        ``rng`` is used by the first of them. Levels never logged are drawn from their population.
        """
        raise NotImplementedError


@dataclass
class EntryFit:
    """The fitted entry model: strike by entry board, given ball class, pattern class and game.

    ``notes`` and ``shots`` as in WorthFit; ``logged``: share of first deliveries with an entry board;
    ``boards``: lowest and highest half board logged.
    """

    notes: list[str] = field(default_factory=list)
    shots: int = 0
    logged: float = 0.0
    boards: tuple[float, float] = (0.0, 40.0)

    def entry_draws(self, boards: np.ndarray, bowler: str | None, n: int, rng: np.random.Generator) -> np.ndarray:
        """Posterior draws of the strike probability by entry board, shape (n, len(boards)).

        ``bowler`` None stands for everyone. Ball and pattern classes are mixed as that bowler (or everyone) threw them.
        """
        raise NotImplementedError

    def entry_curve(self, bowler: str | None, n: int, rng: np.random.Generator) -> pd.DataFrame:
        """Strike by half board over the boards logged: entry_board, shots, strikes and one column ``draws``.

        ``draws`` holds an array of n draws a row; empty frame where no entry board was logged.
        """
        raise NotImplementedError

    def pocket_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator) -> np.ndarray:
        """Posterior draws of P(strike | pocket) for rows with bowler, pattern_class, game, ball; (n, len(grid))."""
        raise NotImplementedError


def fit_worth(season: Season) -> WorthFit:
    """Fit the worth model to every first delivery of the season."""
    raise NotImplementedError


def fit_entry(season: Season) -> EntryFit:
    """Fit the entry model to every first delivery; those without an entry board keep a level of their own."""
    raise NotImplementedError
