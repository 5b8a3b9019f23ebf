"""The worth model: strike on a first delivery by ball, line, pattern and game, as a mixed logistic model over counts.

It answers what a ball on a line is worth in all, so it does not look at the entry board: ball and line act through it.
``pipeline/models/strike_by_entry.py`` holds the model of the entry board itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import pandas as pd
from scipy.special import expit

from pipeline.inference.mixed_logit.arrowhead import Floats
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric, Spline
from pipeline.inference.mixed_logit.named_effects import Group, MixedLogit, build_matrices
from pipeline.inference.mixed_logit.sd_priors import LogNormal
from pipeline.models.ball_strength import BallStrength, ball_strength, by_class
from pipeline.models.entry_slope import BELIEVED, EntrySlope, entry_slope
from pipeline.models.few_nights import nights_thrown, of_few_nights
from pipeline.models.line_cost import SQUARE, LineCost, line_cost
from pipeline.models.pattern_effects import PATTERN_GROUPS, UsualPatterns, beyond_logged
from pipeline.models.stretches import MOVES, STRETCH, latest, with_stretches
from pipeline.models.strike_by_entry import EntryFit, fit_entry
from pipeline.models.strike_cells import STRIKE_CELLS
from pipeline.models.subsample import Subsample
from pipeline.models.usual_line import UsualLine, learn_usual_line
from pipeline.sport.lane import BOARDS_PER_ARROW
from pipeline.store.season import LOAD_STEP, EmptySeasonError, Season

__all__ = ["EntryFit", "WorthFit", "fit_entry", "fit_worth", "fit_worth_cells", "worth_cells"]

_COARSE_LOAD_STEP = 60  # of a large log, whose cells would be half as many again for a load that enters linearly
Playing = Literal["followed", "kept"]
"""What becomes of a line as the lane changes; see ``WorthFit.strike_draws``."""
NO_LINE = "line not logged"
NO_BALL_CLASS = "ball not listed"
_NAMES = ("bowler", "pattern_class", "ball", "line")
_OIL = ("length_ft", "volume_ml", "ratio")
_LEAST_SLOPE = -0.1  # boards of entry for a board at the arrows; a flatter one says nothing of the lane
_ENTRY_VARIANCE = 2.0  # boards squared of one entry board about its mean, where no cell has two
_SAME = 0.01  # standard deviations that are no distance: means of equal numbers differ in the last digit
_STRONGEST = 2.5  # standard deviations of strength beyond which its square grows no more
_FULLY_NEW = 4.0  # standard deviations beyond which nothing more is unlearned

_OF_A_KIND: tuple[Numeric | Categorical, ...] = (
    Categorical(("ball_class",), 0.7),
    Categorical(("pattern_class",), 0.7),
    Categorical(("line",), 0.7),
    Categorical(("line", "pattern_class"), 0.25),
    Numeric("game_1", 0.7),
    Numeric("game_2", 0.5),
    Categorical(("line",), 0.2, "game_1"),
    Categorical(("line",), 0.15, "length_ft_z"),
    Categorical(("pattern_class",), 0.3, "game_1"),
    Numeric("load_z", 0.5),
    Numeric("length_ft_z", 0.5),
    Numeric("volume_ml_z", 0.3),
    Numeric("ratio_z", 0.3),
    Numeric("balance_z", 0.5),
    Numeric("balance_urethane", 0.5),
    Numeric("strength", 0.3),
    Numeric("strength_bend", 0.3),
)
_SHARED = tuple(replace(part, shared=True) for part in _OF_A_KIND)
_LOST = "lost_off_line"


def _lost(cost: LineCost) -> Numeric:
    """A factor of what entry boards foretell that a line off the lane's costs."""
    return Numeric(_LOST, cost.unsure, mean=-1.0)


