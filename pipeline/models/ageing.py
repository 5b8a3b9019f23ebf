"""How a ball's carry falls with the games on it: since its last resurfacing, since any care, and in all.

A mixed logistic model of strikes on first deliveries. Each ball has its own loss per 10 games since resurfacing,
partially pooled towards the loss of all balls; each stretch between two resurfacings of a ball has its own level, so
that one resurfacing may do more than another. Pattern class, ball class, line, game into the block, bowler and block
are adjusted for. The losses since any care and by all games are common to all balls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import expit

from pipeline.models.glmm import PosteriorDraws, Term, fit_mixed_logit
from pipeline.models.season import Season

FloatArray = npt.NDArray[np.float64]

# Prior sds of the losses, logit per 10 games. Our own choice: a ball losing a quarter of its strikes over 60 games
# loses about 0.1 per 10 games. What a clean alone brings back is taken to be less, and what no resurfacing brings
# back to build up over hundreds of games.
WEAR_SD, CARE_SD, TOTAL_SD = 0.10, 0.01, 0.01
# Scales of the half-normal priors of two sds, our own choice: balls differ in their loss by less than the loss itself,
# and one resurfacing from the next by less than one ball from another.
WEAR_SPREAD, SURFACE_SPREAD = 0.05, 0.2
_AGES = ("games_since_resurface", "games_since_care", "games_total")
_LEVEL_SD = 1.0  # prior sd of every other fixed effect, logit
_INTERCEPT_SD = 3.0
# A logistic curve averaged over normal scatter of variance v is nearly logistic with its slope divided by
# sqrt(1 + c v), c = (16 sqrt(3) / (15 pi))^2 (Zeger, Liang & Albert, Biometrics 44, 1988, from memory).
_SCATTER = (16 * np.sqrt(3) / (15 * np.pi)) ** 2
_NODES = 8


@dataclass(frozen=True)
class AgeingFit:
    """Posterior draws of carry by ball and age.

    ``balls``: (b,) ids of every ball that is not a spare ball. ``base``: (n, b) logit of a typical ball of its class at
    age zero, at the ball's own mix of patterns, lines and games. ``scatter``: (n, b) variance of the logit over that
    mix. ``ball``: (n, b) how the ball differs from its class. ``wear`` (n, b) and ``common_wear``, ``care``, ``total``
    (n,): change of the logit per 10 games (negative: carry is lost). ``surfaces``: (n, s) level of each stretch between
    resurfacings; ``surface_of``: (ball, number of resurfacings before it) -> column, where it was thrown.
    """

    balls: tuple[str, ...]
    base: FloatArray
    scatter: FloatArray
    ball: FloatArray
    wear: FloatArray
    common_wear: FloatArray
    care: FloatArray
    total: FloatArray
    surfaces: FloatArray
    surface_of: dict[tuple[str, int], int]

    def surface(self, ball: str, number: int) -> FloatArray:
        """(n,) level of one stretch of a ball; zero, the expected level, where it was never thrown."""
        column = self.surface_of.get((ball, number))
        return np.zeros(len(self.base)) if column is None else self.surfaces[:, column]

    def strike(
        self,
        ball: str,
        since: npt.ArrayLike,
        care: npt.ArrayLike,
        total: npt.ArrayLike,
        surface: FloatArray | float = 0.0,
        typical: bool = False,
    ) -> FloatArray:
        """Strike probability of one ball at several ages: (n, ages).

        ``since``, ``care``, ``total``: games, broadcast together to (ages,). ``surface``: (n,) level of the surface.
        ``typical`` takes a typical ball of its class in place of this one.
        """
        at = self.balls.index(ball)
        own = np.zeros(len(self.base)) if typical else self.ball[:, at]
        wear = self.common_wear if typical else self.wear[:, at]
        ages = np.broadcast_arrays(*(np.atleast_1d(np.asarray(a, dtype=float)) / 10 for a in (since, care, total)))
        level = self.base[:, at] + own + surface
        logit = level[:, None]
        for slope, age in zip((wear, self.care, self.total), ages, strict=True):
            logit = logit + slope[:, None] * age[None, :]
        return expit(logit / np.sqrt(1 + _SCATTER * self.scatter[:, at])[:, None])


def fit_ageing(season: Season, n: int, rng: np.random.Generator) -> AgeingFit | None:
    """Fit the season's balls and draw ``n`` times; None where no ball but spare balls was thrown."""
    usual = season.settings.costs.resurface_every_games
    cells = season.frame("36_ball_age_cells", usual=usual)
    states = season.frame("37_ball_states", usual=usual)
    return fit_ageing_cells(cells, states, n, rng)


def fit_ageing_cells(cells: pd.DataFrame, states: pd.DataFrame, n: int, rng: np.random.Generator) -> AgeingFit | None:
    """The same from rows of ``36_ball_age_cells`` and ``37_ball_states``."""
    if cells.empty:
        return None
    cells = _collapsed(cells)
    design = _design(cells)
    ages = cells[list(_AGES)].to_numpy(dtype=float) / 10
    X = np.column_stack([design.to_numpy(), ages])
    prior_sd = np.array([_INTERCEPT_SD] + [_LEVEL_SD] * (design.shape[1] - 1) + [WEAR_SD, CARE_SD, TOTAL_SD])
    balls = pd.Index(states["ball"].astype(str))
    terms, surface_of = _terms(cells, balls, ages[:, 0])
    fit = fit_mixed_logit(
        X,
        terms,
        cells["strikes"].to_numpy(dtype=float),
        cells["shots"].to_numpy(dtype=float),
        fixed_precision=prior_sd**-2,
        nodes=_NODES,
    )
    draws = fit.draw(n, rng)
    return _assembled(draws, design, cells, states, surface_of)


