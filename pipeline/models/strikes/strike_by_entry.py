"""The entry model: how a strike depends on the board where the ball meets the pins."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.arrays import Floats
from pipeline.inference.logistic import logistic
from pipeline.inference.mixed_logit.design import Categorical, Design, Numeric, Spline
from pipeline.inference.mixed_logit.named_effects import AVERAGE, Group, MixedLogit, fit_named
from pipeline.models.notes import Note
from pipeline.models.strike_cells import STRIKE_CELLS
from pipeline.models.subsample import Subsample, training_cells
from pipeline.store.season import EmptySeasonError, Season

_KNOTS = 8
_FURTHEST = 7.0  # boards from the pocket beyond which the curve is held level
_MIX_ROWS = 150  # combinations of ball, pattern class and game that stand for a bowler's (or everyone's) usual mix
_ROWS_AT_ONCE = 2_000  # of the mix, over all boards, whose draws are held together
_GROUPS = (
    Group(("bowler",)),
    Group(("bowler", "block"), usual_only=True),
    Group(("ball",)),
)
_USUAL_PARTS: tuple[Numeric | Categorical, ...] = (
    Categorical(("ball_class",), 0.7),
    Categorical(("pattern_class",), 0.7),
    Categorical(("ball_class", "pattern_class"), 0.4),
    Numeric("game_z", 0.5),
    Categorical(("ball_class",), 0.3, "game_z"),
)


@dataclass(frozen=True)
class _Boards:
    """Spline columns of the distance from the pocket's centre; 0 and an indicator if it was not logged."""

    centre: float
    spline: Spline
    game: tuple[float, float]

    def __call__(self, frame: pd.DataFrame) -> pd.DataFrame:
        out = frame.copy()
        out["game_z"] = (out["game"].astype(float) - self.game[0]) / self.game[1]
        off = out["entry_half"].to_numpy(dtype=float) - self.centre
        missing = np.isnan(off)
        basis = self.spline(np.where(missing, 0.0, np.clip(off, -_FURTHEST, _FURTHEST)))
        for place in range(basis.shape[1]):
            out[f"entry_{place + 1}"] = np.where(missing, 0.0, basis[:, place])
        out["not_logged"] = missing.astype(float)
        out["off"] = np.where(missing, 0.0, np.clip(off / 2.0, -3.0, 3.0))
        return out


