"""Leave: which pins stand after a first delivery that was no strike.

Two steps. The *type* of leave follows a multinomial logit on ball group, pattern class and phase, with an intercept of
each bowler's own, partially pooled. The *leave within its type* follows the bowler's own shares, drawn toward
everyone's by a Dirichlet prior whose strength is estimated; everyone's have the uncertainty that the shots leave.
Leaves are mirrored to a right-hander's view already. The mix is that of a bowler's last stretch of nights; earlier ones
count with the weight of ``leave_moves.py``.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from scipy.special import gammaln

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.inference.multinomial import MultinomialFit, category_shares, fit_multinomial
from pipeline.models.notes import Note
from pipeline.models.spares.leave_moves import weighed
from pipeline.models.subsample import Subsample, training_cells
from pipeline.store.season import Season

RARE_BELOW = 30  # shots of a type; with fewer its coefficients would be little but prior
_INTERCEPT_SD, _LEVEL_SD = 5.0, 0.5  # prior sd on the log-odds scale: weak; one sd doubles the odds
_UNSEEN = 0.5  # shots added to every leave, as Jeffreys' prior has it
_PREDICTORS = ("ball_group", "pattern_class", "phase")


def ball_group(ball_class: str | None) -> str:
    """The first word of a ball class - polyester, urethane, symmetric, asymmetric - or 'unknown'."""
    return ball_class.split()[0] if isinstance(ball_class, str) and ball_class else "unknown"


def dirichlet_strength(counts: np.ndarray, base: np.ndarray) -> float:
    """Strength c of the prior Dirichlet(c * base) behind the rows of ``counts`` (groups, categories), by ML.

    The Dirichlet-multinomial likelihood is maximised over c from 1 to 2,000; without two groups c is 2,000.
    """
    rows = counts[counts.sum(axis=1) > 0]
    if len(rows) < 2 or counts.shape[1] < 2:
        return 2000.0
    totals = rows.sum(axis=1)

    def loss(log_c: float) -> float:
        c = np.exp(log_c)
        each = (gammaln(rows + c * base) - gammaln(c * base)).sum(axis=1)
        return -float((each + gammaln(c) - gammaln(totals + c)).sum())

    from scipy.optimize import minimize_scalar  # slow to import

    return float(np.exp(minimize_scalar(loss, bounds=(0.0, np.log(2000.0))).x))


@dataclass(frozen=True)
class LeaveFit:
    """The fitted leave model.

    Attributes:
        types: leave types logged, in the order of the last axis of ``type_draws``.
        leaves: columns leave, leave_type, shots; one row for each leave logged, rows of a type together.
        notes: what was merged.
        shots: first deliveries that were no strike.
        strength: leave type -> strength of the Dirichlet prior on its leaves.
    """

    types: tuple[str, ...]
    leaves: pd.DataFrame
    notes: tuple[Note, ...]
    shots: int
    strength: dict[str, float]
    _columns: tuple[tuple[str, str], ...]
    _bowlers: dict[str, int]
    _fit: MultinomialFit | None
    _category: np.ndarray  # type -> category of the multinomial
    _within: np.ndarray  # type -> share of its category
    _counts: np.ndarray  # (bowlers, leaves) counts
    _everyones: np.ndarray  # (leaves,) effective counts behind everyone's shares
    _drawn: dict[int, tuple[np.ndarray, np.ndarray, int]] = field(default_factory=dict, repr=False, compare=False)

    def subset(self, subsample: Subsample) -> LeaveFit:
        """The same fit with the effects and counts of the subsample; any other bowler is then one never logged."""
        names = [bowler for bowler in self._bowlers if bowler in subsample.bowlers]
        codes = np.array([self._bowlers[name] for name in names], dtype=np.int64)
        return replace(
            self,
            _bowlers={name: code for code, name in enumerate(names)},
            _fit=None if self._fit is None else self._fit.subset(codes),
            _counts=self._counts[codes],
            _drawn={},
        )

    def prepare(self, n: int, rng: np.random.Generator) -> None:
        """Make the draws of this ``n`` now, as the first call that asks for them would."""
        self._parameters(n, rng)

    def _parameters(self, n: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, int]:
        """Draws of fixed (K, n, F) and bowler effects (K, n, G + 1), the last a bowler never logged; a seed for leaves.

        The category comes first, so that a sum over the few of them runs along whole arrays.
        """
        if n not in self._drawn:
            seed = int(rng.integers(2**32))
            if self._fit is None:
                self._drawn[n] = np.zeros((0, n, 1)), np.zeros((0, n, len(self._bowlers) + 1)), seed
                return self._drawn[n]
            beta, effects = self._fit.draw(n, rng)
            # Contrasts of K + 1 independent effects: variance sd^2 on each, shared through the base.
            fresh = rng.standard_normal((n, beta.shape[2] + 1)) * self._fit.sd
            with_unknown = np.concatenate([effects, (fresh[:, 1:] - fresh[:, :1])[:, None]], axis=1)
            category_first = [np.ascontiguousarray(np.moveaxis(draws, 2, 0)) for draws in (beta, with_unknown)]
            self._drawn[n] = category_first[0], category_first[1], seed
        return self._drawn[n]

    def type_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator) -> np.ndarray:
        """Posterior draws (n, rows, types) of the type of leave given no strike; each sums to 1 over the types.

        Their means are the fitted shares: log odds drawn evenly about theirs alone would make rare types more frequent
        than they were. ``grid`` has bowler, ball_class, pattern_class and phase; a level never logged has no effect, a
        bowler never logged one drawn from the population, and ``AVERAGE`` none. ``rng`` is used at the first call with
        this ``n``; later calls give the same draws.
        """
        beta, effects, _ = self._parameters(n, rng)
        codes = grid["bowler"].map(self._bowlers).fillna(-1).astype(int).to_numpy()
        design, average = _design(_predictors(grid), self._columns), (grid["bowler"] == AVERAGE).to_numpy()
        eta = beta @ design.T
        eta += np.where(average, 0.0, effects[:, :, codes])
        drawn = category_shares(eta)
        if self._fit is not None:
            own = np.concatenate([self._fit.effects, np.zeros((1, len(drawn) - 1))])  # the last never logged
            fitted = category_shares((design @ self._fit.beta + np.where(average[:, None], 0.0, own[codes])).T)
            drawn *= (fitted / drawn.mean(axis=1))[:, None]
            drawn /= drawn.sum(axis=0)
        shares: np.ndarray = drawn[self._category]
        shares *= self._within[:, None, None]
        return np.moveaxis(shares, 0, 2)

    def leave_draws(self, bowler: str, n: int, rng: np.random.Generator) -> np.ndarray:
        """Posterior draws (n, leaves) of the share of each leave within its type, for one bowler.

        ``AVERAGE`` has everyone's shares, which the draws of all bowlers share.
        """
        seed = self._parameters(n, rng)[2]
        everyones = np.random.default_rng([seed, zlib.crc32(b"leaves of everyone")])
        mine = np.random.default_rng([seed, zlib.crc32(f"leave:{bowler}".encode())])
        counts = self._counts[self._bowlers[bowler]] if bowler in self._bowlers else np.zeros(len(self.leaves))
        kinds, draws = self.leaves["leave_type"].to_numpy(), np.empty((n, len(self.leaves)))
        for kind in self.types:
            rows = np.flatnonzero(kinds == kind)
            base = _dirichlet(everyones, np.tile(self._everyones[rows] + _UNSEEN, (n, 1)))
            drawn = bowler == AVERAGE
            draws[:, rows] = base if drawn else _dirichlet(mine, self.strength[kind] * base + counts[rows])
        return draws


def _base(shots: np.ndarray) -> np.ndarray:
    shares: np.ndarray = (shots + _UNSEEN) / (shots + _UNSEEN).sum()
    return shares


def _dirichlet(rng: np.random.Generator, alpha: np.ndarray) -> np.ndarray:
    """One draw of shares from each row of ``alpha`` (n, categories)."""
    gammas = np.maximum(rng.standard_gamma(alpha), np.finfo(float).tiny)
    shares: np.ndarray = gammas / gammas.sum(axis=1, keepdims=True)
    return shares


def _counts_of_everyone(by_bowler: np.ndarray, strength: float) -> np.ndarray:
    """Effective counts (leaves,) behind everyone's shares of one type, from those of each bowler (bowlers, leaves).

    The more bowlers differ, the less one bowler's shots say about everyone: n shots of a Dirichlet-multinomial of
    strength c vary as n (1 + c) / (n + c) independent ones do (its variance; Mosimann, Biometrika 49, 1962, from
    memory).
    """
    shots = by_bowler.sum(axis=1, keepdims=True)
    counts: np.ndarray = (by_bowler * (1 + strength) / (shots + strength)).sum(axis=0)
    return counts


def _predictors(rows: pd.DataFrame) -> pd.DataFrame:
    """The predictors as text; what was not logged is a separate level."""
    return pd.DataFrame(
        {
            "ball_group": [ball_group(value) for value in rows["ball_class"]],
            "pattern_class": rows["pattern_class"].astype(object).fillna("unposted").to_numpy(),
            "phase": rows["phase"].astype(object).fillna("unknown").to_numpy(),
        }
    )


def _design(predictors: pd.DataFrame, columns: tuple[tuple[str, str], ...]) -> np.ndarray:
    """Intercept and one indicator per level; a level not among ``columns`` is all zeros."""
    values = {name: predictors[name].to_numpy(str) for name in _PREDICTORS}
    ones = np.ones(len(predictors))
    return np.column_stack([ones, *[(values[name] == level).astype(float) for name, level in columns]])


def _merge_rare(shots: pd.Series) -> tuple[np.ndarray, np.ndarray, tuple[Note, ...]]:
    """Category of each type, its share of that category, and a note on the types merged."""
    rare = (shots < RARE_BELOW).to_numpy()
    category = np.where(rare, 0, np.cumsum(~rare) - (0 if rare.any() else 1))
    within = np.ones(len(shots))
    within[rare] = _base(shots[rare].to_numpy(float)) if rare.any() else []
    if rare.sum() < 2:
        return category, within, ()
    listed = tuple(f"{kind} ({count})" for kind, count in shots[rare].items())
    return category, within, (Note("rare_leaves_merged", count=RARE_BELOW, names=listed),)


def fit_leave(season: Season, subsample: Subsample | None = None) -> LeaveFit:
    """Fit the leave model to every first delivery that was no strike; with a subsample, of its training bowlers."""
    fit = fit_leave_cells(training_cells(season, "cells/leave_cells", subsample))
    return fit if subsample is None else fit.subset(subsample)


def fit_leave_cells(cells: pd.DataFrame) -> LeaveFit:
    """Fit the leave model to cells with bowler, pattern_class, ball_class, phase, leave, leave_type and shots.

    A column stretch names the stretch of nights.
    """
    cells = weighed(cells)
    leaves = cells.groupby(["leave_type", "leave"], as_index=False)[["shots"]].sum()
    if leaves.empty:
        leaves = pd.DataFrame({"leave_type": ["corner pin"], "leave": ["10"], "shots": [0]})
    by_type = leaves.groupby("leave_type")["shots"].sum().sort_values(ascending=False)
    category, within, notes = _merge_rare(by_type)
    types = tuple(by_type.index)
    bowlers = {name: code for code, name in enumerate(sorted(cells["bowler"].unique()))}
    counts = np.zeros((len(bowlers), len(leaves)))
    place = {leave: row for row, leave in enumerate(leaves["leave"])}
    np.add.at(
        counts, (cells["bowler"].map(bowlers).to_numpy(int), cells["leave"].map(place).to_numpy(int)), cells["shots"]
    )
    columns, fit = _fit_types(cells, bowlers, dict(zip(types, category, strict=True)))
    kinds = leaves["leave_type"].to_numpy()
    strength = {
        kind: dirichlet_strength(counts[:, kinds == kind], _base(leaves["shots"].to_numpy(float)[kinds == kind]))
        for kind in types
    }
    everyones = np.zeros(len(leaves))
    for kind in types:
        everyones[kinds == kind] = _counts_of_everyone(counts[:, kinds == kind], strength[kind])
    return LeaveFit(
        types=types,
        leaves=leaves,
        notes=notes,
        shots=int(leaves["shots"].sum()),
        strength=strength,
        _columns=columns,
        _bowlers=bowlers,
        _fit=fit,
        _category=category,
        _within=within,
        _counts=counts,
        _everyones=everyones,
    )


def _fit_types(
    cells: pd.DataFrame, bowlers: dict[str, int], category: dict[str, int]
) -> tuple[tuple[tuple[str, str], ...], MultinomialFit | None]:
    """Columns of the design and the multinomial logit over categories of types; None with one category."""
    if len(set(category.values())) < 2:
        return (), None
    rows = _predictors(cells).assign(
        bowler=cells["bowler"].map(bowlers).to_numpy(int),
        category=cells["leave_type"].map(category).to_numpy(int),
        shots=cells["shots"].to_numpy(),
    )
    table = rows.groupby(["bowler", *_PREDICTORS, "category"])["shots"].sum().unstack(fill_value=0)
    seen = table.index.to_frame(index=False)
    levels = {name: sorted(seen[name].unique()) for name in _PREDICTORS}
    columns = tuple((name, level) for name in _PREDICTORS for level in levels[name] if len(levels[name]) > 1)
    ridge = np.array([_INTERCEPT_SD**-2] + [_LEVEL_SD**-2] * len(columns))
    fit = fit_multinomial(
        _design(seen, columns), table.to_numpy(float), seen["bowler"].to_numpy(int), len(bowlers), ridge
    )
    return columns, fit