# How strength pays: logits for one sd more of it and of the length or volume, or later into the block. The common rule
# puts strong balls on long and heavy oil and takes them off a burnt lane; without it, a ball hardly thrown on some oil
# was judged by what it does on other oil. What balls and classes do beyond the rule is left to the groups below.
_GRIP_OVER = {"grip_length": "length_ft_z", "grip_volume": "volume_ml_z", "grip_late": "game_1"}
GRIP = (Numeric("grip_length", 0.1), Numeric("grip_volume", 0.1), Numeric("grip_late", 0.05))
# Logits for every ten games since the ball's resurfacing; as in ``ageing.py``. Balls differ too little in it to tell
# here. It is not taken from each ball's own mean, so that the season's wear tells part of what sets balls apart.
_WORN = Numeric("worn", 0.1)
SCALE_MULTIPLIER = LogNormal(0.35, 0.6)
"""What is believed of the factor that scales every sd of ``_SHARED``; our own choice.

It is learned, for a fixed one made predictions of new blocks too far apart.
"""
_NODES = 32  # points over the sds; against 256, sds of one choice less another differ by 0.4 % on the sample season
# How far classes of ball differ by pattern and in time says nothing of how far lines do, so their sds are learned apart
# from the common factor: under it intervals of time were too narrow and those of lines too wide (see the recovery
# study). So were those of time without a slope of each ball's own, and those of what suits a bowler without bowler x
# line and bowler x pattern class. The scale of what is left to a bowler's ball on a pattern class is small on purpose,
# for ball, oil and the usual line hold most of it; a real effect still comes through (see the tests). Lines of one ball
# on one class beyond that were left out: they only made the rest less sure.
GROUPS = (
    Group(("bowler",)),
    Group(("bowler", "block"), usual_only=True, sd_scale=0.5),
    Group(("ball",), sd_scale=0.5),
    Group(("ball_class", "pattern_class"), sd_scale=0.2),
    Group(("ball_class",), slope="game_1", sd_scale=0.08),
    Group(("ball",), slope="game_1", sd_scale=0.04),
    Group(("bowler", "pattern_class"), sd_scale=0.04),
    Group(("bowler", "line"), sd_scale=0.02),
    Group(("bowler", "pattern_class", "ball"), sd_scale=0.04),
    *PATTERN_GROUPS,
)


def worth_cells(season: Season) -> pd.DataFrame:
    """The season's counts without the entry board, one row per cell; see ``queries/cells/worth_cells``.

    ``worn``: tens of games on the ball's surface in that block, less the mean over all shots; 0 where unknown.
    Once a season is limited to some bowlers, both are counted of their deliveries and with their own balls alone.
    """
    return _cells(season, entry_slope(season))


def _cells(season: Season, slope: EntrySlope) -> pd.DataFrame:
    cells = season.frame("cells/worth_cells", load_step=_COARSE_LOAD_STEP if season.large() else LOAD_STEP)
    wear = season.frame("cells/ball_wear", usual=season.settings.costs.resurface_every_games)
    tens = cells[["ball", "block"]].merge(wear, how="left")["games_since_resurface"].astype(float) / 10
    mean, _ = _mean_and_sd(tens, cells["shots"])
    cells = with_stretches(season, cells.assign(worn=(tens - mean).fillna(0.0)))
    return off_the_lane(cells, slope.mean)


def off_the_lane(cells: pd.DataFrame, slope: float) -> pd.DataFrame:
    """Cells with ``off_seen``, arrows by which they lay off what the lane asked for, as their entry boards say.

    Entry boards are taken about the bowler's own mean. ``off_variance`` is that of one shot. Both are missing where no
    entry board was logged, or hardly moves with the arrow board.

    Args:
        cells: those of ``cells/worth_cells``.
        slope: boards that the entry board moves with one at the arrows.
    """
    entries = cells["entries"].astype(float)
    logged = entries > 0
    if slope > _LEAST_SLOPE or not logged.any():
        return cells.assign(off_seen=np.nan, off_variance=1.0)
    means = _mean_by(cells["entry_board"][logged], entries[logged], cells["bowler"][logged])
    off = (cells["entry_board"].astype(float) - cells["bowler"].map(means)) / (slope * BOARDS_PER_ARROW)
    within = float(np.average(cells["entry_variance"][logged], weights=entries[logged]))
    more = float((entries[logged] - 1).clip(lower=0).sum())
    variance = within * float(entries[logged].sum()) / more if more > 0 else _ENTRY_VARIANCE
    return cells.assign(off_seen=off, off_variance=max(variance, _ENTRY_VARIANCE / 4) / (slope * BOARDS_PER_ARROW) ** 2)


