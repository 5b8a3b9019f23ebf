"""How a ball's strikes fall with the games on it: since its last resurfacing, since any care, and in total.

A mixed logistic model of strikes on first deliveries. Each ball has its own loss per 10 games since resurfacing,
partially pooled towards the loss of all balls; each stretch between two resurfacings of a ball has its own level, so
that one resurfacing may do more than another. Pattern class, ball class, line, game into the block, bowler and block
are adjusted for. The losses since any care and by all games are common to all balls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric
from pipeline.inference.mixed_logit.named_effects import Group, MixedLogit, fit_named
from pipeline.models.strike_cells import STRIKE_CELLS

# Prior sds of the losses, logit per 10 games. Our own choice: a ball losing a quarter of its strikes over 60 games
# loses about 0.1 per 10 games. What a clean alone brings back is taken to be less, and what no resurfacing brings
# back to build up over hundreds of games.
WEAR_SD, CARE_SD, TOTAL_SD = 0.10, 0.01, 0.01
# Scales of the half-t priors of two sds, our own choice: balls differ in their loss by less than the loss itself,
# and resurfacings of one ball by less than balls.
WEAR_SPREAD, SURFACE_SPREAD = 0.04, 0.05
AGES = ("games_since_resurface", "games_since_care", "games_total")
_TENS = ("tens_since_resurface", "tens_since_care", "tens_in_all")
# A ball stays in use while it strikes. Whatever makes it strike on one pattern or line, or early in the block, must
# therefore be in the model, or balls would seem to gain by wear; priors are about those the worth model learns.
_PARTS: tuple[Numeric | Categorical, ...] = (
    Categorical(("ball_class",), 0.3),
    Categorical(("pattern_class",), 0.3),
    Categorical(("line",), 0.3),
    Categorical(("ball_class", "pattern_class"), 0.3),
    Categorical(("line", "pattern_class"), 0.2),
    Numeric("late", 0.2),
    Categorical(("ball_class",), 0.08, "late"),
    Categorical(("line",), 0.1, "late"),
    Categorical(("pattern_class",), 0.08, "late"),
    *(Numeric(name, sd) for name, sd in zip(_TENS, (WEAR_SD, CARE_SD, TOTAL_SD), strict=True)),
)
_OF_BALL = (
    Group(("ball",), sd_scale=0.5),
    Group(("ball", "pattern_class"), sd_scale=0.05),
    Group(("ball", "pattern_class", "line"), sd_scale=0.04),
)
_WEAR = Group(("ball",), slope=_TENS[0], sd_scale=WEAR_SPREAD)
_SURFACE = Group(("ball", "surface_number"), sd_scale=SURFACE_SPREAD)
_BLOCK = Group(("bowler", "block"), sd_scale=0.5)
_OF_BOWLER = (Group(("bowler",)), Group(("bowler", "line"), sd_scale=0.04))
_GROUPS = (*_OF_BOWLER, _BLOCK, *_OF_BALL, _WEAR, _SURFACE)
_NO_LINE, _NO_CLASS = "not logged", "unknown"
# A logistic curve averaged over normal scatter of variance v is nearly logistic with its slope divided by
# sqrt(1 + c v), c = (16 sqrt(3) / (15 pi))^2 (Zeger, Liang & Albert, Biometrics 44, 1988, from memory).
_SCATTER = (16 * np.sqrt(3) / (15 * np.pi)) ** 2
_NODES = 8
_ROWS_AT_ONCE = 20_000  # of the mixes whose draws are made together


@dataclass(frozen=True)
class AgeingFit:
    """Posterior draws of the strike probability by ball and age.

    ``balls``: (b,) ids of every ball that is not a spare ball. ``base``: (n, b) logit of a typical ball of its class at
    age zero, at the ball's own mix of patterns, lines and games. ``scatter``: (n, b) variance of the logit over that
    mix. ``ball``: (n, b) how the ball differs from its class. ``wear`` (n, b) and ``common_wear``, ``care``, ``total``
    (n,): change of the logit per 10 games (negative: a loss). ``surfaces``: (n, s) level of each stretch between
    resurfacings; ``surface_of``: (ball, number of resurfacings before it) -> column, if it was thrown.
    """

    balls: tuple[str, ...]
    base: Floats
    scatter: Floats
    ball: Floats
    wear: Floats
    common_wear: Floats
    care: Floats
    total: Floats
    surfaces: Floats
    surface_of: dict[tuple[str, int], int]

    def surface(self, ball: str, number: int) -> Floats:
        """(n,) level of one stretch of a ball; zero, the expected level, if it was never thrown."""
        column = self.surface_of.get((ball, number))
        return np.zeros(len(self.base)) if column is None else self.surfaces[:, column]

    def strike(
        self,
        ball: str,
        since: npt.ArrayLike,
        care: npt.ArrayLike,
        total: npt.ArrayLike,
        surface: Floats | float = 0.0,
        typical: bool = False,
    ) -> Floats:
        """Strike probability of one ball at several ages: (n, ages).

        ``since``, ``care``, ``total``: games, broadcast together to (ages,). ``surface``: (n,) level of the surface.
        ``typical`` takes a typical ball of its class in place of this one.
        """
        at = self.balls.index(ball)
        of_ball = np.zeros(len(self.base)) if typical else self.ball[:, at]
        wear = self.common_wear if typical else self.wear[:, at]
        ages = np.broadcast_arrays(*(np.atleast_1d(np.asarray(a, dtype=float)) / 10 for a in (since, care, total)))
        level = self.base[:, at] + of_ball + surface
        logit = level[:, None]
        for slope, age in zip((wear, self.care, self.total), ages, strict=True):
            logit = logit + slope[:, None] * age[None, :]
        return logistic(logit / np.sqrt(1 + _SCATTER * self.scatter[:, at])[:, None])


def fit_ageing_cells(cells: pd.DataFrame, states: pd.DataFrame, n: int, rng: np.random.Generator) -> AgeingFit | None:
    """Fit rows of ``cells/ball_age_cells`` and ``cells/ball_states``, and draw ``n`` times; None without a cell."""
    if cells.empty:
        return None
    cells = _aged(_collapsed(cells))
    model = fit_named(Design(_PARTS), _GROUPS, cells, STRIKE_CELLS, nodes=_NODES)
    posterior, _ = model.draws(n, rng)
    mixes = _usual_mixes(cells, states)
    levels = [level for some in _some_at_a_time(mixes) for level in _levels(model, some, n, rng)]
    common, care, total = (posterior.fixed[:, model.design.labels().index(age)] for age in _TENS)
    return AgeingFit(
        balls=tuple(states["ball"].astype(str)),
        base=np.column_stack([level.base for level in levels]),
        scatter=np.column_stack([level.scatter for level in levels]),
        ball=np.column_stack([level.ball for level in levels]),
        wear=common[:, None] + model.group_draws(_WEAR, states.assign(**{_TENS[0]: 1.0}), n, rng),
        common_wear=common,
        care=care,
        total=total,
        surfaces=posterior.random[_SURFACE.name],
        surface_of={_stretch(name): at for name, at in model.levels[_SURFACE.name].items()},
    )


def _collapsed(cells: pd.DataFrame) -> pd.DataFrame:
    """Cells of equal covariates joined: ages to the half game, which no estimate of a slope can tell from exact."""
    table = cells.assign(
        line=cells["line"].fillna(_NO_LINE).astype(str),
        ball_class=cells["ball_class"].fillna(_NO_CLASS).astype(str),
        **{age: (cells[age].astype(float) * 2).round() / 2 for age in AGES},
    )
    keys = ["bowler", "block", "pattern_class", "ball", "ball_class", "game", "line", "surface_number", *AGES]
    return table.groupby(keys, as_index=False, observed=True)[["shots", "strikes"]].sum()


def _aged(cells: pd.DataFrame) -> pd.DataFrame:
    """Ages in tens of games, and the game into the block about its middle."""
    tens = {name: cells[age].astype(float) / 10 for name, age in zip(_TENS, AGES, strict=True)}
    late = cells["game"].astype(float) - np.average(cells["game"], weights=cells["shots"])
    return cells.assign(late=late, **tens)


def _stretch(name: str) -> tuple[str, int]:
    ball, _, number = name.rpartition("|")
    return ball, int(number)


@dataclass(frozen=True)
class _Level:
    """One ball at its own mix: draws (n,) of ``base``, ``scatter`` and ``ball``, its column of that name."""

    base: Floats
    scatter: Floats
    ball: Floats


def _some_at_a_time(mixes: list[pd.DataFrame]) -> Iterator[list[pd.DataFrame]]:
    """The mixes in turn, some ``_ROWS_AT_ONCE`` rows together: the draws of a large club would fill the memory."""
    ends = np.cumsum([len(mix) for mix in mixes]) // _ROWS_AT_ONCE
    for _, part in groupby(zip(ends, mixes, strict=True), key=lambda pair: int(pair[0])):
        yield [mix for _, mix in part]


def _levels(model: MixedLogit, mixes: list[pd.DataFrame], n: int, rng: np.random.Generator) -> list[_Level]:
    posterior, _ = model.draws(n, rng)
    rows_of_all = pd.concat(mixes, ignore_index=True)  # together, since levels are found by name
    of_ball = np.sum([model.group_draws(group, rows_of_all, n, rng) for group in _OF_BALL], axis=0)
    rest = posterior.fixed @ model.design.matrix(rows_of_all).T
    rest += np.sum([model.group_draws(group, rows_of_all, n, rng) for group in _OF_BOWLER], axis=0)
    usual = (of_ball + rest).mean(axis=0)
    levels, start = [], 0
    for mix in mixes:
        rows = slice(start, start + len(mix))
        start += len(mix)
        share = mix["shots"].to_numpy(dtype=float) / mix["shots"].sum()
        scatter = share @ (usual[rows] - share @ usual[rows]) ** 2 + posterior.sd[_BLOCK.name] ** 2
        levels.append(_Level(rest[:, rows] @ share, scatter, of_ball[:, rows] @ share))
    return levels


def _usual_mixes(cells: pd.DataFrame, states: pd.DataFrame) -> list[pd.DataFrame]:
    """For each ball the cells of its own mix, at age zero; its bowler's, or everybody's, if it has none."""
    fresh = cells.assign(**dict.fromkeys(_TENS, 0.0))
    mixes = []
    for ball, bowler, ball_class in zip(states["ball"], states["bowler"], states["ball_class"], strict=True):
        mix = fresh[fresh["ball"] == ball]
        if mix.empty:
            bowler_rows = fresh[fresh["bowler"] == bowler]
            kind = _NO_CLASS if pd.isna(ball_class) else ball_class
            mix = (fresh if bowler_rows.empty else bowler_rows).assign(ball=ball, ball_class=kind)
        mixes.append(mix)
    return mixes
