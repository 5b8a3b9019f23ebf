"""The worth model: strike on a first delivery by ball, line, pattern and game, as a mixed logistic model over counts.

It answers what a ball on a line is worth in total, not given the entry board, through which ball and line act.
``pipeline/models/strikes/strike_by_entry.py`` holds the model of the entry board itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.arrays import Floats
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.codings import Codings
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric
from pipeline.inference.mixed_logit.named_effects import Group, MixedLogit, ModelMatrices, build_matrices
from pipeline.inference.mixed_logit.sd_priors import LogNormal
from pipeline.models.balls.ball_strength import BallStrength, ball_strength, by_class
from pipeline.models.lines.entry_slope import PRIOR, EntrySlope, entry_slope
from pipeline.models.lines.line_cost import SQUARE, LineCost, line_cost
from pipeline.models.lines.usual_line import UsualLine, learn_usual_line
from pipeline.models.notes import Note
from pipeline.models.strike_cells import STRIKE_CELLS
from pipeline.models.strikes.few_nights import nights_thrown, of_few_nights
from pipeline.models.strikes.pattern_effects import PATTERN_GROUPS, beyond_logged
from pipeline.models.strikes.stretches import MOVES, STRETCH, latest
from pipeline.models.strikes.worth_cells import cells_along
from pipeline.models.strikes.worth_covariates import Covariates, learn_covariates
from pipeline.models.strikes.worth_notes import NO_BALL_CLASS, layout_notes, share_notes
from pipeline.models.subsample import Subsample
from pipeline.sport.lane import NO_LINE
from pipeline.sport.oil import OIL
from pipeline.store.season import EmptySeasonError, Season

Playing = Literal["followed", "kept"]
"""What becomes of a line as the lane changes; see ``WorthFit.strike_draws``."""
_NAMES = ("bowler", "pattern_class", "ball", "line")

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
SHARED_EFFECTS = tuple(replace(part, shared=True) for part in _OF_A_KIND)
_LOST = "lost_off_line"


def _lost(cost: LineCost) -> Numeric:
    """A multiple of the cost of a line off the lane's that entry boards predict."""
    return Numeric(_LOST, cost.multiplier_sd, mean=-1.0)


# How strength pays: logits for one sd more of it and of the length or volume, or later into the block. The common rule
# puts strong balls on long and heavy oil and takes them off a burnt lane; without it, a ball hardly thrown on some oil
# was judged by what it does on other oil. What balls and classes do beyond the rule is left to the groups below.
GRIP = (Numeric("grip_length", 0.1), Numeric("grip_volume", 0.1), Numeric("grip_late", 0.05))
# Logits for every ten games since the ball's resurfacing; as in ``ball_wear.py``. Balls differ too little in it to tell
# here. It is not taken from each ball's own mean, so that the season's wear tells part of what sets balls apart.
_WORN = Numeric("worn", 0.1)
SCALE_MULTIPLIER = LogNormal(0.35, 0.6)
"""What is believed of the multiplier that scales every sd of ``SHARED_EFFECTS``; our own choice.

It is learned, for a fixed one made predictions of new blocks too far apart.
"""
_NODES = 32  # points over the sds; against 256, sds of one choice less another differ by 0.4 % on the sample season
# How far classes of ball differ by pattern and in time says nothing of how far lines do, so their sds are learned apart
# from the common multiplier: under it intervals of time were too narrow and those of lines too wide (see the recovery
# study). So were those of time without a slope of each ball's own, and those of what suits a bowler without bowler x
# line and bowler x pattern class. The scale of what is left to a bowler's ball on a pattern class is small on purpose,
# for ball, oil and the usual line hold most of it; a real effect still comes through (see the tests). Lines of one ball
# on one class beyond that were left out: they only widened the rest.
# Scales of ball, of class by pattern and of class in time are small since strength and grip hold most of what they
# held before: with wider ones balls were stated too far apart, and so was the gain of the best (see DECISIONS.md).
GROUPS = (
    Group(("bowler",)),
    Group(("bowler", "block"), usual_only=True, sd_scale=0.5),
    Group(("ball",), sd_scale=0.1),
    Group(("ball_class", "pattern_class"), sd_scale=0.05),
    Group(("ball_class",), slope="game_1", sd_scale=0.03),
    Group(("ball",), slope="game_1", sd_scale=0.04),
    Group(("bowler", "pattern_class"), sd_scale=0.04),
    Group(("bowler", "line"), sd_scale=0.02),
    Group(("bowler", "pattern_class", "ball"), sd_scale=0.04),
    *PATTERN_GROUPS,
)