@dataclass(frozen=True)
class _Covariates:
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
        given_oil = [pd.to_numeric(out[column]).notna() for column in _OIL if column in out]
        out["any_pattern"] = ~np.any(given_oil, axis=0) if given_oil else np.ones(len(out), dtype=bool)
        place = self.usual_oil.index.get_indexer(pd.Index(out["pattern_class"]))  # -1, the last, where never posted
        for column in _OIL:
            usual = np.append(self.usual_oil[column].to_numpy(dtype=float), np.nan)[place]
            given = pd.to_numeric(out[column]).to_numpy(dtype=float) if column in out else usual
            value = np.where(np.isnan(given), usual, given)
            mean, sd, low, high = self.oil[column]
            nothing = np.isnan(value) | (not np.isfinite(low))  # never logged: what it does is not known
            inside = np.clip(value, low, high)  # no trend is known to go on
            out[column], out[f"{column}_z"] = value, np.where(nothing, 0.0, (inside - mean) / sd)
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
        if "worn" not in out:
            out["worn"] = np.array([self.worn.get(ball, 0.0) for ball in out["ball"].tolist()], dtype=float)
        mean, sd = self.usual_strength
        strength = (self.strength(out["ball"].tolist(), out["ball_class"].tolist()) - mean) / sd
        out["strength"] = strength
        out["strength_bend"] = np.minimum(strength**2, _STRONGEST**2) - 1.0
        for name, over in _GRIP_OVER.items():
            out[name] = strength * out[over]
        balance = np.array([self.balance.get(bowler, 0.0) for bowler in out["bowler"].tolist()], dtype=float)
        out["balance_z"] = balance
        out["balance_urethane"] = balance * (out["ball_class"] == "urethane").to_numpy(dtype=float)
        return out

    def novelty(self, frame: pd.DataFrame) -> Floats:
        """How far each prepared row lies beyond what was logged, in standard deviations (0 inside)."""
        squared = np.zeros(len(frame))
        for column in _OIL:
            _, sd, low, high = self.oil[column]
            value = frame[column].to_numpy(dtype=float)
            squared += np.nan_to_num(np.maximum(np.maximum(low - value, value - high) / sd - _SAME, 0.0)) ** 2
        beyond = np.maximum(frame["game"].to_numpy(dtype=float) - self.games[1], 0.0)
        squared += (beyond / max(1.0, (self.games[1] - self.games[0]) / 2)) ** 2
        return np.minimum(np.sqrt(squared), _FULLY_NEW)


def _mean_and_sd(values: pd.Series, weights: pd.Series) -> tuple[float, float]:
    held = values.notna()
    if not held.any():
        return 0.0, 1.0
    mean = float(np.average(values[held], weights=weights[held]))
    sd = float(np.sqrt(np.average((values[held] - mean) ** 2, weights=weights[held])))
    return mean, sd if sd > 1e-6 else 1.0


def _mean_by(values: pd.Series, weights: pd.Series, by: pd.Series) -> pd.Series:
    """Weighted mean of each level of ``by``."""
    means: pd.Series = (values * weights).groupby(by).sum() / weights.groupby(by).sum()
    return means


