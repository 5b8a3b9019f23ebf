"""Numbers of oil, time, ball and bowler as the standardised columns that the worth model reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.codings import Codings, coding, levels_of
from pipeline.inference.mixed_logit.design import Spline
from pipeline.models.balls.ball_strength import BallStrength
from pipeline.models.strikes.pattern_effects import UsualPatterns
from pipeline.models.strikes.worth_cells import mean_and_sd, mean_by
from pipeline.sport.oil import OIL

STRENGTH_OVER = {"grip_length": "length_ft_z", "grip_volume": "volume_ml_z", "grip_late": "game_1"}
"""Column -> what a ball's strength is multiplied by."""
_SAME = 0.01  # standard deviations; less is rounding: means of equal numbers differ in the last digit
_STRONGEST = 2.5  # standard deviations of strength beyond which its square grows no more
_FULLY_NEW = 4.0  # standard deviations; oil further off counts as this far


@dataclass(frozen=True)
class Covariates:
    """How numbers become standardised columns, learned once from the cells and used for every prediction."""

    spline: Spline
    oil: dict[str, tuple[float, float, float, float]]  # column -> mean, sd, lowest, highest
    usual_oil: pd.DataFrame  # by pattern class
    patterns: UsualPatterns
    load_by_game: Floats
    load: tuple[float, float]
    balance: dict[str, float]
    strength: BallStrength
    usual_strength: tuple[float, float]  # mean and sd over shots
    worn: dict[str, float]  # mean over its shots, by ball
    games: tuple[int, int]

    def __call__(self, frame: pd.DataFrame) -> pd.DataFrame:
        """``frame`` with the model's numeric columns added; its index is reset."""
        columns = {str(name): frame[name].array for name in frame}
        self.add_to(columns, {})
        return pd.DataFrame(columns)

    def add_to(self, columns: dict[str, Any], codings: Codings) -> None:
        """Add them to the ``columns`` of a frame, and their codings to ``codings``."""
        self._add_oil(columns, codings)
        self._add_time(columns)
        self._add_ball(columns, codings)
        balance = _by_level(columns, "bowler", codings, self.balance)
        urethane = _by_level(columns, "ball_class", codings, {"urethane": 1.0})
        columns["balance_z"] = balance
        columns["balance_urethane"] = balance * urethane

    def _add_oil(self, out: dict[str, Any], codings: Codings) -> None:
        """The numbers of the oil, the mean of the pattern class if not given, and each standardised."""
        given_oil = {column: _numbers(out[column]) for column in OIL if column in out}
        rows = len(out["pattern_class"])
        logged = [~np.isnan(values) for values in given_oil.values()]
        out["any_pattern"] = ~np.any(logged, axis=0) if logged else np.ones(rows, dtype=bool)
        for column in OIL:
            usual = _by_level(out, "pattern_class", codings, self._usual[column], np.nan)
            given = given_oil.get(column, usual)
            value = np.where(np.isnan(given), usual, given)
            mean, sd, low, high = self.oil[column]
            nothing = np.isnan(value) | (not np.isfinite(low))  # never logged, so its effect is unknown
            inside = np.clip(value, low, high)  # no trend is known to continue
            out[column], out[f"{column}_z"] = value, np.where(nothing, 0.0, (inside - mean) / sd)

    @cached_property
    def _usual(self) -> dict[str, dict[str, float]]:
        """Number of the oil -> pattern class -> its mean."""
        kinds = [str(kind) for kind in self.usual_oil.index]
        return {column: dict(zip(kinds, self.usual_oil[column].astype(float), strict=True)) for column in OIL}

    def _add_time(self, out: dict[str, Any]) -> None:
        """Games into the block as a spline, and the load of the pair, usual for the game if not given."""
        game = np.asarray(out["game"], dtype=float)
        basis = self.spline(game)
        out["game_1"] = basis[:, 0]
        out["game_2"] = basis[:, 1] if basis.shape[1] > 1 else np.zeros(len(game))
        usual_load = np.interp(game, np.arange(1, len(self.load_by_game) + 1), self.load_by_game)
        given = _numbers(out["pair_load"]) if "pair_load" in out else usual_load
        load = np.where(np.isnan(given), usual_load, given)
        out["load_z"] = (load - self.load[0]) / self.load[1]
        if "pair_load" not in out or np.isnan(given).any():
            out["pair_load"] = load

    def _add_ball(self, out: dict[str, Any], codings: Codings) -> None:
        """Wear, the ball's mean if not given; strength, its square, and its products with oil and time."""
        if "worn" not in out:
            out["worn"] = _by_level(out, "ball", codings, self.worn)
        mean, sd = self.usual_strength
        levels = levels_of(out, ["ball", "ball_class"], codings)
        strength = ((self.strength(*levels.values()) - mean) / sd)[levels.codes]
        out["strength"] = strength
        out["strength_bend"] = np.minimum(strength**2, _STRONGEST**2) - 1.0
        for name, over in STRENGTH_OVER.items():
            out[name] = strength * out[over]

    def novelty(self, frame: pd.DataFrame) -> Floats:
        """How far each prepared row lies beyond what was logged, in standard deviations (0 inside)."""
        squared = np.zeros(len(frame))
        for column in OIL:
            _, sd, low, high = self.oil[column]
            value = frame[column].to_numpy(dtype=float)
            squared += np.nan_to_num(np.maximum(np.maximum(low - value, value - high) / sd - _SAME, 0.0)) ** 2
        beyond = np.maximum(frame["game"].to_numpy(dtype=float) - self.games[1], 0.0)
        squared += (beyond / max(1.0, (self.games[1] - self.games[0]) / 2)) ** 2
        return np.minimum(np.sqrt(squared), _FULLY_NEW)