@dataclass
class EntryFit:
    """The fitted entry model: strike by entry board, given ball class, pattern class and game.

    ``notes``: what was missing; ``shots``: first deliveries used; ``logged``: share of them with an entry board;
    ``boards``: lowest and highest half board logged (nan without any).
    """

    notes: list[Note]
    shots: int
    logged: float
    boards: tuple[float, float]
    model: MixedLogit
    _boards: _Boards
    _cells: pd.DataFrame
    _everyones: pd.DataFrame | None = None  # mix of everyone, if the cells are those of a subsample

    def _mix(self, bowler: str | None) -> tuple[pd.DataFrame, Floats]:
        mix = self._usual(bowler) if bowler is not None or self._everyones is None else self._everyones
        return mix, (mix["shots"] / mix["shots"].sum()).to_numpy(dtype=float)

    def _usual(self, bowler: str | None) -> pd.DataFrame:
        cells = self._cells if bowler is None else self._cells[self._cells["bowler"] == bowler]
        mix = cells.groupby(["bowler", "ball", "ball_class", "pattern_class"], observed=True).agg(
            shots=("shots", "sum"), game=("game", "median")
        )
        return mix.reset_index().nlargest(_MIX_ROWS, "shots")

    def subset(self, subsample: Subsample) -> EntryFit:
        """The same fit with the cells and effects of a subsample, and of the mix that stands for everyone."""
        everyones = self._usual(None)
        rows = pd.concat([subsample.select(self._cells), everyones], ignore_index=True)
        return replace(
            self,
            model=self.model.subset(rows),
            _cells=self._cells[self._cells["bowler"].isin(subsample.bowlers)].reset_index(drop=True),
            _everyones=everyones,
        )

    def prepare(self, n: int, rng: np.random.Generator) -> None:
        """Make the draws of this ``n`` now, as the first call that asks for them would."""
        self.model.draws(n, rng)

    def entry_draws(self, boards: Floats, bowler: str | None, n: int, rng: np.random.Generator) -> Floats:
        """Posterior draws of the strike probability by entry board, shape (n, len(boards)).

        ``bowler`` None means everyone. Balls and pattern classes are mixed as they were thrown.
        """
        mix, weight = self._mix(bowler)
        out = np.empty((n, len(boards)))
        at_once = max(1, _ROWS_AT_ONCE // len(mix))
        for start in range(0, len(boards), at_once):
            some = np.asarray(boards[start : start + at_once], dtype=float)
            rows = mix.loc[mix.index.repeat(len(some))].assign(entry_half=np.tile(some, len(mix)))
            chance = logistic(self.model.logit_draws(self._boards(rows.reset_index(drop=True)), n, rng))
            out[:, start : start + at_once] = np.einsum("nrb,r->nb", chance.reshape(n, len(mix), -1), weight)
        return out

    def board_draws(self, boards: Floats, bowler: str, n: int, rng: np.random.Generator) -> Floats:
        """Draws (n, boards) of what half boards do to the log odds of one bowler's strike, less their mean.

        ``bowler`` may be ``AVERAGE``. Ball, pattern and game add the same at every board and drop out.
        """
        rows = pd.DataFrame({"entry_half": boards}).assign(
            bowler=bowler, ball=AVERAGE, ball_class=AVERAGE, pattern_class=AVERAGE, game=self._boards.game[0]
        )
        draws = self.model.logit_draws(self._boards(rows), n, rng)
        centred: Floats = draws - draws.mean(axis=1, keepdims=True)
        return centred

    def cell_draws(self, n: int, rng: np.random.Generator) -> tuple[pd.DataFrame, Floats]:
        """Cells the model was fitted to, of the subsample alone after ``subset``, and draws (n, cells).

        Cells have shots and strikes; draws are of the strike in blocks of average luck.
        """
        return self._cells, logistic(self.model.logit_draws(self._boards(self._cells), n, rng))


def fit_entry(season: Season, subsample: Subsample | None = None) -> EntryFit:
    """Fit the entry model to every first delivery; those without an entry board keep a level of their own.

    With ``subsample`` it learns from the training bowlers, and keeps the effects of the subsample alone.

    Raises:
        EmptySeasonError: no first delivery was loaded.
    """
    cells = training_cells(season, "cells/entry_cells", subsample)
    if cells.empty:
        raise EmptySeasonError(
            "No first delivery that counts is loaded, fouls aside; load a folder with shot files first."
        )
    shots = cells["shots"].to_numpy(dtype=float)
    seen = cells["entry_half"].notna().to_numpy()
    centre = season.settings.pocket.centre_board
    off = np.clip(cells["entry_half"].to_numpy(dtype=float)[seen] - centre, -_FURTHEST, _FURTHEST)
    game = cells["game"].to_numpy(dtype=float)
    mean = float(np.average(game, weights=shots))
    spread = float(np.sqrt(np.average((game - mean) ** 2, weights=shots))) or 1.0
    boards = _Boards(centre, Spline.learn(off, shots[seen], _KNOTS, tail=0.02), (mean, spread))
    frame = boards(cells)
    columns = [c for c in frame.columns if c.startswith("entry_") and c[6:].isdigit()]
    parts = [*_USUAL_PARTS, *(Numeric(c, 3.0) for c in columns), Numeric("not_logged", 1.0)]
    # The half boards' own effects take up what no smooth curve can: the edge of the pocket is sharp.
    groups = (*_GROUPS, Group(("bowler",), "off"), Group(("entry_half",)))
    logged = float(shots[seen].sum() / shots.sum())
    low, high = (float(off.min() + centre), float(off.max() + centre)) if seen.any() else (np.nan, np.nan)
    fit = EntryFit(
        notes=_notes(logged),
        shots=int(shots.sum()),
        logged=logged,
        boards=(low, high),
        model=fit_named(Design(parts), groups, frame, STRIKE_CELLS),
        _boards=boards,
        _cells=cells,
    )
    return fit if subsample is None else fit.subset(subsample)


def _notes(logged: float) -> list[Note]:
    if logged == 0:
        return [Note("no_entry_board")]
    return [Note("some_entry_boards", share=1 - logged)] if logged < 1 else []
