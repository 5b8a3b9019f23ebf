"""Changes of ball inside a block: what each was worth, and whether it came in time.

Each ball is priced on whichever of two lines suits it better (by posterior mean): the one before the change or the one
after. So a move made with the change is not credited to the ball. From the worth model's draws, game by game:

- gain: the new ball less the old one, in pins per game, over the games from the change to the next change of ball;
- the best moment: the start of the first game with the old ball in hand in which the new one was expected to be worth
  more, and not before the old one was taken in hand;
- games late: the moment of the change less the best moment, both counted in tenths of a game by their frames.

A change is on time within one game of the best moment, and not called for if the new ball is worth more in no game left
of the block. One of the four timings is named if its probability reaches the settings' ``best_probability``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.arrays import Floats
from pipeline.decisions.candidates import ChoiceRow, row_dicts
from pipeline.decisions.estimates import estimate, estimates
from pipeline.decisions.records import TIMINGS, BallChange, ChangesInAll, Estimate, Timing
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.rate_draws import rate_draws

IntArray = npt.NDArray[np.intp]
ON_TIME_GAMES = 1.0  # a change within a game of the best moment is on time; our own choice
_LANE = ["bowler", "pattern_class", "pattern", "length_ft", "volume_ml", "ratio"]
_KEYS = [*_LANE, "game", "ball", "line"]
_OPTIONS = (("from_ball", "from_line"), ("from_ball", "to_line"), ("to_ball", "from_line"), ("to_ball", "to_line"))


@dataclass(frozen=True)
class Outlook:
    """Draws of one change over the games of its block, (games, n): staying and changing.

    ``stay_line``, ``new_line``: the lines assumed for the old and the new ball.
    """

    games: Floats
    stay_line: str | None
    new_line: str | None
    stay_score: Floats
    stay_strike: Floats
    new_score: Floats
    new_strike: Floats

    def span(self, row: ChoiceRow) -> npt.NDArray[np.bool_]:
        """The games (games,) from the change to the next change of ball; ``row`` of ``queries/cells/ball_changes``."""
        return (self.games >= row["game"]) & (self.games <= row["until_game"])

    def gain(self, row: ChoiceRow) -> Floats:
        """Draws (n,) of the pins per game gained by the change over those games."""
        gain: Floats = (self.new_score - self.stay_score)[self.span(row)].mean(axis=0)
        return gain


def ball_changes(fitted: Fitted) -> tuple[list[BallChange], list[ChangesInAll]]:
    """Every change of ball (spare balls left out) inside a block, by bowler and time, and each bowler's on average."""
    changes = fitted.season.frame("cells/ball_changes")
    ledger, in_all = [], []
    # One bowler at a time keeps the draws of a large season out of memory.
    for _, mine in changes.groupby("bowler", sort=True):
        expected = outlooks(fitted.fits, mine)
        gains = [part.gain(row) for part, row in zip(expected, row_dicts(mine), strict=True)]
        ledger += _ledger(fitted.fits, mine, expected, gains)
        in_all.append(_in_all(mine, gains))
    return ledger, in_all


def _in_all(changes: pd.DataFrame, gains: list[Floats]) -> ChangesInAll:
    """All changes of one bowler, from draws (n,) of each one's gain; a shot between two changes counts once."""
    average = np.mean(gains, axis=0)
    return ChangesInAll(
        bowler=str(changes["bowler"].iloc[0]),
        changes=len(changes),
        gain=estimate(average),
        p_gain=float((average > 0).mean()),
        shots=int((changes["shots_before"] + changes["shots_after"] - changes["shots_again"]).sum()),
    )


def _ledger(fits: Fits, changes: pd.DataFrame, expected: list[Outlook], gains: list[Floats]) -> list[BallChange]:
    rows = row_dicts(changes)
    both = [(part, part.span(row)) for part, row in zip(expected, rows, strict=True)]
    stay = _means([part.stay_strike[then] for part, then in both])
    new = _means([part.new_strike[then] for part, then in both])
    gain = estimates(np.column_stack(gains))
    ledger = []
    for at, row in enumerate(rows):
        part = expected[at]
        late = games_late(part.new_score - part.stay_score, part.games, in_hand(row), moment(row))
        timing, probability = timing_of(late)
        ledger.append(
            BallChange(
                bowler=str(row["bowler"]),
                date=pd.Timestamp(row["date"]).date(),
                block=str(row["block"]),
                pattern_class=str(row["pattern_class"]),
                game=int(row["game"]),
                from_ball=str(row["from_ball"]),
                to_ball=str(row["to_ball"]),
                shots_before=int(row["shots_before"]),
                shots_after=int(row["shots_after"]),
                strike_before=row["strikes_before"] / row["shots_before"],
                strike_after=row["strikes_after"] / row["shots_after"],
                expected_had_stayed=stay[at],
                expected_after=new[at],
                gain=gain[at],
                timing=timing if probability >= fits.settings.evidence.best_probability else "cannot tell",
                timing_probability=probability,
                games_late=_where_it_exists(late),
            )
        )
    return ledger


