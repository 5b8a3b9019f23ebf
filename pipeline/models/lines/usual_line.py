"""How far a line lies from where it is usually played: by that bowler, with that ball, on that oil, that late.

Bowlers move with the lane, so where they play says where the lane asks to be played. A line that suits a fresh pattern
lies outside of the usual one an hour later; what that distance costs (``line_cost.py``) carries into the worth model
what no sum of effects of line and game can hold. The usual line is a ridge regression of the lines played, in arrows.

Bowlers also stay where they happened to strike, so a line counts as more usual for the luck it had there. What the
distance costs is therefore learned with each block's usual line taken from the other blocks.

Where boards are logged three things more are known. The very board at the arrows tells more than its line. Entry boards
say how far everybody was behind the lane, by which the usual line is moved on. And what everybody on a pair shows of it
that night (``lane_state.py``) moves the line from which the distance of the next shots there is counted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.design import Design
from pipeline.models.lines.kept_lines import KeptLines, tuned
from pipeline.models.lines.lane_state import LANE, Seen, State, Variances, follow, with_apart
from pipeline.models.lines.line_cost import SQUARE, LineCost
from pipeline.models.lines.line_ridge import OIL, PARTS, LineRidge, numbers
from pipeline.models.lines.lines_seen import Straying, learn_straying
from pipeline.sport.lane import BOARDS_PER_ARROW, LINES

_ARROWS = {line: float(k) for k, line in enumerate(LINES)}


@dataclass(frozen=True)
class UsualLine:
    """The usual line, as a function of the worth model's covariates.

    Attributes:
        design: its columns, levels learned.
        effects: (columns,) in arrows.
        cost: what lies off the line costs.
        mean_cost: mean logits lost over the shots it was learned from, each by how far it lay from what the lane asked
            for that night.
        others: (folds, columns) the effects as the blocks outside each fold alone show them.
        night: how far nights differ; None if no lane was logged.
        patterns: pattern class -> variance of the usual line over the patterns of the class as they were bowled, in
            arrows squared.
        behind: (columns,) effects on how far bowlers lag behind what the lane asks for, in arrows; None without entry
            boards.
        straying: how bowlers come to lie off it.
    """

    design: Design
    effects: Floats
    cost: LineCost = SQUARE
    mean_cost: float = 0.0
    others: Floats | None = None
    night: Variances | None = None
    patterns: Mapping[str, float] = field(default_factory=dict)
    behind: Floats | None = None
    straying: Straying = field(default_factory=Straying)

    def lost(self, frame: pd.DataFrame) -> Floats:
        """Logits lost (rows,) on each row's line on a usual night, less the mean over the season.

        Rows without a line have 0, the mean. A bowler on a line tunes it by up to a board.
        """
        return np.nan_to_num(self.cost(tuned(self._off(frame))) - self.mean_cost)

    def lost_as_thrown(self, frame: pd.DataFrame) -> Floats:
        """The same of cells that were bowled, by the boards played and what the lane asked for that night."""
        arrows = _arrows(frame)
        off, unsure, _ = _off_the_lane(frame, arrows - self.boards(frame) / BOARDS_PER_ARROW, self.night)
        return np.nan_to_num(self.cost.expected(off, unsure) - self.mean_cost)

    def kept(self, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> KeptLines:
        """The lines of the rows, kept whatever the lane does, over ``n`` draws of what is usual.

        The usual line is unsure as leaving out blocks shows it. Nights differ the more, the more the pair was bowled
        on. Where ``any_pattern`` of a row is set, nights on any pattern of the class are meant.
        """
        off = self._off_draws(frame, n, rng)
        load = np.maximum(frame["pair_load"].to_numpy(dtype=float), 0.0)
        patterns = np.array([self.patterns.get(kind, 0.0) for kind in frame["pattern_class"].tolist()], dtype=float)
        variance = np.where(frame["any_pattern"], patterns, 0.0)
        sd = np.sqrt(variance if self.night is None else variance + self.night.at(load))
        return KeptLines(off, sd, self.cost, self.mean_cost)

    def lost_as_seen(self, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats:
        """Logits lost (n, rows) by bowlers seen on each row's line, nights as they come; 0 without a line.

        They are what is lost over what lines as usual there lose.

        They are where they are partly since the lane asks for it, so a line far off the usual one costs less than if
        it were kept, but it costs. Draws are of what is usual.
        """
        return np.nan_to_num(self.straying.lost(self.cost, self._off_draws(frame, n, rng), self._behind(frame)))

    def with_straying(self, frame: pd.DataFrame, apart: Floats, off: Floats, unsure: Floats) -> UsualLine:
        """The same once it is known how bowlers stray, from the cells it was learned from.

        Args:
            frame: the cells.
            apart: arrows (cells,) off the usual line; nan without a line.
            off: arrows (cells,) off what the lane asked for, ``unsure`` their variance.
        """
        behind, shots, known = self._behind(frame), frame["shots"].to_numpy(dtype=float), np.isfinite(apart)
        of_known = (each[known] for each in (apart - behind, off - behind, unsure, shots))
        return replace(self, straying=learn_straying(*of_known))

    def _behind(self, frame: pd.DataFrame) -> Floats:
        """Arrows (rows,) by which bowlers lag behind what the lane asks for."""
        if self.behind is None:
            return np.zeros(len(frame))
        behind: Floats = self.design.sparse(frame) @ self.behind
        return behind

    def boards(self, frame: pd.DataFrame) -> Floats:
        """Boards at the arrows (rows,) usually played."""
        usual: Floats = BOARDS_PER_ARROW * (self.design.sparse(frame) @ self.effects)
        return usual

    def _off_draws(self, frame: pd.DataFrame, n: int, rng: np.random.Generator) -> Floats:
        """Arrows (n, rows) of each row's line inside of the usual one, as unsure as leaving out blocks shows it."""
        columns = self.design.sparse(frame)
        usual = _lines(frame) - columns @ self.effects
        if self.others is None or not len(self.others):
            return np.broadcast_to(usual, (n, len(frame)))
        folds = len(self.others)
        noise = rng.standard_normal((n, folds)) * np.sqrt((folds - 1) / folds)  # the jackknife's covariance
        off: Floats = usual - noise @ (columns @ (self.others - self.others.mean(axis=0)).T).T
        return off

    def _off(self, frame: pd.DataFrame) -> Floats:
        return _lines(frame) - self.boards(frame) / BOARDS_PER_ARROW