def _collapsed(cells: pd.DataFrame) -> pd.DataFrame:
    """Cells of equal covariates joined: ages to the half game, which no estimate of a slope can tell from exact."""
    table = cells.assign(
        line=cells["line"].fillna("not logged").astype(str),
        ball_class=cells["ball_class"].fillna("unknown").astype(str),
        **{age: (cells[age].astype(float) * 2).round() / 2 for age in _AGES},
    )
    keys = ["bowler", "block", "pattern_class", "ball", "ball_class", "game", "line", "surface_number", *_AGES]
    return table.groupby(keys, as_index=False, observed=True)[["shots", "strikes"]].sum()


def _design(cells: pd.DataFrame) -> pd.DataFrame:
    """Columns of everything but age: a constant, levels, and the game into the block by ball class."""
    game = cells["game"].to_numpy(dtype=float) - 1
    parts = [pd.DataFrame({"constant": np.ones(len(cells)), "game": game})]
    for column in ("bowler", "pattern_class", "ball_class", "line"):
        levels = pd.get_dummies(cells[column].astype(str), dtype=float)
        parts.append(levels.iloc[:, 1:].add_prefix(f"{column}="))
    classes = pd.get_dummies(cells["ball_class"], dtype=float).iloc[:, 1:]
    parts.append(classes.mul(game, axis=0).add_prefix("game in ball_class="))
    pairs = cells["ball_class"] + " on " + cells["pattern_class"]
    if pairs.nunique() > 1:
        parts.append(pd.get_dummies(pairs, dtype=float).iloc[:, 1:].add_prefix("pair="))
    return pd.concat(parts, axis=1)


def _terms(cells: pd.DataFrame, balls: pd.Index, tens: FloatArray) -> tuple[list[Term], dict[tuple[str, int], int]]:
    ball = balls.get_indexer(pd.Index(cells["ball"].astype(str))).astype(np.int64)
    block, blocks = pd.factorize(cells["bowler"].astype(str) + "\x00" + cells["block"].astype(str))
    stretch, stretches = pd.factorize(
        pd.MultiIndex.from_arrays([cells["ball"].astype(str), cells["surface_number"].astype(int)])
    )
    # The sd of every term has the same half-normal(1) prior; a weight puts the effects in units of their scale.
    terms = [
        Term("ball", ball, len(balls)),
        Term("block", block.astype(np.int64), len(blocks)),
        Term("wear", ball, len(balls), WEAR_SPREAD * tens),
        Term("surface", stretch.astype(np.int64), len(stretches), np.full(len(cells), SURFACE_SPREAD)),
    ]
    return terms, {(str(key[0]), int(key[1])): at for at, key in enumerate(stretches)}


def _usual_mix(design: pd.DataFrame, cells: pd.DataFrame, states: pd.DataFrame) -> list[tuple[FloatArray, FloatArray]]:
    """For each ball the design rows and weights of its own mix; its bowler's, or everybody's, where it has none."""
    X, shots = design.to_numpy(), cells["shots"].to_numpy(dtype=float)
    mixes = []
    for ball, bowler, ball_class in zip(states["ball"], states["bowler"], states["ball_class"], strict=True):
        rows = (cells["ball"] == ball).to_numpy()
        borrowed = not rows.any()
        if borrowed:
            rows = (cells["bowler"] == bowler).to_numpy()
            rows = rows if rows.any() else np.ones(len(cells), dtype=bool)
        x = _as_class(design[rows], cells[rows], str(ball_class)) if borrowed else X[rows]
        mixes.append((x, shots[rows] / shots[rows].sum()))
    return mixes


def _as_class(design: pd.DataFrame, cells: pd.DataFrame, ball_class: str) -> FloatArray:
    """The rows as they would be with a ball of another class; pairs never logged stand at their prior mean."""
    changed = design.copy()
    game = cells["game"].to_numpy(dtype=float) - 1
    wanted = ball_class + " on " + cells["pattern_class"].astype(str)
    for name in design.columns:
        kind, _, level = str(name).partition("=")
        if kind == "ball_class":
            changed[name] = float(level == ball_class)
        elif kind == "game in ball_class":
            changed[name] = game * float(level == ball_class)
        elif kind == "pair":
            changed[name] = (wanted == level).to_numpy(dtype=float)
    return changed.to_numpy()


def _assembled(
    draws: PosteriorDraws,
    design: pd.DataFrame,
    cells: pd.DataFrame,
    states: pd.DataFrame,
    surface_of: dict[tuple[str, int], int],
) -> AgeingFit:
    k = design.shape[1]
    levels, slopes = draws.fixed[:, :k], draws.fixed[:, k:]
    centre = levels.mean(axis=0)
    base, scatter = [], []
    for x, share in _usual_mix(design, cells, states):
        base.append(levels @ (share @ x))
        eta = x @ centre
        scatter.append(share @ (eta - share @ eta) ** 2 + draws.sd["block"] ** 2)
    return AgeingFit(
        balls=tuple(states["ball"].astype(str)),
        base=np.column_stack(base),
        scatter=np.column_stack(scatter),
        ball=draws.random["ball"],
        wear=slopes[:, [0]] + WEAR_SPREAD * draws.random["wear"],
        common_wear=slopes[:, 0],
        care=slopes[:, 1],
        total=slopes[:, 2],
        surfaces=SURFACE_SPREAD * draws.random["surface"],
        surface_of=surface_of,
    )