@dataclass
class WorthFit:
    """The fitted worth model.

    ``notes``: what was missing. ``shots``: first deliveries used.
    ``ball_classes``: ball id -> ball class. ``games``: highest game logged. ``model``: the mixed model beneath.
    ``usual_line``: where lines are usually played. ``slope``: how far the entry board moves with one at the arrows.
    ``now``: the stretch of nights that is predicted if a grid names none; None if there is only one.
    ``nights``: blocks each choice was thrown in, as ``few_nights.py`` counts them.
    """

    notes: list[Note]
    shots: int
    ball_classes: dict[str, str]
    games: int
    model: MixedLogit
    covariates: Covariates
    usual_line: UsualLine
    slope: EntrySlope
    now: str | None = None
    nights: dict[str, int] = field(default_factory=dict)

    def frame(self, grid: pd.DataFrame) -> pd.DataFrame:
        """``grid`` with every column the model reads; a missing line is its own level."""
        out, _ = self._prepared(grid)
        return out.assign(**{_LOST: self.usual_line.lost(out)})

    def _prepared(self, grid: pd.DataFrame) -> tuple[pd.DataFrame, Codings]:
        """The same without what is lost off the line, and the codings of its columns."""
        columns: dict[str, Any] = {str(name): grid[name].array for name in grid}
        columns |= {name: np.asarray(columns[name], dtype=object) for name in _NAMES}  # quicker to tell apart than text
        columns["line"] = _filled(columns["line"], NO_LINE)
        given = columns.get("ball_class", np.full(len(grid), None, dtype=object))
        kinds = zip(columns["ball"].tolist(), _filled(given, NO_BALL_CLASS).tolist(), strict=True)
        columns["ball_class"] = _objects([self.ball_classes.get(ball, kind) for ball, kind in kinds])
        if self.now is not None and STRETCH not in columns:
            columns[STRETCH] = np.full(len(grid), self.now, dtype=object)
        codings: Codings = {}
        self.covariates.add_to(columns, codings)
        return pd.DataFrame(columns), codings

    @property
    def lines_logged(self) -> bool:
        """Whether any line was logged to learn the usual one from."""
        return bool(self.usual_line.effects.any())

    def usual_boards(self, grid: pd.DataFrame) -> Floats:
        """Boards at the arrows (rows,) where each row's ball is usually played; ``grid`` as in ``strike_draws``."""
        return self.usual_line.boards(self._prepared(grid)[0])

    def lost_off_line(self, grid: pd.DataFrame) -> Floats:
        """Log odds (rows,) that each row's line is taken to cost on a usual night, less the mean over the season."""
        multiplier = self.model.fit.fixed[self.model.design.labels().index(_LOST)]
        return np.asarray(-multiplier * self.frame(grid)[_LOST].to_numpy(dtype=float))

    def as_thrown(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells of ``worth_cells`` with every column the model reads, by the boards played and the lane that night."""
        frame = self.frame(cells)
        return frame.assign(**{_LOST: self.usual_line.lost_as_thrown(frame)})

    def as_followed(self, grid: pd.DataFrame) -> pd.DataFrame:
        """``grid`` with every column the model reads, each line following the lane."""
        return self._prepared(grid)[0].assign(**{_LOST: 0.0})

    def prepare(self, n: int, rng: np.random.Generator) -> None:
        """Make the draws of this ``n`` now, as the first call that asks for them would."""
        self.model.draws(n, rng)

    def relearned(self, cells: pd.DataFrame) -> tuple[pd.DataFrame, WorthFit]:
        """Some of the cells ready to learn from, and the fit with the usual line learned from them alone."""
        frame = self.frame(cells)
        usual, lost = learn_usual_line(frame, self.usual_line.cost)
        return frame.assign(**{_LOST: lost}), replace(self, usual_line=usual)

    def logit_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats:
        """Draws of the log odds of a strike on a usual night, shape (n, len(grid)); ``grid`` as in ``strike_draws``."""
        return self._logits(self.frame(grid), n, rng)

    def strike_draws(self, grid: pd.DataFrame, n: int, rng: np.random.Generator, line: Playing = "kept") -> Floats:
        """Posterior draws of the strike probability, shape (n, len(grid)), in a block of average luck, with each ball
        as worn as it was on average.

        ``line`` says what happens to a row's line as the lane changes. A ``followed`` line moves with the lane as
        bowlers do, on a night that asks for about this one. A ``kept`` line is played whatever the lane asks for: the
        probability is the mean over nights, with the error that the few nights of that choice leave.

        ``grid`` needs bowler, pattern_class, game, ball, line; it may have ball_class (for a ball never thrown),
        length_ft, volume_ml, ratio (default: mean of the pattern class), pair_load (default: usual at that game), worn
        (default: the ball's mean; 0, the mean over all shots, for a ball never thrown).
        The draws behind two calls with the same ``n`` are the same, so differences between calls are coherent;
        ``rng`` is used by the first of them. Levels never logged are drawn from their population, and draws widen
        with distance beyond the logged oil or games.
        """
        frame, codings = self._prepared(grid)
        frame[_LOST] = 0.0
        logits = self._logits(frame, n, rng, codings)
        if line == "followed":
            return logistic(logits)
        posterior, base = self.model.draws(n, rng)
        cost_multiplier = posterior.fixed[:, [self.model.design.labels().index(_LOST)]]
        lines = self.usual_line.kept_lines(frame, n, np.random.default_rng([base, 1]))
        return lines.strikes(logits, cost_multiplier, of_few_nights(frame, self.nights, n, base, NO_LINE, codings))

    def _logits(self, frame: pd.DataFrame, n: int, rng: np.random.Generator, codings: Codings | None = None) -> Floats:
        """Draws of the log odds (n, rows) of prepared rows."""
        codings = {} if codings is None else codings
        patterns = self.covariates.patterns.effects(self.model, frame, n, rng, codings)
        out = self.model.logit_draws(frame, n, rng, codings, patterns)
        late = np.where(frame["game"] > self.covariates.games[1], frame["game"], 0)
        out += beyond_logged(self.model, frame.assign(late=late), OIL, self.covariates.novelty(frame), n, rng)
        return out


def _filled(column: Any, missing: str) -> NDArray[np.object_]:
    """A column of names (rows,), ``missing`` for those that are missing."""
    names = np.array(column, dtype=object)
    names[pd.isna(names)] = missing
    return names


def _objects(names: list[str]) -> NDArray[np.object_]:
    objects = np.empty(len(names), dtype=object)
    objects[:] = names
    return objects


def fit_worth(season: Season, subsample: Subsample | None = None) -> WorthFit:
    """Fit the worth model to every first delivery of the season; ``subsample`` as in ``fit_worth_cells``.

    Raises:
        EmptySeasonError: no first delivery was loaded.
    """
    return _season_to_fit(season, subsample).fit()


def _season_to_fit(season: Season, subsample: Subsample | None) -> _ToFit:
    """The season's worth model before its fit; its cells are freed at the end, for a large fit needs their memory."""
    listed, slope = season.frame("cells/ball_numbers"), entry_slope(season)
    classes = dict(zip(listed["ball"].astype(str), listed["ball_class"].astype(str), strict=True))
    cells, balance = cells_along(season, slope), season.frame("cells/bowler_balance")
    strength = ball_strength(cells, listed, slope)
    return _cells_to_fit(cells, balance, classes, subsample, line_cost(season, slope), slope, strength)


def worth_design(cost: LineCost = SQUARE) -> Design:
    """The fixed effects of the worth model, nothing learned yet."""
    return Design((*SHARED_EFFECTS, _lost(cost), _WORN, *GRIP), scale_multiplier=SCALE_MULTIPLIER)


def fit_worth_cells(
    cells: pd.DataFrame,
    balance: pd.DataFrame,
    ball_classes: dict[str, str],
    subsample: Subsample | None = None,
    cost: LineCost = SQUARE,
    slope: EntrySlope = PRIOR,
    strength: BallStrength | None = None,
) -> WorthFit:
    """Fit the worth model to cells as ``worth_cells`` gives them, and ``balance`` as ``cells/bowler_balance``.

    With ``subsample`` only its effects are kept. ``cost`` is the prior of what a line off the lane's costs;
    ``strength`` of each ball, by its class alone if None.

    Raises:
        EmptySeasonError: no cell.
    """
    return _cells_to_fit(cells, balance, ball_classes, subsample, cost, slope, strength).fit()


@dataclass(frozen=True)
class _ToFit:
    """A worth model before its fit.

    ``rows``: cells whose effects are kept; None for all. ``finished``: what makes the whole of the ``model``.
    """

    matrices: ModelMatrices
    rows: pd.DataFrame | None
    finished: Callable[..., WorthFit]

    def fit(self) -> WorthFit:
        model = self.matrices.fit()
        return self.finished(model=model if self.rows is None else model.subset(self.rows))


def _cells_to_fit(
    cells: pd.DataFrame,
    balance: pd.DataFrame,
    ball_classes: dict[str, str],
    subsample: Subsample | None,
    cost: LineCost,
    slope: EntrySlope,
    strength: BallStrength | None,
) -> _ToFit:
    """What ``fit_worth_cells`` fits; arguments and errors as there."""
    if cells.empty:
        raise EmptySeasonError(
            "No first delivery that counts is loaded, fouls aside; load a folder with shot files first."
        )
    covariates = learn_covariates(cells, balance, strength or by_class())
    frame = covariates(cells)
    usual, frame[_LOST] = learn_usual_line(frame, cost)
    now = latest(cells)
    groups = GROUPS if now is None else (*GROUPS, MOVES)
    matrices = build_matrices(worth_design(cost), groups, frame, STRIKE_CELLS, nodes=_NODES)
    rows = None if subsample is None else subsample.select(frame)
    finished = partial(
        WorthFit,
        notes=[*share_notes(cells), *layout_notes(strength)],
        shots=int(cells["shots"].sum()),
        ball_classes=ball_classes,
        games=covariates.games[1],
        covariates=covariates,
        usual_line=usual,
        slope=slope,
        now=now,
        nights=nights_thrown(frame if rows is None else rows),
    )
    return _ToFit(matrices, rows, finished)