def _lines(frame: pd.DataFrame) -> Floats:
    """The line of each row (rows,) in arrows, nan without one."""
    return np.array([_ARROWS.get(line, np.nan) for line in frame["line"].tolist()], dtype=float)


def learn_usual_line(frame: pd.DataFrame, cost: LineCost = SQUARE) -> tuple[UsualLine, Floats]:
    """Learn from cells with ``block``, ``shots`` and the worth model's covariates.

    Columns that tell of the lane may be missing: arrow_board and arrow_variance; off_seen, arrows off the lane by the
    entry boards, with entries and off_variance, of one; pair, hand and pair_load.

    Returns:
        The usual line, and the logits lost (cells,) of each cell as ``UsualLine.lost`` gives it, but each block's by
        what the other blocks alone show, and by the lane that night where it is known; of a single block there are no
        others, and it is the same. Without any line nothing is usual.
    """
    design, arrows = Design(PARTS).learn(frame), _arrows(frame)
    logged = ~np.isnan(arrows)
    if not logged.any():
        return UsualLine(design, np.zeros(len(design.precision())), cost), np.zeros(len(frame))
    shots = frame["shots"].to_numpy(dtype=float)
    ridge = LineRidge.of(design, frame, arrows, shots)
    effects, (usual, others) = ridge.effects(), ridge.of_other_blocks(frame["block"])
    off, unsure, night = _off_the_lane(frame, arrows - usual)
    lost = cost.expected(off, unsure)
    mean = float(np.average(lost[logged], weights=shots[logged]))
    if night is not None:
        night = with_apart(night, frame, _seen(frame, arrows - ridge.columns @ effects))
    patterns = _between_patterns(design, effects, frame, shots)
    learned = UsualLine(design, effects, cost, mean, others, night, patterns, ridge.behind())
    return learned.with_straying(frame, arrows - usual, off, unsure), np.nan_to_num(lost - mean)


def _arrows(frame: pd.DataFrame) -> Floats:
    """Where each cell was played, in arrows: by its boards, else by its line; nan without either."""
    boards = numbers(frame, "arrow_board")
    return np.where(np.isnan(boards), _lines(frame), boards / BOARDS_PER_ARROW)


def _off_the_lane(
    frame: pd.DataFrame, off_usual: Floats, variances: Variances | None = None
) -> tuple[Floats, Floats, Variances | None]:
    """Arrows (cells,) off what the lane asked for that night, their variance, and how far nights differ.

    ``off_usual``: arrows that each cell was played from the usual line; nan without a line, which stays. ``variances``
    are learned if not given.
    """
    state = _lane(frame, off_usual, variances)
    unsure = numbers(frame, "arrow_variance", 0.0) / BOARDS_PER_ARROW**2
    if state is None:
        return off_usual, unsure, None
    return off_usual - state.mean, unsure + state.variance, state.variances


def _between_patterns(design: Design, effects: Floats, frame: pd.DataFrame, shots: Floats) -> dict[str, float]:
    """Variance of the usual line that the oil alone makes within each pattern class, over the shots bowled."""
    labels = design.labels()
    moved = sum(effects[labels.index(column)] * frame[column].to_numpy(dtype=float) for column in OIL)
    found = pd.DataFrame({"kind": frame["pattern_class"].astype(str), "n": shots, "at": moved})
    found = found.assign(first=found["n"] * found["at"], second=found["n"] * found["at"] ** 2)
    sums = found.groupby("kind")[["n", "first", "second"]].sum()
    variance = sums["second"] / sums["n"] - (sums["first"] / sums["n"]) ** 2
    return {str(kind): max(float(value), 0.0) for kind, value in variance.items()}


def _lane(frame: pd.DataFrame, off_usual: Floats, variances: Variances | None) -> State | None:
    """The state of the lane at each cell, where lanes were logged."""
    if not {*LANE, "pair_load"} <= set(frame.columns):
        return None
    return follow(frame, _seen(frame, off_usual), variances)


def _seen(frame: pd.DataFrame, off_usual: Floats) -> Seen:
    """What cells show of the lane, by how far they were played from the usual line."""
    entries = np.maximum(numbers(frame, "entries", 0.0), 1.0)
    noise = numbers(frame, "off_variance", 1.0) / entries
    asked = off_usual - numbers(frame, "off_seen")
    return Seen(off_usual, asked, noise, frame["shots"].to_numpy(dtype=float))
