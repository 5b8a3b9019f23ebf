"""A mixed logistic model whose effects are kept by name, so that any frame of names can be predicted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codings, levels_of, named_codes, place_in
from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.design import Design
from pipeline.inference.mixed_logit.effect_draws import EffectDraws, noise_of, summed
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.inference.mixed_logit.mixed_fit import MixedFit, PosteriorDraws

AVERAGE = "(average)"
"""Name of a level without an effect of its own: the middle of its population, not one drawn from it."""
_DRAW_SETS_KEPT = 3
_MANY_CELLS = 12_000
_MOST_DENSE = 20_000_000  # numbers in a dense design; beyond that it stays sparse


@dataclass(frozen=True)
class Group:
    """Random effects by the joined values of ``columns``, times the numeric column ``slope`` if given.

    ``usual_only``: predictions are for a level of no effect (an average block) instead of a known or a new one.
    ``where_named``: a row that leaves one of the columns empty, or a frame without it, has no effect of this group.
    ``sd_scale``: scale, in logits, of the half-t prior on the sd of the effects.
    """

    columns: tuple[str, ...]
    slope: str | None = None
    usual_only: bool = False
    where_named: bool = False
    sd_scale: float = 1.0

    @cached_property
    def name(self) -> str:
        """Name of the term."""
        return ":".join([*self.columns, *([self.slope] if self.slope else [])])

    def applies(self, frame: pd.DataFrame) -> NDArray[np.bool_]:
        """Whether each row has an effect of this group, shape (rows,)."""
        if not self.where_named:
            return np.ones(len(frame), dtype=bool)
        if not set(self.columns) <= set(frame.columns):
            return np.zeros(len(frame), dtype=bool)
        named = [frame[column].notna().to_numpy(dtype=bool) for column in self.columns]
        return np.logical_and.reduce(named)


@dataclass(frozen=True)
class Columns:
    """What the columns of a frame of cells are.

    Attributes:
        successes, trials: the counts of each cell.
        unit: column of the units, such as people, that cells belong to. With very many cells the sds are learned from
            the cells of some units alone.
        nested: columns whose levels belong to one unit each; a subset keeps the effects of its units and of these.
    """

    successes: str
    trials: str
    unit: str
    nested: tuple[str, ...] = ()


@dataclass
class MixedLogit:
    """A fitted model with named levels.

    ``dropped``: units whose own effects ``subset`` left out; they cannot be predicted.
    """

    design: Design
    groups: tuple[Group, ...]
    fit: MixedFit
    levels: dict[str, dict[str, int]]
    columns: Columns
    dropped: frozenset[str] = frozenset()
    _kept: dict[int, tuple[PosteriorDraws, int]] = field(default_factory=dict, repr=False)

    def draws(self, n: int, rng: np.random.Generator) -> tuple[PosteriorDraws, int]:
        """The posterior draws of this ``n`` and the base of the noise for unknown levels, made once and kept."""
        if n not in self._kept:
            while len(self._kept) >= _DRAW_SETS_KEPT:
                self._kept.pop(next(iter(self._kept)))
            base = int(rng.integers(2**32))
            self._kept[n] = (self.fit.draw(n, rng), base)
        return self._kept[n]

    def subset(self, rows: pd.DataFrame) -> MixedLogit:
        """The same model with the effects of the units of these cells, and of what is nested in units, alone.

        Effects of neither are few and all kept; those that no prediction reads are left out.
        """
        levels, codes, dropped = {}, {}, frozenset[str]()
        for group in self.groups:
            known = self.levels[group.name]
            if not {self.columns.unit, *self.columns.nested} & set(group.columns):
                names = set(known)
            elif group.usual_only:
                names = set()
            else:
                names = set(named_codes(rows[group.applies(rows)], group.columns)[1])
            codes[group.name] = np.array([k for name, k in known.items() if name in names], dtype=np.int64)
            levels[group.name] = {name: k for k, name in enumerate(name for name in known if name in names)}
            if group.columns == (self.columns.unit,):
                dropped = frozenset(known) - names
        return MixedLogit(self.design, self.groups, self.fit.subset(codes), levels, self.columns, dropped)

    def logit_draws(
        self,
        frame: pd.DataFrame,
        n: int,
        rng: np.random.Generator,
        codings: Codings | None = None,
        more: Sequence[EffectDraws] = (),
    ) -> Floats:
        """Draws of the linear predictor, shape (n, rows), with ``more`` effects added; ``codings`` of the frame."""
        if self.dropped and not self.dropped.isdisjoint(frame[self.columns.unit]):
            raise ValueError(f"a {self.columns.unit} is asked for whose effects the subset left out")
        posterior, base = self.draws(n, rng)
        codings = {} if codings is None else codings
        places = self.design.places(frame, codings)
        column, value, _ = self.design.entries(frame, places)
        effects = [EffectDraws(posterior.fixed.T, column, value)]
        for unknown in self.design.unknown(frame, places, codings):
            noise = noise_of(unknown.keys, n, base) * unknown.sd
            effects.append(
                EffectDraws(
                    noise * posterior.scale_multiplier if unknown.shared else noise, unknown.codes, unknown.times
                )
            )
        groups = [group for group in self.groups if not group.usual_only]
        effects += [self._effects(group, frame, n, rng, codings) for group in groups]
        return summed([*effects, *more], n, len(frame))

    def group_draws(self, group: Group, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats:
        """Draws (n, rows) of what one group adds to the linear predictor; a new level is drawn from its population."""
        return summed([self._effects(group, frame, n, rng, {})], n, len(frame))

    def level_draws(self, group: Group, names: Sequence[str], n: int, rng: np.random.Generator) -> Floats:
        """Draws (names, n) of the effects of a group's levels by name; new ones are drawn from their population."""
        posterior, base = self.draws(n, rng)
        known = np.array([self.levels[group.name].get(name, -1) for name in names], dtype=np.int64)
        old, new = np.flatnonzero(known >= 0), np.flatnonzero(known < 0)
        out = np.empty((len(names), n))
        out[old] = np.take(posterior.random[group.name], known[old], axis=1).T
        keys = [f"{group.name}={names[k]}" for k in new.tolist()]
        out[new] = noise_of(keys, n, base) * posterior.sd[group.name]
        return out

    def _effects(
        self, group: Group, frame: pd.DataFrame, n: int, rng: np.random.Generator, codings: Codings
    ) -> EffectDraws:
        if group.where_named and not set(group.columns) <= set(frame.columns):
            return EffectDraws(np.zeros((0, n)), np.full(len(frame), -1, dtype=np.int64))
        levels = levels_of(frame, group.columns, codings)
        has = ~levels.any_is(AVERAGE)  # or else known as such
        has |= np.array([name in self.levels[group.name] for name in levels.names], dtype=bool)
        if group.where_named:
            has &= ~levels.missing()
        places = np.where(has, np.cumsum(has) - 1, -1)
        names = [name for name, one in zip(levels.names, has.tolist(), strict=True) if one]
        slope = None if group.slope is None else frame[group.slope].to_numpy(dtype=float)
        return EffectDraws(self.level_draws(group, names, n, rng), places[levels.codes], slope)