def moment(row: ChoiceRow) -> float:
    """Time of the change: its game plus a tenth per frame before; ``row`` of ``cells/ball_changes``."""
    return float(row["game"] + (row["frame"] - 1) / 10)


def in_hand(row: ChoiceRow) -> float:
    """Time at which the old ball had been taken in hand, counted the same way."""
    return float(row["from_game"] + (row["from_frame"] - 1) / 10)


def games_late(delta: Floats, games: Floats, since: float, changed: float) -> Floats:
    """Draws (n,) of the moment of the change less the best moment, in games; -inf if there is no best moment.

    ``delta``: (games, n) new ball less old, pins. ``games``: (games,) in order. ``since``: when the old ball was taken
    in hand, and ``changed`` when it was changed: in games, with tenths for frames.
    """
    held = games >= np.floor(since)
    better = delta[held] > 0
    first = games[held][better.argmax(axis=0)]
    # Rounded, since a gap of exactly one game must come out as one.
    return np.where(better.any(axis=0), np.round(changed - np.maximum(first, since), 6), -np.inf)


def timing_of(late: Floats) -> tuple[Timing, float]:
    """The most likely timing over draws of games late (n,), and its probability."""
    return max(zip(TIMINGS[:-1], timing_shares(late).tolist(), strict=True), key=lambda option: option[1])


def timing_shares(late: Floats) -> Floats:
    """Share of the draws of games late (n,) for each of ``TIMINGS`` that is clear."""
    never = np.isneginf(late)
    early, after = (late < -ON_TIME_GAMES) & ~never, late > ON_TIME_GAMES
    return np.array([early.mean(), (~early & ~after & ~never).mean(), after.mean(), never.mean()])


def _where_it_exists(late: Floats) -> Estimate | None:
    """Games late over the draws that have a best moment; None if most have none."""
    there = late[np.isfinite(late)]
    return estimate(there) if 2 * len(there) > len(late) else None


def _means(parts: list[Floats]) -> list[Estimate]:
    """Estimates of each change's mean over its games."""
    return estimates(np.column_stack([part.mean(axis=0) for part in parts]))


def outlooks(fits: Fits, changes: pd.DataFrame) -> list[Outlook]:
    """Expected worth of every change (rows of ``queries/cells/ball_changes``), in the order of the rows."""
    grid, lengths = _grid(changes)
    codes, distinct = _distinct(grid)
    rates = rate_draws(fits, distinct)
    # Choices along the first axis, so taking some of them copies contiguous memory.
    score, strike = np.ascontiguousarray(rates.score().T), np.ascontiguousarray(rates.strike.T)
    means = score.mean(axis=1)
    games, lines = grid["game"].to_numpy(dtype=float), grid["line"].to_numpy(dtype=object)
    result, start = [], 0
    for length in lengths:
        # Rows of one change stand together: its games by option, each ball on the line left and on the line gone to.
        block = codes[start : start + len(_OPTIONS) * length].reshape(len(_OPTIONS), length)
        worth = means[block].mean(axis=1)
        stay, go = int(worth[:2].argmax()), 2 + int(worth[2:].argmax())
        result.append(
            Outlook(
                games=games[start : start + length],
                stay_line=lines[start + stay * length],
                new_line=lines[start + go * length],
                stay_score=score[block[stay]],
                stay_strike=strike[block[stay]],
                new_score=score[block[go]],
                new_strike=strike[block[go]],
            )
        )
        start += len(_OPTIONS) * length
    return result


def _grid(changes: pd.DataFrame) -> tuple[pd.DataFrame, list[int]]:
    """Rows to price, options within changes and games within options; and the number of games of each change."""
    first = changes["first_game"].to_numpy(dtype=int)
    lengths = changes["last_game"].to_numpy(dtype=int) - first + 1
    options = len(_OPTIONS)
    change = np.repeat(np.arange(len(changes)), options * lengths)
    option = np.concatenate([np.repeat(np.arange(options), length) for length in lengths])
    game = np.concatenate([np.tile(np.arange(f, f + k), options) for f, k in zip(first, lengths, strict=True)])
    picked: dict[str, npt.NDArray[np.object_]] = {}
    for column, side in (("ball", 0), ("line", 1)):
        table = np.column_stack([changes[pair[side]].to_numpy(dtype=object) for pair in _OPTIONS])
        picked[column] = table[change, option]
    same = changes[_LANE].iloc[change].reset_index(drop=True)
    return same.assign(game=game, **picked), [int(length) for length in lengths]


def _distinct(grid: pd.DataFrame) -> tuple[IntArray, pd.DataFrame]:
    """Place of each row among the distinct rows, and these: many changes need the same ball, line and game."""
    codes = grid.groupby(_KEYS, sort=False, dropna=False).ngroup().to_numpy().astype(np.intp)
    distinct = grid.loc[~pd.Series(codes).duplicated(), _KEYS].reset_index(drop=True)
    return codes, distinct
