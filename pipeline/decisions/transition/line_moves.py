"""How the line moved through the block, by bowler, pattern class and target."""

from __future__ import annotations

from typing import Literal, cast

from pipeline.decisions.records import Estimate, LineMove
from pipeline.models.fitted import Fitted, once
from pipeline.models.lines.line_drift import TARGETS, Slope, best_third, slopes_by_class


def line_moves(fitted: Fitted) -> list[LineMove]:
    """Boards per game of laydown, arrow and breakpoint, over all games and over the best-scoring third of them.

    A bowler and pattern class needs the settings' ``min_shots`` with the board logged and a block of two games. Boards
    count from the bowler's own side, so positive is toward the centre of the lane for either hand. The scatter
    between blocks is learned from everybody.
    """
    moves = everybodys_moves(fitted)
    reported = [move for move in moves if move.bowler in fitted.fits.mix.shots]
    return [move for move in reported if move.shots >= fitted.fits.settings.evidence.min_shots]


@once(of=Fitted.everybody)
def everybodys_moves(fitted: Fitted) -> list[LineMove]:
    """The same for everybody, without a minimum of shots."""
    games = fitted.season.frame("cells/game_boards")
    best = best_third(games, fitted.season.frame("cells/game_scores"))
    out = []
    for target in TARGETS:
        high = slopes_by_class(best, target, like=games)
        out += [_move(key, target, slope, high.get(key)) for key, slope in slopes_by_class(games, target).items()]
    return sorted(out, key=lambda move: (move.bowler, move.pattern_class, TARGETS.index(move.target)))


def _move(key: tuple[str, str], target: str, slope: Slope, best: Slope | None) -> LineMove:
    return LineMove(
        bowler=key[0],
        pattern_class=key[1],
        target=cast(Literal["laydown", "arrow", "breakpoint"], target),
        boards_per_game=_estimate(slope),
        best_games_boards_per_game=None if best is None else _estimate(best),
        shots=slope.shots,
    )


def _estimate(slope: Slope) -> Estimate:
    return Estimate(
        mean=slope.boards,
        lo50=slope.quantile(0.25),
        hi50=slope.quantile(0.75),
        lo80=slope.quantile(0.10),
        hi80=slope.quantile(0.90),
        lo95=slope.quantile(0.025),
        hi95=slope.quantile(0.975),
    )
