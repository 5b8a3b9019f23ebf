"""The expectation of a first ball as its circumstances become known: the lane, then the ball, then the line.

The lane is the pattern and the game. Given the lane, balls and lines are the usual ones on that pattern class in that
phase: under a bowler's own usual those the bowler throws there, shrunk toward all the bowler throws; under the class
those the class throws there, by its average bowler. Given the ball, lines are those it is usually thrown on there.

Every line counts as one that follows the lane, as in the expectation before: on a night that asks for about this one.
What choosing a ball or a line on that night's lane gained is therefore not priced but drawn; see ``unseen_gain.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.models.fits import Fits
from pipeline.models.strikes.strike_worth import NO_BALL_CLASS
from pipeline.pricing.ledger.class_usual import CLASS, ClassUsual, second_pins
from pipeline.pricing.ledger.unseen_gain import Stage, before_choosing, on_their_patterns
from pipeline.pricing.rate_draws import RateDraws, rate_draws, strike_draws
from pipeline.sport.lane import phase_of

STAGES = ("lane", "ball", "line")
FIELDS = ("strike", "spare", "first_pins", "second_pins")
_LANE = ["pattern", "pattern_class", "length_ft", "volume_ml", "ratio", "game"]
_CHOICE = ["ball", "ball_class", "line"]
_OWN_SPREAD = 20.0  # shots on one kind of lane with the same weight as the bowler's choices over all lanes
_ROWS_AT_ONCE = 3_000  # of a grid, whose draws are held together
_MOST_LANES = 128  # of the class, whose draws are held to the end

_Kind = tuple[str, str]


@dataclass(frozen=True)
class Stages:
    """Chances of every choice one bowler made, under one reference.

    Attributes:
        rows: columns pattern, game, ball and line, one row per choice.
        draws: stage -> field of ``FIELDS`` -> (n, rows).
        means: the same as posterior means (rows,).
    """

    rows: pd.DataFrame
    draws: dict[str, dict[str, np.ndarray]]
    means: dict[str, dict[str, np.ndarray]]

    def table(self) -> pd.DataFrame:
        """The rows with one column for each stage and field."""
        return self.rows.assign(**{f"{k}_{field}": self.means[k][field] for k in STAGES for field in FIELDS})


def stages_of(fits: Fits, usual: ClassUsual, bowler: str, reference: str, choices: pd.DataFrame) -> Stages:
    """The stages of one bowler's choices, as ``queries/ledger/ledger_choices`` lists them."""
    phase = [phase_of(int(game), fits.settings.phases) for game in choices["game"]]
    kind = choices["ball_class"].astype(object)
    choices = choices.assign(ball_class=kind.where(kind.notna(), NO_BALL_CLASS), phase=phase).reset_index(drop=True)
    lanes = choices[[*_LANE, "phase"]].drop_duplicates(["pattern", "game"]).reset_index(drop=True)
    grid = _class_grid(usual, choices) if reference == CLASS else _own_grid(choices)
    who = AVERAGE if reference == CLASS else bowler
    at_once = max(1, _ROWS_AT_ONCE // max(len(grid.choices), len(grid.before)))
    pieces = [
        _some_lanes(fits, usual, who, lanes.iloc[start : start + at_once].reset_index(drop=True), grid, choices)
        for start in range(0, len(lanes), at_once)
    ]
    rows = pd.concat([part for part, _ in pieces], ignore_index=True)
    whole = {
        stage: {
            field: np.concatenate([parts[k][place] for _, parts in pieces], axis=1)
            for place, field in enumerate(FIELDS)
        }
        for k, stage in enumerate(STAGES)
    }
    return Stages(
        rows,
        whole,
        {stage: {field: values.mean(axis=0) for field, values in fields.items()} for stage, fields in whole.items()},
    )


@dataclass(frozen=True)
class _Grid:
    """Balls and lines to price on every lane, and how usual they are on each kind of lane: pattern class and phase.

    ``choices``: columns ball, ball_class and line; ``share``: (choices,), each line's share of its ball. ``before``:
    the same columns of what is thrown before the ball is known; ``weight``: (before,), summing to one.
    """

    choices: pd.DataFrame
    share: dict[_Kind, np.ndarray]
    before: pd.DataFrame
    weight: dict[_Kind, np.ndarray]


def _kinds(rows: pd.DataFrame) -> list[_Kind]:
    return list(zip(rows["pattern_class"].astype(str), rows["phase"].astype(str), strict=True))


def _own_grid(choices: pd.DataFrame) -> _Grid:
    codes = choices.groupby(_CHOICE, sort=True).ngroup().to_numpy()
    thrown = choices.groupby(_CHOICE, sort=True, as_index=False)[["shots"]].sum()
    kinds, shots = np.array(_kinds(choices)), choices["shots"].to_numpy(dtype=float)
    everywhere = np.bincount(codes, shots)
    balls = pd.factorize(thrown["ball"])[0]
    share, weight = {}, {}
    for kind in set(_kinds(choices)):
        here = np.bincount(codes, shots * (kinds == kind).all(axis=1)) + _OWN_SPREAD * everywhere / everywhere.sum()
        share[kind] = here / np.bincount(balls, here)[balls]
        weight[kind] = here / here.sum()
    return _Grid(thrown[_CHOICE], share, thrown[_CHOICE], weight)


def _class_grid(usual: ClassUsual, choices: pd.DataFrame) -> _Grid:
    balls = choices[["ball", "ball_class"]].drop_duplicates()
    before = usual.on(*_kinds(choices)[0])[["ball_class", "line"]]  # the same rows on every kind of lane
    lines = sorted({*choices["line"], *before["line"]})
    column = np.searchsorted(lines, before["line"].tolist())
    share, weight = {}, {}
    for kind in set(_kinds(choices)):
        here = weight[kind] = usual.on(*kind)["weight"].to_numpy(dtype=float)
        of_any = np.bincount(column, here, len(lines))
        of_class = {
            name: np.bincount(column[rows], here[rows], len(lines))
            for name in balls["ball_class"].unique()
            if (rows := (before["ball_class"] == name).to_numpy()).any()
        }
        spread = [of_class.get(name, of_any) for name in balls["ball_class"]]  # as any ball, if it throws none of it
        share[kind] = np.concatenate([shares / shares.sum() for shares in spread])
    return _Grid(balls.merge(pd.DataFrame({"line": lines}), how="cross"), share, before.assign(ball=AVERAGE), weight)


def _some_lanes(
    fits: Fits, usual: ClassUsual, who: str, lanes: pd.DataFrame, grid: _Grid, choices: pd.DataFrame
) -> tuple[pd.DataFrame, list[Stage]]:
    """Choices made on these lanes, and their chances (n, rows) at each stage."""
    made = choices.merge(lanes[["pattern", "game"]].assign(lane_at=lanes.index), on=["pattern", "game"])
    place = grid.choices.reset_index(names="at")[["ball", "line", "at"]]
    made = made.merge(place, on=["ball", "line"]).reset_index(drop=True)
    at_lane, at = made["lane_at"].to_numpy(), made["at"].to_numpy()
    each = _at_choices(rate_draws(fits, _on(lanes, grid.choices, who), "followed"))
    line = on_their_patterns(fits, usual, made.assign(bowler=who), _take(each, at_lane * len(grid.choices) + at))
    codes, balls = pd.factorize(grid.choices["ball"])
    of_ball = codes[:, None] == np.arange(len(balls))
    kinds = _kinds(lanes)
    within = {kind: of_ball * grid.share[kind][:, None] for kind in set(kinds)}
    ball = _take(_mixed(each, kinds, within), at_lane * len(balls) + codes[at])
    before = _class_choices(fits, usual, lanes, grid.before) if who == AVERAGE else each
    lane = _take(_mixed(before, kinds, {kind: grid.weight[kind][:, None] for kind in set(kinds)}), at_lane)
    return made[["pattern", "game", "ball", "line"]], before_choosing(fits, who, lane, ball, line)


def _class_choices(fits: Fits, usual: ClassUsual, lanes: pd.DataFrame, choices: pd.DataFrame) -> Stage:
    """Chances (n, lanes * choices) of what the class throws on each lane.

    Its strikes are the same for every bowler's ledger, and computed once for each lane, unless there are more lanes
    than can be held.
    """
    grid = _on(lanes, choices, AVERAGE)
    keys = [
        (None if pd.isna(pattern) else str(pattern), int(game))
        for pattern, game in zip(lanes["pattern"], lanes["game"], strict=True)
    ]
    new = [k for k, key in enumerate(keys) if key not in usual.strikes]
    if len(new) + len(usual.strikes) > _MOST_LANES:
        return _at_choices(rate_draws(fits, grid, "followed"))
    if new:
        strikes = strike_draws(fits, _on(lanes.iloc[new], choices, AVERAGE), "followed")
        usual.strikes.update(zip([keys[k] for k in new], np.split(strikes, len(new), axis=1), strict=True))
    strike = np.concatenate([usual.strikes[key] for key in keys], axis=1)
    return _at_choices(rate_draws(fits, grid, strike=strike))


def _on(lanes: pd.DataFrame, choices: pd.DataFrame, who: str) -> pd.DataFrame:
    """Every choice on every lane, lanes outermost."""
    return lanes.merge(choices[_CHOICE], how="cross").assign(bowler=who)


def _at_choices(rates: RateDraws) -> Stage:
    return rates.strike, rates.spare, rates.first_pins, second_pins(rates)


def _take(stage: Stage, places: np.ndarray) -> Stage:
    strike, spare, first, second = (np.take(values, places, axis=1) for values in stage)
    return strike, spare, first, second


def _mixed(stage: Stage, kinds: list[_Kind], weights: dict[_Kind, np.ndarray]) -> Stage:
    """Mixes (n, lanes * columns) of the choices (n, lanes * choices) by the ``weights`` (choices, columns) of the kind
    of each lane; what follows no strike weighs by how often there is none."""
    n, lanes = len(stage[0]), len(kinds)
    columns = next(iter(weights.values())).shape[1]
    out = [np.empty((n, lanes, columns)) for _ in stage]
    for kind, weight in weights.items():
        here = [place for place, other in enumerate(kinds) if other == kind]
        strike, *rest = (values.reshape(n, lanes, -1)[:, here] for values in stage)
        none = 1 - strike
        missed = none @ weight
        out[0][:, here] = strike @ weight
        for whole, values in zip(out[1:], rest, strict=True):
            whole[:, here] = (none * values) @ weight / missed
    spread, spare, first, second = (values.reshape(n, -1) for values in out)
    return spread, spare, first, second
