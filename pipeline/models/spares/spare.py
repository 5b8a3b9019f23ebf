"""Conversion: the probability of a spare by bowler and leave, and what stays up when it is missed.

Rare leaves borrow from their type and from the bowler's ability at leaves of that kind; see ``spare_pooling``. In a log
of several stretches of nights the ability moves between them by as much as is learned over all bowlers, and rates are
those of one stretch, the last unless another is asked for: earlier ones count as far as the moves allow.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.special import expit, logit

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.inference.normal_pooling import pool_normal
from pipeline.models.notes import Note
from pipeline.models.spares import spare_pooling as sp
from pipeline.models.strikes.stretches import STRETCH, stretches
from pipeline.models.subsample import Subsample, training_cells
from pipeline.sport.leaves import LEAVE_TYPES, leave_type, parse_leave, pins
from pipeline.store.season import Season

_TYPES = LEAVE_TYPES[1:]
_HYPER_DRAWS = 24  # settings of the sds and phi over which the posterior is averaged
_HYPER_BOWLERS = 300  # more bowlers than this add nothing about a few sds
_UPPER_QUARTILE = 0.6745  # of the standard normal distribution
_SINGLES = ("corner pin", "other single pin")


@dataclass(frozen=True)
class _Drawn:
    """One set of ``n`` coherent draws."""

    common: np.ndarray  # (n, types + leaves)
    ability: np.ndarray  # (n, bowlers + 1, 2) in the stretch predicted; the last is a bowler never logged
    hyper: np.ndarray  # (n, 4), or 5 with moves
    seed: int


@dataclass(frozen=True)
class ConversionFit:
    """The fitted conversion model.

    Attributes:
        leaves: columns leave, leave_type, attempts, made, pins_left_on_miss; one row per leave attempted.
        priors: columns leave_type, alpha, beta: the Beta distribution from which a bowler of average ability draws
            the rate on an average leave of the type.
        bowler_leaves: columns bowler, leave, leave_type, attempts, made; one row per pair logged.
        notes: what was missing.
        stretches: the stretches of nights in order; one empty name if the log is of one.
        now: the stretch that is predicted.
    """

    leaves: pd.DataFrame
    priors: pd.DataFrame
    bowler_leaves: pd.DataFrame
    notes: tuple[Note, ...]
    _bowlers: dict[str, int]
    _posteriors: list[sp.Posterior]
    _hypers: np.ndarray
    _counts: np.ndarray  # (stretches, bowlers + 1, leaves, 2): attempts and made
    _miss_fraction: dict[str, float]  # type -> share of the leave's pins left by a miss
    stretches: tuple[str, ...] = ("",)
    now: str = ""
    _drawn: dict[int, _Drawn] = field(default_factory=dict, repr=False, compare=False)

    def subset(self, subsample: Subsample) -> ConversionFit:
        """The same fit with the abilities and counts of the subsample; any other bowler is then one never logged."""
        names = [bowler for bowler in self._bowlers if bowler in subsample.bowlers]
        codes = np.array([self._bowlers[name] for name in names], dtype=np.int64)
        mine = self.bowler_leaves["bowler"].isin(subsample.bowlers)
        return replace(
            self,
            bowler_leaves=self.bowler_leaves[mine].reset_index(drop=True),
            _bowlers={name: code for code, name in enumerate(names)},
            _posteriors=[posterior.subset(codes) for posterior in self._posteriors],
            _counts=self._counts[:, [*codes, -1]],
            _drawn={},
        )

    def at(self, stretch: str) -> ConversionFit:
        """The same fit, predicting for another stretch of nights; unchanged if there is no such stretch."""
        if stretch == self.now or stretch not in self.stretches:
            return self
        return replace(self, now=stretch, _drawn={})

    @property
    def _counts_now(self) -> np.ndarray:
        """(bowlers + 1, leaves, 2): what was logged in the stretch predicted; the abilities hold the others."""
        return np.asarray(self._counts[self.stretches.index(self.now)])

    def prepare(self, n: int, rng: np.random.Generator) -> None:
        """Make the draws of this ``n`` now, as the first call that asks for them would."""
        self._parameters(n, rng)

    def _parameters(self, n: int, rng: np.random.Generator) -> _Drawn:
        if n not in self._drawn:
            seed = int(rng.integers(2**32))
            each = [self._posteriors[i].draw(len(range(i, n, _HYPER_DRAWS)), rng) for i in range(_HYPER_DRAWS)]
            common, at = np.empty((n, each[0][0].shape[1])), 2 * self.stretches.index(self.now)
            ability = np.empty((n, len(self._bowlers) + 1, 2))
            for i, (common_part, ability_part) in enumerate(each):
                common[i::_HYPER_DRAWS], ability[i::_HYPER_DRAWS, :-1] = common_part, ability_part[..., at : at + 2]
            hyper = self._hypers[np.arange(n) % _HYPER_DRAWS]
            pair = np.linalg.cholesky([[1, sp.KIND_CORRELATION], [sp.KIND_CORRELATION, 1]])
            ability[:, -1] = sp.ability_sd(hyper)[:, None] * (rng.standard_normal((n, 2)) @ pair.T)
            self._drawn[n] = _Drawn(common, ability, hyper, seed)
        return self._drawn[n]

    def bowler_draws(self, bowler: str, leaves: list[str], n: int, rng: np.random.Generator) -> np.ndarray:
        """Posterior draws (n, leaves) of one bowler's spare rate on each leave, logged or not.

        ``AVERAGE`` is a bowler of average ability, at the mean rate of such bowlers on each leave.
        ``rng`` is used at the first call with this ``n``; later calls give the same draws, whatever the leaves.
        """
        drawn = self._parameters(n, rng)
        code = self._bowlers.get(bowler, len(self._bowlers))
        known = self.leaves["leave"].tolist()
        bowler_rng = np.random.default_rng([drawn.seed, zlib.crc32(bowler.encode())])
        kinds = _kind(self.leaves["leave_type"])
        types = _type_codes(self.leaves["leave_type"])
        eta = drawn.common[:, types] + drawn.common[:, len(_TYPES) :]
        if bowler == AVERAGE:
            rates = expit(eta)
        else:
            rates = _rates(eta + drawn.ability[:, code][:, kinds], drawn.hyper, self._counts_now[code], bowler_rng)
        place = {leave: row for row, leave in enumerate(known)}
        columns = [rates[:, place[x]] if x in place else self._new_leave(x, bowler, code, drawn) for x in leaves]
        return np.column_stack(columns) if columns else np.empty((n, 0))

    def upper_quartile_draws(self, leaves: list[str], n: int, rng: np.random.Generator) -> np.ndarray:
        """Draws (n, leaves) of the rate of a bowler at the upper quartile of ability."""
        average = self.bowler_draws(AVERAGE, leaves, n, rng)
        ability = sp.ability_sd(self._parameters(n, rng).hyper)[:, None]
        return np.asarray(expit(logit(average) + _UPPER_QUARTILE * ability))

    def _new_leave(self, leave: str, bowler: str, code: int, drawn: _Drawn) -> np.ndarray:
        """Draws for a leave nobody attempted: a fresh leave of its type."""
        n = len(drawn.hyper)
        kind_name = leave_type(parse_leave(leave))
        kind = int(_kind(pd.Series([kind_name]))[0])
        shared = np.random.default_rng([drawn.seed, zlib.crc32(leave.encode())]).standard_normal(n)
        leave_rng = np.random.default_rng([drawn.seed, zlib.crc32(f"{bowler}|{leave}".encode())])
        eta = drawn.common[:, _TYPES.index(kind_name)] + np.exp(drawn.hyper[:, kind]) * shared
        if bowler == AVERAGE:
            return np.asarray(expit(eta))
        eta = eta + drawn.ability[:, code, kind]
        return _rates(eta[:, None], drawn.hyper, np.zeros((1, 2)), leave_rng)[:, 0]

    @cached_property
    def _left_on_miss(self) -> dict[str, float]:
        return dict(zip(self.leaves["leave"], self.leaves["pins_left_on_miss"].astype(float), strict=True))

    def pins_left_on_miss(self, leave: str) -> float:
        """Mean number of pins still standing after a missed attempt at ``leave``; 1 for a single pin."""
        if leave in self._left_on_miss:
            return self._left_on_miss[leave]
        standing = parse_leave(leave)
        return max(1.0, len(pins(standing)) * self._miss_fraction[leave_type(standing)])


def _rates(eta: np.ndarray, hyper: np.ndarray, counts: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Beta draws of the rates (n, leaves) given their means and what was logged (leaves, 2)."""
    phi, mean = np.exp(hyper[:, 3:4]), np.clip(expit(eta), 1e-9, 1 - 1e-9)
    attempts, made = counts[:, 0], counts[:, 1]
    return rng.beta(phi * mean + made, phi * (1 - mean) + attempts - made)


