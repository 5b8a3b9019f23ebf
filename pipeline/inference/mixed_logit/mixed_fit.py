"""A fitted mixed logistic model: its effects, and draws from their joint posterior."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.arrays import Floats
from pipeline.inference.lazy import Lazy
from pipeline.inference.mixed_logit.arrowhead import ArrowheadFactor
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.conditional_mode import Mode, Term
from pipeline.inference.mixed_logit.subset_factor import SubsetFactor


@dataclass(frozen=True)
class PosteriorDraws:
    """Joint draws: ``fixed`` (n, columns), ``random`` by term (n, levels), ``sd`` by term, ``scale_multiplier``."""

    fixed: Floats
    random: dict[str, Floats]
    sd: dict[str, Floats]
    scale_multiplier: Floats


@dataclass(frozen=True)
class Node:
    """One point of the design over log sds: the conditional mode there, the factor to draw about it, its weight."""

    fixed: Floats
    random: Floats
    log_sd: Floats
    factor: ArrowheadFactor | SubsetFactor
    weight: float

    @classmethod
    def of(cls, mode: Mode, weight: float) -> Node:
        """The point of a conditional mode."""
        return cls(mode.fixed, mode.random, mode.log_sd, mode.factor, weight)

    def subset(self, rows: Codes) -> Node:
        """The same with these random effects alone."""
        assert isinstance(self.factor, ArrowheadFactor)
        return replace(self, random=self.random[rows], factor=SubsetFactor.of(self.factor, rows))


@dataclass(frozen=True)
class MixedFit:
    """A fitted mixed logistic model; effects are on the logit scale.

    ``fixed`` (columns,), ``fixed_covariance`` given the sds, ``random`` and ``sd`` by term name, ``scale_multiplier``
    of the shared prior sds (1 if none are), ``log_likelihood`` the Laplace value with the binomial constants.
    """

    fixed: Floats
    fixed_covariance: Floats
    random: dict[str, Floats]
    sd: dict[str, float]
    scale_multiplier: float
    log_likelihood: float
    _terms: tuple[Term, ...]
    _lazy_nodes: Lazy[tuple[Node, ...]]  # large, and read by none but those who draw anew

    @property
    def _nodes(self) -> tuple[Node, ...]:
        return self._lazy_nodes.get()

    def draw(self, n: int, rng: np.random.Generator) -> PosteriorDraws:
        """``n`` joint posterior draws; uncertainty in the sds is included if the fit integrated over them."""
        weights = np.array([node.weight for node in self._nodes])
        counts = _systematic(weights / weights.sum(), n, rng)
        fixed, random, log_sd = [], [], []
        for node, count in zip(self._nodes, counts, strict=True):
            if count:
                noise_u, noise_b = node.factor.draw(int(count), rng)
                fixed.append(node.fixed + noise_b)
                random.append(node.random + noise_u)
                log_sd.append(np.tile(node.log_sd, (int(count), 1)))
        order = rng.permutation(n)
        sds = np.exp(np.concatenate(log_sd)[order])
        flat = np.concatenate(random)[order]
        edges = np.cumsum([0, *(term.levels for term in self._terms)])
        return PosteriorDraws(
            np.concatenate(fixed)[order],
            {t.name: flat[:, edges[k] : edges[k + 1]] for k, t in enumerate(self._terms)},
            {t.name: sds[:, k] for k, t in enumerate(self._terms)},
            sds[:, -1] if sds.shape[1] > len(self._terms) else np.ones(n),
        )

    def moved(self, by: Floats) -> MixedFit:
        """The same with ``by`` (columns,) added to the fixed effects, of a fit whose offset held that much of them."""
        nodes = tuple(replace(node, fixed=node.fixed + by) for node in self._nodes)
        return replace(self, fixed=self.fixed + by, _lazy_nodes=Lazy.of(nodes))

    def subset(self, levels: Mapping[str, Codes]) -> MixedFit:
        """The same fit with these levels of each term alone, renumbered in their order; it draws no other effect.

        Draws of what is kept are those of the same joint posterior, in another order, and do not depend on what else
        is kept. The factor of the whole is freed, so a fit can be cut to a subset once.
        """
        edges = np.cumsum([0, *(term.levels for term in self._terms)])
        rows = np.concatenate([levels[term.name] + edge for term, edge in zip(self._terms, edges, strict=False)])
        terms = tuple(Term(term.name, np.zeros(0, dtype=np.int64), len(levels[term.name])) for term in self._terms)
        return replace(
            self,
            random={name: effects[levels[name]] for name, effects in self.random.items()},
            _terms=terms,
            _lazy_nodes=Lazy.of(tuple(node.subset(rows) for node in self._nodes)),
        )


def _systematic(weights: Floats, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Systematic resampling: how many of n draws come from each point."""
    edges = np.concatenate([[0.0], np.cumsum(weights)]) * n
    edges[-1] = n
    return np.diff(np.ceil(edges - rng.random()).astype(np.int64).clip(0, n))
