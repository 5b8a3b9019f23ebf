"""The usual of the class: the chances, choices and entry boards that the ledger compares a bowler with.

The class is everybody in the models' mix of the season, with equal weight; its chances are those of a
bowler without effects of their own (``AVERAGE``) with the balls and lines the class throws.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from scipy.optimize import brentq
from scipy.special import expit

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.models.fits import Fits, Unfitted
from pipeline.models.fitted import Fitted, once
from pipeline.models.strikes.strike_worth import NO_BALL_CLASS, NO_LINE
from pipeline.pricing.ledger.entry_nights import BetweenNights, between_nights
from pipeline.pricing.rate_draws import RateDraws, rate_draws
from pipeline.sport.state_values import Chances

OWN, CLASS = "own usual", "class"
REFERENCES = (CLASS, OWN)
"""Against whom a ledger is kept: the class's average bowler, or the bowler's own usual."""

DRAWS = 400
"""Posterior draws, at most, behind the ledger and its intervals."""
_ON_ALL_LANES = 0.05
_ROWS_AT_ONCE = 3_000  # of a mix, whose draws are held together
_CHOICE = ["pattern_class", "phase", "ball_class", "line"]


@dataclass(frozen=True)
class ClassUsual:
    """The class over the season.

    Attributes:
        chances: of the average bowler at the class's mix, draws (n,) each.
        choices: columns pattern_class, phase, ball_class, line and weight, which sums to one.
        boards: columns bowler, ball, pattern, entry_half, night and shots of everybody; empty if none was logged.
        bowlers: those who make up the class.
        between_nights: variance between a ball's nights by entry board; None without boards.
        strikes: pattern and game -> draws of the strike at its choices there, which ``stages.py`` holds here.
    """

    chances: Chances
    choices: pd.DataFrame
    boards: pd.DataFrame
    bowlers: frozenset[str]
    between_nights: BetweenNights | None = None
    strikes: dict[tuple[str | None, int], np.ndarray] = field(default_factory=dict, repr=False, compare=False)
    _met: dict[tuple[str, str], pd.DataFrame] = field(default_factory=dict, repr=False, compare=False)

    def class_boards(self) -> pd.DataFrame:
        """The rows of ``boards`` that are the class's."""
        return self.boards[self.boards["bowler"].isin(self.bowlers)]

    def on(self, pattern_class: str, phase: str) -> pd.DataFrame:
        """Choices on one kind of lane: ball_class, line and weight, shrunk a little toward those on all lanes.

        The rows are the same on every kind.
        """
        if (pattern_class, phase) not in self._met:
            self._met[pattern_class, phase] = self._on(pattern_class, phase)
        return self._met[pattern_class, phase]

    def _on(self, pattern_class: str, phase: str) -> pd.DataFrame:
        here = (self.choices["pattern_class"] == pattern_class) & (self.choices["phase"] == phase)
        whole = self.choices["weight"]
        weight = _ON_ALL_LANES * whole + (here * whole / whole[here].sum() if here.any() else whole)
        total = self.choices.assign(weight=weight / weight.sum())
        return total.groupby(["ball_class", "line"], as_index=False)[["weight"]].sum()


@once(of=Fitted.everybody)
def class_usual(fitted: Fitted) -> ClassUsual:
    """The usual of the class, whoever is reported: everybody's mix, or in a large season that of some bowlers."""
    fits = with_fewer_draws(fitted.fits)
    whose = fits.class_mix or fits.mix
    mix = whose.cells
    line = mix["line"].astype(object).where(mix["line"].notna(), NO_LINE)
    kind = mix["ball_class"].astype(object).where(mix["ball_class"].notna(), NO_BALL_CLASS)
    rows = mix.drop(columns="pair_load").assign(line=line, ball_class=kind, bowler=AVERAGE)
    weight = mix["weight"].to_numpy(dtype=float)
    weight = weight / weight.sum()
    choices = rows.assign(weight=weight).groupby(_CHOICE, as_index=False)[["weight"]].sum()
    boards, bowlers = fitted.season.frame("ledger/ledger_boards"), frozenset(whose.shots)
    chances = _mixed_of(fits, rows, weight)
    between = _between_nights(fits, boards[boards["bowler"].isin(bowlers)], float(chances.strike.mean()))
    return ClassUsual(chances, choices, boards, bowlers, between)


def _mixed_of(fits: Fits, rows: pd.DataFrame, weight: np.ndarray) -> Chances:
    """The mix of all rows, some at a time: together those of a large season's class would not fit in memory."""
    some = [slice(start, start + _ROWS_AT_ONCE) for start in range(0, len(rows), _ROWS_AT_ONCE)]
    shares = [float(weight[at].sum()) for at in some]
    parts = [
        mixed(rate_draws(fits, rows.iloc[at], "followed"), weight[at] / share)
        for at, share in zip(some, shares, strict=True)
    ]
    missed = [share * (1 - part.strike) for share, part in zip(shares, parts, strict=True)]
    strike = np.sum([share * part.strike for share, part in zip(shares, parts, strict=True)], axis=0)
    rest = [
        np.sum([none * getattr(part, name) for none, part in zip(missed, parts, strict=True)], axis=0) / sum(missed)
        for name in ("spare", "first_pins", "second_pins")
    ]
    return Chances(strike, *rest)


def _between_nights(fits: Fits, boards: pd.DataFrame, strike: float) -> BetweenNights | None:
    """Variance between nights by entry board, from the class's boards and its mean chance of a strike."""
    if boards.empty or isinstance(fits.entry, Unfitted):
        return None
    half = np.array(sorted(set(boards["entry_half"])), dtype=float)
    effect = fits.entry.board_draws(half, AVERAGE, fits.n_draws, fits.generator("entry")).mean(axis=0)
    column = np.searchsorted(half, boards["entry_half"].to_numpy(dtype=float))
    shots = np.bincount(column, boards["shots"], len(half))
    shift = brentq(lambda by: float(shots @ (expit(effect + by) - strike)), -20.0, 20.0)
    return between_nights(boards.assign(chance=expit(effect + shift)[column]))


def with_fewer_draws(fits: Fits) -> Fits:
    """The same fits with the number of draws that the ledger uses, and nothing kept yet."""
    return replace(fits, n_draws=min(fits.n_draws, DRAWS), cache={})


def mixed(rates: RateDraws, weight: np.ndarray) -> Chances:
    """Chances (n,) of a mix of levels (n, rows) with these weights (rows,), which sum to one.

    Rates after a first ball without a strike are weighted by how often there is none, so the worth of a mix is the mix
    of worths.
    """
    none = 1 - rates.strike
    missed = none @ weight
    rest = [(none * values) @ weight / missed for values in (rates.spare, rates.first_pins, second_pins(rates))]
    return Chances(rates.strike @ weight, *rest)


def means(chances: Chances) -> Chances:
    """Posterior means of draws of chances."""
    return Chances(*(np.asarray(values.mean()) for values in vars(chances).values()))


def second_pins(rates: RateDraws) -> np.ndarray:
    """Mean pins of the second ball after one that does not strike, in the level's shape."""
    pins: np.ndarray = 10 * rates.spare + rates.open_pins - rates.first_pins
    return pins