def _kind(types: pd.Series) -> np.ndarray:
    """0 for single pins, 1 for several."""
    kinds: np.ndarray = (~types.isin(_SINGLES)).to_numpy(int)
    return kinds


def _type_codes(types: pd.Series) -> np.ndarray:
    return types.map({name: code for code, name in enumerate(_TYPES)}).to_numpy(int)


def fit_conversion(season: Season, subsample: Subsample | None = None) -> ConversionFit:
    """Fit the conversion model to every spare attempt of the season; with a subsample, of its training bowlers."""
    cells = training_cells(season, "cells/spare_cells", subsample)
    if len(set(stretches(season).values())) < 2:
        cells = cells.drop(columns=STRETCH)
    fit = fit_conversion_cells(cells)
    return fit if subsample is None else fit.subset(subsample)


def fit_conversion_cells(cells: pd.DataFrame, seed: int = 0) -> ConversionFit:
    """Fit the model to cells with bowler, leave, leave_type, attempts, made and pins_left (summed).

    Args:
        cells: one row for each bowler and leave attempted, and for each stretch of nights if there is a column stretch;
            may be empty, which leaves the priors.
        seed: of the draws of sds and phi over which the posterior is averaged.
    """
    leaves = cells.groupby(["leave_type", "leave"], as_index=False)[["attempts", "made", "pins_left"]].sum()
    bowlers = {str(name): code for code, name in enumerate(sorted(cells["bowler"].unique()))}
    stretch = cells["stretch"].astype(str) if "stretch" in cells else pd.Series("", index=cells.index)
    names = tuple(sorted(stretch.unique())) or ("",)
    coded = _coded(cells, leaves, bowlers, stretch.map({name: code for code, name in enumerate(names)}), len(names))
    rng = np.random.default_rng(seed)
    hypers = _draw_hypers(coded, rng)
    counts = np.zeros((len(names), len(bowlers) + 1, len(leaves), 2))
    counts[coded.stretch, coded.bowler, coded.leave] = np.column_stack([coded.attempts, coded.made])
    posteriors = sp.posteriors(coded, hypers)
    fractions = _miss_fractions(leaves)
    standing = leaves["leave"].map(lambda leave: len(pins(parse_leave(leave)))).to_numpy(float)
    leaves["pins_left_on_miss"] = np.maximum(1.0, standing * fractions["leave"])
    return ConversionFit(
        leaves=leaves.drop(columns="pins_left"),
        priors=_priors(posteriors, hypers),
        bowler_leaves=_over_stretches(cells),
        notes=() if len(cells) else (Note("no_spare_attempt"),),
        _bowlers=bowlers,
        _posteriors=posteriors,
        _hypers=hypers,
        _counts=counts,
        _miss_fraction=dict(zip(_TYPES, fractions["type"], strict=True)),
        stretches=names,
        now=names[-1],
    )