def _learn(cells: pd.DataFrame, balance: pd.DataFrame, strength: BallStrength) -> _Covariates:
    shots = cells["shots"].astype(float)
    oil, usual = {}, {}
    for column in _OIL:
        values = pd.to_numeric(cells[column]).astype(float)
        mean, sd = _mean_and_sd(values, shots)
        low, high = (float(values.min()), float(values.max())) if values.notna().any() else (-np.inf, np.inf)
        oil[column] = (mean, sd, low, high)
        known = values.notna()
        usual[column] = _mean_by(values[known], shots[known], cells["pattern_class"][known])
    game: Floats = cells["game"].to_numpy(dtype=float)
    load = cells["pair_load"].astype(float)
    per_game = _mean_by(load, shots, cells["game"])
    every = np.arange(1, int(game.max()) + 1)
    ratio = (balance["rev_rpm"] / balance["speed_mph"]).astype(float)
    mean, sd = _mean_and_sd(ratio, pd.Series(1.0, index=ratio.index))
    standard = ((ratio - mean) / sd).fillna(0.0)
    of_cells = pd.Series(strength(cells["ball"].tolist(), cells["ball_class"].tolist()), index=cells.index)
    worn = cells["worn"] if "worn" in cells else pd.Series(0.0, index=cells.index)
    per_ball = _mean_by(worn, shots, cells["ball"])
    spline = Spline.learn(game, np.asarray(shots, dtype=np.float64), 3)
    return _Covariates(
        spline=spline,
        oil=oil,
        usual_oil=pd.DataFrame(usual),
        patterns=UsualPatterns.learn(cells),
        load_by_game=np.interp(every, per_game.index.to_numpy(dtype=float), per_game.to_numpy(dtype=float)),
        load=_mean_and_sd(load, shots),
        balance=dict(zip(balance["bowler"].astype(str), standard, strict=True)),
        strength=strength,
        usual_strength=_mean_and_sd(of_cells, shots),
        worn={str(ball): float(mean) for ball, mean in per_ball.items()},
        games=(int(game.min()), int(game.max())),
    )


