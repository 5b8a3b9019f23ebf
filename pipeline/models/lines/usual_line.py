"""How far a line lies from where it is usually played: by that bowler, with that ball, on that oil, that late.

Bowlers move with the lane, so their lines show what the lane asks for. A line that suits a fresh pattern lies outside
of the usual one an hour later. The cost of that distance (``line_cost.py``) gives the worth model an interaction that
no sum of effects of line and game can hold. The usual line is a ridge regression of the lines played, in arrows.

Bowlers also stay where they happened to strike, so luck makes a line look usual. The cost of the distance is therefore
learned with each block's usual line taken from the other blocks.

Logged boards add three things. The board at the arrows is more exact than its line. Entry boards show how far everybody
was behind the lane, and the usual line is moved by that. Everybody's shots on a pair that night (``lane_state.py``)
move the line from which the distance of the next shots there is measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from scipy import sparse

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.arrowhead import SymmetricLU
from pipeline.inference.mixed_logit.codings import Codes
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric
from pipeline.models.lines.kept_lines import KeptLines
from pipeline.models.lines.lane_state import LANE, Seen, State, Variances, follow, with_choice_variance
from pipeline.models.lines.line_cost import SQUARE, LineCost
from pipeline.sport.lane import BOARDS_PER_ARROW, LINES

_ARROWS = {line: float(k) for k, line in enumerate(LINES)}
_FOLDS = 8  # of blocks, each left out in turn
_ASTRAY = 0.6 / BOARDS_PER_ARROW  # see DECISIONS.md, "How far does everybody play from the best line?"
# Prior sds in arrows, against lines that scatter by about one arrow; our own choice.
_OIL = ("length_ft_z", "volume_ml_z", "ratio_z")
_PARTS: tuple[Numeric | Categorical, ...] = (
    *(Numeric(column, 1.0) for column in ("game_1", "game_2", "load_z", *_OIL)),
    Categorical(("pattern_class",), 0.45),
    Categorical(("ball_class",), 0.3),
    Categorical(("ball",), 0.2),
    Categorical(("bowler",), 0.3),
)
# How far bowlers are behind the lane on average, in arrows, by the same parts; one bowler's entry
# boards say nothing about it, since everybody has a usual entry board.
_BEHIND: tuple[Numeric | Categorical, ...] = tuple(
    replace(part, sd=0.01 if isinstance(part, Categorical) and part.columns == ("bowler",) else 0.3 * part.sd)
    for part in _PARTS
)


@dataclass(frozen=True)
class UsualLine:
    """The usual line, as a function of the worth model's covariates.

    Attributes:
        design: its columns, levels learned.
        effects: (columns,) in arrows.
        cost: logits lost by distance off the line.
        mean_cost: mean logits lost over the shots it was learned from, each by its distance from what the lane asked
            for that night.
        others: (folds, columns) the effects learned from the blocks outside each fold.
        night: variances between nights; None if no lane was logged.
        patterns: pattern class -> variance of the usual line over the patterns of the class as they were bowled, in
            arrows squared.
        astray: sd of the distance, in arrows, between where all bowlers together usually play and where strikes are
            best; no log shows on which side they err.
    """

    design: Design
    effects: Floats
    cost: LineCost = SQUARE
    mean_cost: float = 0.0
    others: Floats | None = None
    night: Variances | None = None
    patterns: Mapping[str, float] = field(default_factory=dict)
    astray: float = 0.0

    def lost(self, frame: pd.DataFrame) -> Floats:
        """Logits lost (rows,) on each row's line on a usual night, less the mean over the season.

        Rows without a line have 0, the mean. A bowler on a line tunes it by up to a board.
        """
        return np.nan_to_num(self.cost.tuned(self._off(frame)) - self.mean_cost)

    def lost_as_thrown(self, frame: pd.DataFrame) -> Floats:
        """Logits lost on cells (cells,) as bowled, by the boards played and what the lane asked for that night."""
        arrows = _arrows(frame)
        lost, _ = _lost_as_thrown(frame, arrows - self.boards(frame) / BOARDS_PER_ARROW, self.cost, self.night)
        return np.nan_to_num(lost - self.mean_cost)

    def kept_lines(self, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> KeptLines:
        """The lines of the rows, kept whatever the lane does, over ``n`` draws of what is usual.

        The usual line varies as leaving out blocks shows (a jackknife), and lies off the best by a distance that all
        rows share. Nights differ more the more the pair was bowled on. A row with ``any_pattern`` set means nights on
        any pattern of the class.
        """
        columns = self.design.sparse(frame)
        usual = _lines(frame) - columns @ self.effects
        off = np.broadcast_to(usual, (n, len(frame)))
        if self.others is not None and len(self.others):
            folds = len(self.others)
            noise = rng.standard_normal((n, folds)) * np.sqrt((folds - 1) / folds)  # the jackknife's covariance
            off = usual - noise @ (columns @ (self.others - self.others.mean(axis=0)).T).T
        if self.astray > 0:
            off = off - self.astray * rng.standard_normal((n, 1))
        load = np.maximum(frame["pair_load"].to_numpy(dtype=float), 0.0)
        patterns = np.array([self.patterns.get(kind, 0.0) for kind in frame["pattern_class"].tolist()], dtype=float)
        variance = np.where(frame["any_pattern"], patterns, 0.0)
        sd = np.sqrt(variance if self.night is None else variance + self.night.at(load))
        return KeptLines(off, sd, self.cost, self.mean_cost)

    def boards(self, frame: pd.DataFrame) -> Floats:
        """Boards at the arrows (rows,) usually played."""
        usual: Floats = BOARDS_PER_ARROW * (self.design.sparse(frame) @ self.effects)
        return usual

    def _off(self, frame: pd.DataFrame) -> Floats:
        return _lines(frame) - self.boards(frame) / BOARDS_PER_ARROW


def _lines(frame: pd.DataFrame) -> Floats:
    """The line of each row (rows,) in arrows, nan without one."""
    return np.array([_ARROWS.get(line, np.nan) for line in frame["line"].tolist()], dtype=float)


@dataclass(frozen=True)
class _Sums:
    """What a ridge regression needs of its cells: columns by columns, and columns by the lines played in arrows."""

    squares: sparse.csr_array
    products: Floats

    @classmethod
    def of(cls, columns: sparse.csr_array, arrows: Floats, shots: Floats) -> _Sums:
        """From cells: ``columns`` (cells, columns), ``arrows`` (cells,), nan without a line, and ``shots`` (cells,)."""
        weighted = sparse.diags_array(np.where(np.isnan(arrows), 0.0, shots)) @ columns
        return cls((columns.T @ weighted).tocsr(), weighted.T @ np.nan_to_num(arrows))

    def without(self, some: _Sums) -> _Sums:
        """Those of the other cells."""
        return _Sums(self.squares - some.squares, self.products - some.products)

    def effects(self, sd: Floats) -> Floats:
        """Effects (columns,) under normal priors with these sds."""
        scale = sparse.diags_array(sd)
        matrix = (scale @ self.squares @ scale + sparse.eye_array(len(sd))).tocsc()
        order = np.argsort(np.diff(matrix.indptr), kind="stable")  # balls, bowlers, then what nearly every cell has
        return sd * SymmetricLU.of(matrix[order][:, order].tocsc(), order).solve(sd * self.products)


def _folds(blocks: pd.Series) -> Iterator[Codes]:
    """The cells of each fold of blocks; none of a single block."""
    codes, names = pd.factorize(blocks)
    fold = np.random.default_rng(0).permutation(len(names)) % _FOLDS
    for k in range(min(_FOLDS, len(names)) if len(names) > 1 else 0):
        yield np.flatnonzero(fold[codes] == k)


def learn_usual_line(frame: pd.DataFrame, cost: LineCost = SQUARE) -> tuple[UsualLine, Floats]:
    """Learn from cells with ``block``, ``shots`` and the worth model's covariates.

    Columns about the lane may be missing: arrow_board and arrow_variance; off_seen, arrows off the lane by the
    entry boards, with entries and off_variance, of one; pair, hand and pair_load.

    Returns:
        The usual line, and the logits lost (cells,) as ``UsualLine.lost_as_thrown`` gives them, but with each block's
        usual line learned from the other blocks (from itself, if it is the only one). Without any line logged all
        effects and losses are 0.
    """
    design, arrows = Design(_PARTS).learn(frame), _arrows(frame)
    logged = ~np.isnan(arrows)
    if not logged.any():
        return UsualLine(design, np.zeros(len(design.precision())), cost), np.zeros(len(frame))
    shots = frame["shots"].to_numpy(dtype=float)
    ridge = _Ridge.of(design, frame, arrows, shots)
    effects, (usual, others) = ridge.effects(), ridge.of_other_blocks(frame["block"])
    lost, night = _lost_as_thrown(frame, arrows - usual, cost)
    mean = float(np.average(lost[logged], weights=shots[logged]))
    if night is not None:
        night = with_choice_variance(night, frame, _seen(frame, arrows - ridge.columns @ effects))
    patterns = _between_patterns(design, effects, frame, shots)
    return UsualLine(design, effects, cost, mean, others, night, patterns, _ASTRAY), np.nan_to_num(lost - mean)


def _arrows(frame: pd.DataFrame) -> Floats:
    """Where each cell was played, in arrows: by its boards, else by its line; nan without either."""
    boards = _numbers(frame, "arrow_board")
    return np.where(np.isnan(boards), _lines(frame), boards / BOARDS_PER_ARROW)


def _lost_as_thrown(
    frame: pd.DataFrame, off_usual: Floats, cost: LineCost, variances: Variances | None = None
) -> tuple[Floats, Variances | None]:
    """Logits lost (cells,) off what the lane asked for that night, and the variances, learned if not given.

    ``off_usual``: arrows that each cell was played from the usual line; nan without a line, which stays.
    """
    state = _lane(frame, off_usual, variances)
    variance = _numbers(frame, "arrow_variance", 0.0) / BOARDS_PER_ARROW**2
    if state is None:
        return cost.expected(off_usual, variance), None
    return cost.expected(off_usual - state.mean, variance + state.variance), state.variances


def _between_patterns(design: Design, effects: Floats, frame: pd.DataFrame, shots: Floats) -> dict[str, float]:
    """Variance of the usual line within each pattern class that is due to the oil, over the shots bowled."""
    labels = design.labels()
    moved = sum(effects[labels.index(column)] * frame[column].to_numpy(dtype=float) for column in _OIL)
    lines = pd.DataFrame({"kind": frame["pattern_class"].astype(str), "n": shots, "at": moved})
    lines = lines.assign(first=lines["n"] * lines["at"], second=lines["n"] * lines["at"] ** 2)
    sums = lines.groupby("kind")[["n", "first", "second"]].sum()
    variance = sums["second"] / sums["n"] - (sums["first"] / sums["n"]) ** 2
    return {str(kind): max(float(value), 0.0) for kind, value in variance.items()}


@dataclass(frozen=True)
class _Ridge:
    """The two ridge regressions of the usual line: lines played, and their distance from the lane's by entry boards."""

    columns: sparse.csr_array
    sds: tuple[Floats, Floats]
    targets: tuple[Floats, Floats]
    weights: tuple[Floats, Floats]

    @classmethod
    def of(cls, design: Design, frame: pd.DataFrame, arrows: Floats, shots: Floats) -> _Ridge:
        behind = Design(_BEHIND, intercept_sd=0.01, levels=design.levels)
        sds = design.precision() ** -0.5, behind.precision() ** -0.5
        entries, noise = _numbers(frame, "entries", 0.0), _numbers(frame, "off_variance", 1.0)
        return cls(design.sparse(frame), sds, (arrows, _numbers(frame, "off_seen")), (shots, entries / noise))

    def _sums(self, rows: Codes | slice) -> tuple[_Sums, ...]:
        columns = self.columns[rows]
        return tuple(_Sums.of(columns, y[rows], w[rows]) for y, w in zip(self.targets, self.weights, strict=True))

    def _solved(self, sums: tuple[_Sums, ...]) -> Floats:
        played = sums[0].effects(self.sds[0])
        return played - sums[1].effects(self.sds[1]) if np.isfinite(self.targets[1]).any() else played

    def effects(self) -> Floats:
        """Effects (columns,) of the usual line, by all blocks."""
        return self._solved(self._sums(slice(None)))

    def of_other_blocks(self, blocks: pd.Series) -> tuple[Floats, Floats | None]:
        """The usual line (cells,) by the other blocks, and the effects (folds, columns) behind it, or None."""
        all_blocks, usual, others = self._sums(slice(None)), self.columns @ self.effects(), []
        for fold in _folds(blocks):
            rest = tuple(a.without(b) for a, b in zip(all_blocks, self._sums(fold), strict=True))
            others.append(self._solved(rest))
            usual[fold] = self.columns[fold] @ others[-1]
        return usual, np.array(others) if others else None


def _numbers(frame: pd.DataFrame, column: str, otherwise: float = np.nan) -> Floats:
    """A column (cells,), ``otherwise`` where it has no value; ``otherwise`` throughout if there is no such column."""
    if column not in frame:
        return np.full(len(frame), otherwise)
    values: Floats = pd.to_numeric(frame[column]).to_numpy(dtype=float, na_value=np.nan)
    return np.where(np.isnan(values), otherwise, values)


def _lane(frame: pd.DataFrame, off_usual: Floats, variances: Variances | None) -> State | None:
    """The state of the lane at each cell; None if no lane was logged."""
    if not {*LANE, "pair_load"} <= set(frame.columns):
        return None
    return follow(frame, _seen(frame, off_usual), variances)


def _seen(frame: pd.DataFrame, off_usual: Floats) -> Seen:
    """Evidence of the lane's state by cell, from their distance to the usual line."""
    entries = np.maximum(_numbers(frame, "entries", 0.0), 1.0)
    noise = _numbers(frame, "off_variance", 1.0) / entries
    asked = off_usual - _numbers(frame, "off_seen")
    return Seen(off_usual, asked, noise, frame["shots"].to_numpy(dtype=float))