def _coded(
    cells: pd.DataFrame, leaves: pd.DataFrame, bowlers: dict[str, int], stretch: pd.Series, n_stretches: int
) -> sp.SpareCells:
    """The cells with bowlers, leaves and stretches as codes."""
    place = {leave: row for row, leave in enumerate(leaves["leave"])}
    return sp.SpareCells(
        bowler=cells["bowler"].map(bowlers).to_numpy(int),
        leave=cells["leave"].map(place).to_numpy(int),
        stretch=stretch.to_numpy(int),
        made=cells["made"].to_numpy(float),
        attempts=cells["attempts"].to_numpy(float),
        leave_type=_type_codes(leaves["leave_type"]),
        kind=_kind(leaves["leave_type"]),
        n_bowlers=len(bowlers),
        n_types=len(_TYPES),
        n_stretches=n_stretches,
    )


def _over_stretches(cells: pd.DataFrame) -> pd.DataFrame:
    """Columns bowler, leave, leave_type, attempts, made; one row for each pair logged."""
    pair = ["bowler", "leave", "leave_type"]
    if "stretch" in cells:
        return cells.groupby(pair, as_index=False)[["attempts", "made"]].sum()
    return cells[[*pair, "attempts", "made"]].reset_index(drop=True)


def _draw_hypers(cells: sp.SpareCells, rng: np.random.Generator) -> np.ndarray:
    """Draws (_HYPER_DRAWS, 4 or 5) of the log sds and log phi, within four widths of their priors."""
    expected, loose = sp.hyper_prior(cells.n_stretches)
    if not len(cells.made):
        centre, covariance = expected, np.diag(loose**2)
    else:
        some = rng.permutation(cells.n_bowlers)[:_HYPER_BOWLERS]
        centre, covariance = sp.fit_hyper(cells.of_bowlers(np.sort(some)))
    draws = rng.multivariate_normal(centre, covariance, size=_HYPER_DRAWS)
    return np.clip(draws, expected - 4 * loose, expected + 4 * loose)


