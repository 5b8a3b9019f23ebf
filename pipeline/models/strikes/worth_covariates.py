"""Numbers of oil, time, ball and bowler as the standardised columns that the worth model reads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.design import Spline
from pipeline.models.balls.ball_strength import BallStrength
from pipeline.models.strikes.pattern_effects import UsualPatterns
from pipeline.models.strikes.worth_cells import mean_and_sd, mean_by

OIL = ("length_ft", "volume_ml", "ratio")
STRENGTH_OVER = {"grip_length": "length_ft_z", "grip_volume": "volume_ml_z", "grip_late": "game_1"}
"""Column -> what a ball's strength is multiplied by."""
_SAME = 0.01  # standard deviations that are no distance: means of equal numbers differ in the last digit
_STRONGEST = 2.5  # standard deviations of strength beyond which its square grows no more
_FULLY_NEW = 4.0  # standard deviations beyond which nothing more is unlearned


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
        out = frame.reset_index(drop=True)
        self._add_oil(out)
        self._add_time(out)
        self._add_ball(out)
        balance = np.array([self.balance.get(bowler, 0.0) for bowler in out["bowler"].tolist()], dtype=float)
        out["balance_z"] = balance
        out["balance_urethane"] = balance * (out["ball_class"] == "urethane").to_numpy(dtype=float)
        return out

    def _add_oil(self, out: pd.DataFrame) -> None:
        """The numbers of the oil, the mean of the pattern class where not given, and each standardised."""
        given_oil = [pd.to_numeric(out[column]).notna() for column in OIL if column in out]
        out["any_pattern"] = ~np.any(given_oil, axis=0) if given_oil else np.ones(len(out), dtype=bool)
        place = self.usual_oil.index.get_indexer(pd.Index(out["pattern_class"]))  # -1, the last, where never posted
        for column in OIL:
            usual = np.append(self.usual_oil[column].to_numpy(dtype=float), np.nan)[place]
            given = pd.to_numeric(out[column]).to_numpy(dtype=float) if column in out else usual
            value = np.where(np.isnan(given), usual, given)
            mean, sd, low, high = self.oil[column]
            nothing = np.isnan(value) | (not np.isfinite(low))  # never logged: what it does is not known
            inside = np.clip(value, low, high)  # no trend is known to go on
            out[column], out[f"{column}_z"] = value, np.where(nothing, 0.0, (inside - mean) / sd)

    def _add_time(self, out: pd.DataFrame) -> None:
        """Games into the block, bent, and the load of the pair: that usual at the game where not given."""
        game = out["game"].to_numpy(dtype=float)
        basis = self.spline(game)
        out["game_1"] = basis[:, 0]
        out["game_2"] = basis[:, 1] if basis.shape[1] > 1 else 0.0
        usual_load = np.interp(game, np.arange(1, len(self.load_by_game) + 1), self.load_by_game)
        load = pd.to_numeric(out["pair_load"]).to_numpy(dtype=float) if "pair_load" in out else usual_load
        load = np.where(np.isnan(load), usual_load, load)
        out["load_z"] = (load - self.load[0]) / self.load[1]
        if "pair_load" not in out or pd.to_numeric(out["pair_load"]).isna().any():
            out["pair_load"] = load

    def _add_ball(self, out: pd.DataFrame) -> None:
        """Wear, the ball's mean where not given, and strength, bent and with oil and time."""
        if "worn" not in out:
            out["worn"] = np.array([self.worn.get(ball, 0.0) for ball in out["ball"].tolist()], dtype=float)
        mean, sd = self.usual_strength
        strength = (self.strength(out["ball"].tolist(), out["ball_class"].tolist()) - mean) / sd
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
    every = np.arange(1, int(game.max()) + 1)
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
        load_by_game=np.interp(every, per_game.index.to_numpy(dtype=float), per_game.to_numpy(dtype=float)),
        load=mean_and_sd(load, shots),
        balance=dict(zip(balance["bowler"].astype(str), standard, strict=True)),
        strength=strength,
        usual_strength=mean_and_sd(of_cells, shots),
        worn={str(ball): float(mean) for ball, mean in per_ball.items()},
        games=(int(game.min()), int(game.max())),
    )