@dataclass(frozen=True)
class ModelMatrices:
    """The matrices of a model, so that the cells they were read from can be freed before a fit that takes much memory.

    ``X`` (cells, columns) of the design, ``successes`` and ``trials`` (cells,); the rest as in ``fit_named``.
    """

    design: Design
    groups: tuple[Group, ...]
    levels: dict[str, dict[str, int]]
    columns: Columns
    X: Floats | sparse.csr_array
    terms: tuple[Term, ...]
    successes: Floats
    trials: Floats
    sds: tuple[float, ...] | None
    nodes: int

    def fit(self) -> MixedLogit:
        """Fit it; the prior's means are an offset, about which the effects are found."""
        means = self.design.prior_means()
        fit = fit_mixed_logit(
            self.X,
            self.terms,
            self.successes,
            self.trials,
            fixed_precision=self.design.precision(),
            sd_prior=[group.sd_scale for group in self.groups],
            shared=self.design.shared(),
            nodes=self.nodes,
            sds=self.sds,
            offset=self.X @ means if means.any() else None,
        )
        return MixedLogit(self.design, self.groups, fit.moved(means), self.levels, self.columns)


def fit_named(
    design: Design,
    groups: Sequence[Group],
    cells: pd.DataFrame,
    columns: Columns,
    *,
    like: MixedFit | None = None,
    nodes: int = 8,
) -> MixedLogit:
    """Fit ``cells`` (one row per cell of counts) with fixed effects ``design`` and random effects ``groups``.

    ``like`` holds the sds at those of an earlier fit, which saves most of the time; ``nodes`` as in
    ``fit_mixed_logit``. Beyond ``_MANY_CELLS`` cells the few sds are learned from the cells of some units, and every
    effect from all.
    """
    return build_matrices(design, groups, cells, columns, like=like, nodes=nodes).fit()


def build_matrices(
    design: Design,
    groups: Sequence[Group],
    cells: pd.DataFrame,
    columns: Columns,
    *,
    like: MixedFit | None = None,
    nodes: int = 8,
) -> ModelMatrices:
    """What ``fit_named`` fits, as matrices."""
    design.learn(cells)
    groups = [group for group in groups if group.applies(cells).any()]
    if like is None:
        some = sample_units(cells, columns.unit)
        if len(some) < len(cells):
            like = fit_named(design.unlearned(), groups, some, columns, nodes=1).fit
    terms, levels = [], {}
    for group in groups:
        applies = group.applies(cells)
        levels[group.name] = {name: k for k, name in enumerate(sorted(named_codes(cells[applies], group.columns)[1]))}
        weights = None if group.slope is None else cells[group.slope].to_numpy(dtype=float)
        codes = np.full(len(cells), -1, dtype=np.int64)
        codes[applies] = place_in(levels[group.name], cells[applies], group.columns)
        terms.append(Term(group.name, codes, len(levels[group.name]), weights))
    X = design.sparse(cells)
    return ModelMatrices(
        design,
        tuple(groups),
        levels,
        columns,
        X.toarray() if X.shape[0] * X.shape[1] <= _MOST_DENSE else X,
        tuple(terms),
        cells[columns.successes].to_numpy(dtype=float),
        cells[columns.trials].to_numpy(dtype=float),
        None if like is None else _sds(design, groups, like),
        nodes,
    )


def _sds(design: Design, groups: Sequence[Group], like: MixedFit) -> tuple[float, ...]:
    """Sds of the groups, the multiplier of the design last, as fitted before, else by its prior scale."""
    sds = tuple(like.sd.get(group.name, group.sd_scale) for group in groups)
    return sds if design.scale_multiplier is None else (*sds, like.scale_multiplier)


def sample_units(cells: pd.DataFrame, unit: str) -> pd.DataFrame:
    """``cells``, or beyond ``_MANY_CELLS`` those of units picked at random until that many are reached."""
    if len(cells) <= _MANY_CELLS:
        return cells
    codes, names = named_codes(cells, [unit])
    order = np.random.default_rng(0).permutation(len(names))
    reached = np.cumsum(np.bincount(codes, minlength=len(names))[order])
    picked = order[: int(np.searchsorted(reached, _MANY_CELLS)) + 1]
    return cells[np.isin(codes, picked)].reset_index(drop=True)