def _by_level(
    columns: Mapping[str, Any], column: str, codings: Codings, values: Mapping[str, float], otherwise: float = 0.0
) -> Floats:
    """The value (rows,) of each row's level of a column, ``otherwise`` for a level that has none."""
    place, texts = coding(columns, column, codings)
    return np.array([values.get(text, otherwise) for text in texts], dtype=float)[place]


def _numbers(column: Any) -> Floats:
    """A column (rows,), nan if it is missing."""
    if column.dtype.kind in "fiu" and isinstance(column, np.ndarray | pd.arrays.NumpyExtensionArray):
        return np.asarray(column, dtype=float)
    numbers: Floats = pd.to_numeric(pd.Series(column)).to_numpy(dtype=float, na_value=np.nan)
    return numbers


def learn_covariates(cells: pd.DataFrame, balance: pd.DataFrame, strength: BallStrength) -> Covariates:
    """Means, sds and knots of the cells; ``balance`` as in ``fit_worth_cells``."""
    shots = cells["shots"].astype(float)
    oil, usual = {}, {}
    for column in OIL:
        values = pd.to_numeric(cells[column]).astype(float)
        mean, sd = mean_and_sd(values, shots)
        low, high = (float(values.min()), float(values.max())) if values.notna().any() else (-np.inf, np.inf)
        oil[column] = (mean, sd, low, high)
        known = values.notna()
        usual[column] = mean_by(values[known], shots[known], cells["pattern_class"][known])
    game: Floats = cells["game"].to_numpy(dtype=float)
    load = cells["pair_load"].astype(float)
    per_game = mean_by(load, shots, cells["game"])
    games = np.arange(1, int(game.max()) + 1)
    ratio = (balance["rev_rpm"] / balance["speed_mph"]).astype(float)
    mean, sd = mean_and_sd(ratio, pd.Series(1.0, index=ratio.index))
    standard = ((ratio - mean) / sd).fillna(0.0)
    of_cells = pd.Series(strength(cells["ball"].tolist(), cells["ball_class"].tolist()), index=cells.index)
    worn = cells["worn"] if "worn" in cells else pd.Series(0.0, index=cells.index)
    per_ball = mean_by(worn, shots, cells["ball"])
    spline = Spline.learn(game, np.asarray(shots, dtype=np.float64), 3)
    return Covariates(
        spline=spline,
        oil=oil,
        usual_oil=pd.DataFrame(usual),
        patterns=UsualPatterns.learn(cells),
        load_by_game=np.interp(games, per_game.index.to_numpy(dtype=float), per_game.to_numpy(dtype=float)),
        load=mean_and_sd(load, shots),
        balance=dict(zip(balance["bowler"].astype(str), standard, strict=True)),
        strength=strength,
        usual_strength=mean_and_sd(of_cells, shots),
        worn={str(ball): float(mean) for ball, mean in per_ball.items()},
        games=(int(game.min()), int(game.max())),
    )