@dataclass
class WorthFit:
    """The fitted worth model.

    ``notes``: plain sentences on what was missing and how it was met. ``shots``: first deliveries used.
    ``ball_classes``: ball id -> ball class. ``games``: highest game logged. ``model``: the mixed model beneath.
    ``usual_line``: where lines are usually played. ``slope``: how far the entry board moves with one at the arrows.
    ``now``: the stretch of nights that is predicted if a grid names none; None if there is one alone.
    ``nights``: blocks each choice was thrown in, as ``few_nights.py`` counts them.
    """

    notes: list[str]
    shots: int
    ball_classes: dict[str, str]
    games: int
    model: MixedLogit
    covariates: _Covariates
    usual_line: UsualLine
    slope: EntrySlope
    now: str | None = None
    nights: dict[str, int] = field(default_factory=dict)

    def frame(self, grid: pd.DataFrame) -> pd.DataFrame:
        """``grid`` with every column the model reads; a missing line is its own level."""
        out = grid.reset_index(drop=True).astype(dict.fromkeys(_NAMES, object))  # quicker to tell apart than text
        lines, balls = out["line"].tolist(), out["ball"].tolist()
        given = out["ball_class"].tolist() if "ball_class" in out else [None] * len(out)
        out["line"] = pd.Series([NO_LINE if pd.isna(line) else line for line in lines], dtype=object)
        told = [NO_BALL_CLASS if pd.isna(kind) else kind for kind in given]
        listed = [self.ball_classes.get(ball, kind) for ball, kind in zip(balls, told, strict=True)]
        out["ball_class"] = pd.Series(listed, dtype=object)
        if self.now is not None and STRETCH not in out:
            out[STRETCH] = self.now
        out = self.covariates(out)
        return out.assign(**{_LOST: self.usual_line.lost(out)})

    @property
    def lines_logged(self) -> bool:
        """Whether any line was logged to learn the usual one from."""
        return bool(self.usual_line.effects.any())

    def usual_boards(self, grid: pd.DataFrame) -> Floats:
        """Boards at the arrows (rows,) where each row's ball is usually played; ``grid`` as in ``strike_draws``."""
        return self.usual_line.boards(self.frame(grid))

    def as_thrown(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells of ``worth_cells`` with every column the model reads, by the boards played and the lane that night."""
        frame = self.frame(cells)
        return frame.assign(**{_LOST: self.usual_line.lost_as_thrown(frame)})

    def as_followed(self, grid: pd.DataFrame) -> pd.DataFrame:
        """``grid`` with every column the model reads, its lines where bowlers are who move with the lane."""
        return self.frame(grid).assign(**{_LOST: 0.0})

    def prepare(self, n: int, rng: np.random.Generator) -> None:
        """Make the draws of this ``n`` now, as the first call that asks for them would."""
        self.model.draws(n, rng)

    def relearned(self, cells: pd.DataFrame) -> tuple[pd.DataFrame, WorthFit]:
        """Some of the cells ready to learn from, and the fit with the usual line as they alone show it."""
        frame = self.frame(cells)
        usual, lost = learn_usual_line(frame, self.usual_line.cost)
        return frame.assign(**{_LOST: lost}), replace(self, usual_line=usual)

    def logit_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats:
        """Draws of the log odds of a strike on a usual night, shape (n, len(grid)); ``grid`` as in ``strike_draws``."""
        return self._logits(self.frame(grid), n, rng)

    def strike_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator, line: Playing = "kept") -> Floats:
        """Posterior draws of the strike probability, shape (n, len(grid)), in a block of average luck, with each ball
        as worn as it was on average.

        ``line`` says what becomes of a row's line as the lane changes. A line ``followed`` lies where bowlers are who
        move with the lane, on a night that asks for about this one. A line ``kept`` is played whatever the lane asks
        for, and the probability is the mean over nights, as unsure as the few nights of that choice leave it.

        ``grid`` needs bowler, pattern_class, game, ball, line; it may have ball_class (for a ball never thrown),
        length_ft, volume_ml, ratio (default: mean of the pattern class), pair_load (default: usual at that game), worn
        (default: the ball's mean; 0, the mean over all shots, for a ball never thrown).
        The draws behind two calls with the same ``n`` are the same, so differences between calls are coherent;
        ``rng`` is used by the first of them. Levels never logged are drawn from their population, and oil or games
        beyond those logged widen the draws the more the further they lie.
        """
        frame = self.frame(grid)
        posterior, base = self.model.draws(n, rng)
        logits = self._logits(frame.assign(**{_LOST: 0.0}), n, rng)
        if line == "followed":
            return expit(logits)
        scale_multiplier = posterior.fixed[:, [self.model.design.labels().index(_LOST)]]
        nights = list(self.usual_line.lost_by_night(frame, n, np.random.default_rng([base, 1])))
        mean = np.add.reduce([share * lost for share, lost in nights])
        apart = np.sqrt(np.add.reduce([share * (lost - mean) ** 2 for share, lost in nights]))
        logits += of_few_nights(frame, self.nights, n, base, NO_LINE) * apart * np.abs(scale_multiplier)
        return np.add.reduce([share * expit(logits + scale_multiplier * lost) for share, lost in nights])

    def _logits(self, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats:
        """Draws of the log odds (n, rows) of prepared rows."""
        out = self.model.logit_draws(frame, n, rng)
        out += self.covariates.patterns.draws(self.model, frame, n, rng)
        late = np.where(frame["game"] > self.covariates.games[1], frame["game"], 0)
        out += beyond_logged(self.model, frame.assign(late=late), _OIL, self.covariates.novelty(frame), n, rng)
        return out


def _share_notes(cells: pd.DataFrame) -> list[str]:
    shots = cells["shots"].sum()
    notes = []
    for column, label, words in (
        ("line", NO_LINE, "have no arrow board: they keep a line of their own, 'line not logged'"),
        (
            "ball_class",
            NO_BALL_CLASS,
            "were thrown with a ball that balls.csv does not list: they keep a class of their own",
        ),
        ("pattern_class", "unposted", "were bowled on a pattern nobody posted: they keep a pattern class of their own"),
    ):
        share = cells.loc[cells[column] == label, "shots"].sum() / shots
        if share > 0:
            notes.append(f"{max(share, 0.001):.1%} of first deliveries {words}.")
    return notes


def _layout_notes(strength: BallStrength | None) -> list[str]:
    if strength is None or not strength.unread:
        return []
    balls = "1 ball" if strength.unread == 1 else f"{strength.unread} balls"
    return [f"The layout of {balls} does not say how far the pin lies from the axis, so it tells nothing of the hook."]


def fit_worth(season: Season, subsample: Subsample | None = None) -> WorthFit:
    """Fit the worth model to every first delivery of the season; ``subsample`` as in ``fit_worth_cells``.

    Raises:
        EmptySeasonError: no first delivery was loaded.
    """
    listed = season.connection.execute("SELECT ball, ball_class FROM ball_classes").fetchall()
    classes = {str(ball): str(kind) for ball, kind in listed}
    slope = entry_slope(season)
    cells, balance = _cells(season, slope), season.frame("cells/bowler_balance")
    strength = ball_strength(cells, season.frame("cells/ball_numbers"), slope)
    return fit_worth_cells(cells, balance, classes, subsample, line_cost(season, slope), slope, strength)


def prior_sds() -> dict[str, float]:
    """Prior sd of each kind of fixed effect by name, in logits, before the shared factor."""
    return {part.column if isinstance(part, Numeric) else part.name: part.sd for part in _SHARED}


def worth_design(cost: LineCost = SQUARE) -> Design:
    """The fixed effects of the worth model, nothing learned yet."""
    return Design((*_SHARED, _lost(cost), _WORN, *GRIP), scale_multiplier=SCALE_MULTIPLIER)


def fit_worth_cells(
    cells: pd.DataFrame,
    balance: pd.DataFrame,
    ball_classes: dict[str, str],
    subsample: Subsample | None = None,
    cost: LineCost = SQUARE,
    slope: EntrySlope = BELIEVED,
    strength: BallStrength | None = None,
) -> WorthFit:
    """Fit the worth model to cells as ``worth_cells`` gives them, and ``balance`` as ``cells/bowler_balance``.

    With ``subsample`` only its effects are kept. ``cost`` is what a line off the lane's costs beforehand; ``strength``
    says how strong each ball is, without it by class alone.

    Raises:
        EmptySeasonError: no cell.
    """
    if cells.empty:
        raise EmptySeasonError(
            "No first delivery that counts is loaded, fouls aside; load a folder with shot files first."
        )
    covariates = _learn(cells, balance, strength or by_class())
    frame = covariates(cells)
    usual, frame[_LOST] = learn_usual_line(frame, cost)
    now = latest(cells)
    groups = GROUPS if now is None else (*GROUPS, MOVES)
    posed = build_matrices(worth_design(cost), groups, frame, STRIKE_CELLS, nodes=_NODES)
    rows = None if subsample is None else subsample.select(frame)
    notes, shots = [*_share_notes(cells), *_layout_notes(strength)], int(cells["shots"].sum())
    nights = nights_thrown(frame if rows is None else rows)
    del cells, frame  # of a huge log there is no room for them beside the factor
    model = posed.fit()
    return WorthFit(
        notes=notes,
        shots=shots,
        ball_classes=ball_classes,
        games=covariates.games[1],
        model=model if rows is None else model.subset(rows),
        covariates=covariates,
        usual_line=usual,
        slope=slope,
        now=now,
        nights=nights,
    )
