"""The ball-change ledger: what each change of ball inside a block was worth, and whether it came in time.

Had the bowler stayed, the old ball is taken to have been thrown on the better (by posterior mean) of the line it was
on and the line the bowler went to. From the worth model's draws, game by game:

- gain: the new ball less the old one, in pins per game, over the rest of the block from the game of the change;
- the best moment: the start of the first game in which the new ball was expected to be worth more than the old;
- games late: the moment of the change less the best moment, the change counted in tenths of a game by its frame.

A change is on time within one game of the best moment. Early, on time or late is said where its probability reaches the
settings' ``best_probability``; a draw in which the new ball is never worth more counts as early.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.decisions.candidates import Record, records
from pipeline.decisions.estimates import estimate
from pipeline.decisions.results import BallChange
from pipeline.models.fits import Fits
from pipeline.models.season import Season
from pipeline.models.value import price

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
Timing = Literal["early", "on time", "late", "cannot tell"]
ON_TIME_GAMES = 1.0  # a change within a game of the best moment is on time; our own choice
_KEYS = ["bowler", "pattern_class", "game", "ball", "line", "length_ft", "volume_ml", "ratio"]


def ball_changes(season: Season, fits: Fits) -> list[BallChange]:
    """Every change of ball (spare balls left out) inside a block, by bowler and time; empty without any."""
    changes = records(season.frame("39_ball_changes"))
    if not changes:
        return []
    wanted = pd.concat([_rows(number, change) for number, change in enumerate(changes)], ignore_index=True)
    codes, distinct = _distinct(wanted)
    priced = price(fits, distinct)
    ledger = []
    for number, rows in wanted.groupby("change", sort=True):
        stay, new = _options(rows, codes, priced.pins)
        games = np.sort(rows["game"].unique()).astype(float)
        change = changes[int(str(number))]
        delta = priced.pins[:, new] - priced.pins[:, stay]
        after = games >= change["game"]
        late = games_late(delta, games, change["game"] + (change["frame"] - 1) / 10)
        ledger.append(
            BallChange(
                bowler=str(change["bowler"]),
                date=pd.Timestamp(change["date"]).date(),
                block=str(change["block"]),
                pattern_class=str(change["pattern_class"]),
                game=int(change["game"]),
                from_ball=str(change["from_ball"]),
                to_ball=str(change["to_ball"]),
                shots_before=int(change["shots_before"]),
                shots_after=int(change["shots_after"]),
                strike_before=change["strikes_before"] / change["shots_before"],
                strike_after=change["strikes_after"] / change["shots_after"],
                expected_had_stayed=estimate(priced.strike[:, stay[after]].mean(axis=1)),
                expected_after=estimate(priced.strike[:, new[after]].mean(axis=1)),
                gain=estimate(delta[:, after].mean(axis=1)),
                timing=timing_of(late, fits.settings.evidence.best_probability),
                games_late=_where_it_exists(late),
            )
        )
    return ledger


def games_late(delta: FloatArray, games: FloatArray, moment: float) -> FloatArray:
    """Draws (n,) of the moment of the change less the best moment, in games; infinitely early is -inf.

    ``delta``: (n, games) new ball less old, pins. ``games``: (games,) in order. ``moment``: game of the change, with
    tenths for its frames.
    """
    better = delta > 0
    first = games[better.argmax(axis=1)]
    return np.where(better.any(axis=1), moment - first, -np.inf)


def timing_of(late: FloatArray, level: float) -> Timing:
    """The timing whose probability, over draws of games late (n,), reaches ``level``; else it cannot be told."""
    early, after = float((late < -ON_TIME_GAMES).mean()), float((late > ON_TIME_GAMES).mean())
    options: tuple[tuple[Timing, float], ...] = (("early", early), ("on time", 1 - early - after), ("late", after))
    timing, probability = max(options, key=lambda option: option[1])
    return timing if probability >= level else "cannot tell"


def _where_it_exists(late: FloatArray) -> Any:
    """Games late over the draws that have a best moment; None where most have none."""
    there = late[np.isfinite(late)]
    return estimate(there) if 2 * len(there) > len(late) else None


def _rows(number: int, change: Record) -> pd.DataFrame:
    """Rows to price for one change: every game of the block by old ball on either line and new ball on the new."""
    games = np.arange(int(change["first_game"]), int(change["last_game"]) + 1)
    choices = [
        (change["from_ball"], change["from_line"], "stay"),
        (change["from_ball"], change["to_line"], "stay elsewhere"),
        (change["to_ball"], change["to_line"], "new"),
    ]
    parts = [pd.DataFrame({"game": games, "ball": ball, "line": line, "option": kind}) for ball, line, kind in choices]
    same = {name: change[name] for name in ("bowler", "pattern_class", "length_ft", "volume_ml", "ratio")}
    return pd.concat(parts, ignore_index=True).assign(change=number, **same)


def _distinct(wanted: pd.DataFrame) -> tuple[IntArray, pd.DataFrame]:
    """Row -> place among the distinct rows, and those: many changes ask for the same ball, line and game."""
    codes = wanted.groupby(_KEYS, sort=False, dropna=False).ngroup().to_numpy().astype(np.intp)
    distinct = wanted.loc[~pd.Series(codes).duplicated(), _KEYS].reset_index(drop=True)
    return codes, distinct


def _options(rows: pd.DataFrame, codes: IntArray, pins: FloatArray) -> tuple[IntArray, IntArray]:
    """Columns of ``pins`` for staying (on the better line) and for the new ball, in the order of the games."""
    at = {str(kind): codes[part.sort_values("game").index.to_numpy()] for kind, part in rows.groupby("option")}
    stay, elsewhere = at["stay"], at["stay elsewhere"]
    if pins[:, elsewhere].mean() > pins[:, stay].mean():
        stay = elsewhere
    return stay, at["new"]
