"""The leader of each game: every ball compared, played as advised for its phase, priced game by game.

The balls and how each is played come from the answer by phase (``advice/ball_by_phase.py``), so the ball advised here
is the one that the cards and the plan name.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.arrays import Draws
from pipeline.decisions.advice.ball_by_phase import Advised, advised, shots_so
from pipeline.decisions.advice.next_line import phase_named
from pipeline.decisions.candidates import TRIED, Candidates, CellKey, candidates, priceable, weight_of_lines
from pipeline.decisions.estimates import estimates
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import Lead
from pipeline.decisions.season.summary import game_scores
from pipeline.decisions.shrinkage import shift
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.rate_draws import average_score, followed_rate_draws, mean_in_cells, rate_draws
from pipeline.pricing.worth_curves import reach
from pipeline.store.season import Season


@dataclass(frozen=True)
class _Game:
    """One game on one class: its cell, and the candidates' places of its balls, line by line."""

    cell: CellKey
    game: int
    places: list[int]


def leads(fitted: Fitted) -> list[Lead]:
    """A row for each ball compared in each game logged often enough; of a game's balls the advised one comes first."""
    options, answers = candidates(fitted), advised(fitted)
    games = _games(fitted.season, options, answers)
    result: list[Lead] = []
    for bowler in sorted({game.cell[0] for game in games}):
        mine = [game for game in games if game.cell[0] == bowler]
        for game, pins in zip(mine, _priced(fitted.fits, options, answers, bowler, mine), strict=True):
            result += _of_game(options, answers[game.cell], game, pins)
    return result


def _games(season: Season, options: Candidates, answers: dict[CellKey, Advised]) -> list[_Game]:
    logged = game_scores(season).groupby(["bowler", "pattern_class", "game", "phase"], as_index=False).size()
    result = []
    for (bowler, pattern_class), part in logged.groupby(["bowler", "pattern_class"], sort=True):
        phase_at = dict(zip(part["game"].astype(int), part["phase"].astype(str), strict=True))
        for game in reach(part.rename(columns={"size": "shots"}), "game", 1).astype(int).tolist():
            cell = (str(bowler), str(pattern_class), phase_at.get(game, ""))
            if cell in answers:
                ways = answers[cell].ways
                places = [int(i) for i in options.places[cell] if options.choices[int(i)]["ball"] in ways]
                result.append(_Game(cell, game, places))
    return result


def _priced(
    fits: Fits, options: Candidates, answers: dict[CellKey, Advised], bowler: str, games: list[_Game]
) -> list[dict[str, Draws]]:
    """For each game: ball -> draws (n,) of its worth in it, played as the answer plays it in that phase."""
    at = [i for game in games for i in game.places]
    number = np.repeat(np.arange(len(games)), [len(game.places) for game in games])
    rows = options.rows.iloc[at].reset_index(drop=True)
    grid = priceable(rows).assign(game=np.array([game.game for game in games])[number])
    cell = pd.DataFrame({"number": number, "ball": rows["ball"]}).groupby(["number", "ball"], sort=False).ngroup()
    average = average_score(fits, bowler)
    moving = followed_rate_draws(fits, grid, cell.to_numpy(), weight_of_lines(rows)).score()
    mix = mean_in_cells(moving, number, weight_of_lines(rows))
    ways = [answers[games[k].cell].ways[str(ball)] for k, ball in zip(number, rows["ball"], strict=True)]
    staying = np.flatnonzero([way.keeps_line and way.at == i for way, i in zip(ways, at, strict=True)])
    if len(staying):
        moving[:, staying] = rate_draws(fits, grid.iloc[staying]).score()
    moving += shift(moving, mix, rows["shots"].to_numpy() >= TRIED)
    result: list[dict[str, Draws]] = [{} for _ in games]
    for column, (k, i, way) in enumerate(zip(number, at, ways, strict=True)):
        if way.at == i:
            result[k][str(rows["ball"].iloc[column])] = moving[:, column] - average
    return result


def _of_game(options: Candidates, answer: Advised, game: _Game, pins: dict[str, Draws]) -> list[Lead]:
    drawn = np.column_stack(list(pins.values()))
    worth = dict(zip(pins, estimates(drawn), strict=True))
    best = dict(zip(pins, probability_best(drawn).tolist(), strict=True))
    order = sorted(pins, key=lambda ball: (ball != answer.ball, -worth[ball].mean))
    bowler, pattern_class, phase = game.cell
    return [
        Lead(
            bowler=bowler,
            pattern_class=pattern_class,
            game=game.game,
            phase=phase_named(phase),
            ball=ball,
            ball_name=str(options.choices[answer.ways[ball].at]["ball_name"]),
            keeps_line=answer.ways[ball].keeps_line,
            line=answer.ways[ball].line,
            advised=ball == answer.ball,
            worth=worth[ball],
            p_best=best[ball] if len(pins) > 1 else None,
            shots=shots_so(options, answer.ways[ball]),
        )
        for ball in order
    ]