def _priors(posteriors: list[sp.Posterior], hypers: np.ndarray) -> pd.DataFrame:
    """Alpha and beta of each type at the posterior mean of its logit rate and of log phi."""
    mean = expit(np.mean([p.common[: len(_TYPES)] for p in posteriors], axis=0))
    phi = float(np.exp(hypers[:, 3].mean()))
    return pd.DataFrame({"leave_type": _TYPES, "alpha": phi * mean, "beta": phi * (1 - mean)})


def _miss_fractions(leaves: pd.DataFrame) -> dict[str, np.ndarray]:
    """Share of a leave's pins that a miss leaves, pooled within its type; and each type's mean.

    The variance of a leave's share over m misses is taken as 0.25 / (m + 1), the most that a share can have.
    """
    misses = (leaves["attempts"] - leaves["made"]).to_numpy(float)
    standing = leaves["leave"].map(lambda leave: len(pins(parse_leave(leave)))).to_numpy(float)
    kinds = leaves["leave_type"].to_numpy()
    share = (leaves["pins_left"].to_numpy(float) / standing + 0.7) / (misses + 1)
    by_leave, by_type = np.ones(len(leaves)), np.ones(len(_TYPES))
    for code, kind in enumerate(_TYPES):
        rows = np.flatnonzero(kinds == kind)
        if kind in _SINGLES:
            continue
        if not len(rows):
            by_type[code] = 0.7
            continue
        pooled = pool_normal(share[rows], 0.25 / (misses[rows] + 1))
        by_leave[rows], by_type[code] = np.clip(pooled.value, 0.0, 1.0), min(max(pooled.mean, 0.0), 1.0)
    return {"leave": by_leave, "type": by_type}
