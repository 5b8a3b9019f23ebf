"""The steps of a plan, from the ball of each game: how it is played, and when to change."""

from __future__ import annotations

from itertools import groupby

from pipeline.arrays import Draws
from pipeline.decisions.candidates import ChoiceRow
from pipeline.decisions.estimates import estimate
from pipeline.decisions.plan.choices import Options
from pipeline.decisions.plan.triggers import in_a_stretch
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import PlanStep
from pipeline.decisions.wording.triggers import FewStrikes, InHand, going_on, to_the_backup

Stretch = tuple[int, list[int]]
"""A ball's place among the options, and games counted from 0."""


def steps_of(options: Options, order: list[int]) -> list[PlanStep]:
    """One step per stretch of games with one ball played in one way."""

    def played(game: int) -> tuple[int, str | None]:
        row = options.rows[order[game]]
        return order[game], row["lines"][game] if row["keeps"][game] else None

    runs: list[Stretch] = [(key[0], list(games)) for key, games in groupby(range(len(order)), key=played)]
    steps = []
    for i, (k, games) in enumerate(runs):
        trigger, likely = "", None
        if i + 1 < len(runs):
            # In the first stretch a bad game means the backup.
            sooner = in_a_stretch(options.strike[:, games, k].mean(axis=0)) if i else None
            trigger, likely = _going_on(options, k, runs[i + 1], sooner)
        steps.append(_step(options, k, games, trigger, likely))
    return steps


def _going_on(options: Options, now: int, after: Stretch, sooner: FewStrikes | None) -> tuple[str, float | None]:
    then, (game, *_) = after
    likely = None if then == now else float((options.pins[:, game, then] > options.pins[:, game, now]).mean())
    tried = bool(options.tried[game, now])
    old, new = _at(options.rows[now], game - 1), _at(options.rows[then], game)
    return going_on(game + 1, old, new, likely if tried else None, sooner), likely


def _at(row: ChoiceRow, game: int) -> InHand:
    """A ball as it is played in one game."""
    return InHand(row["ball"], row["ball_name"], row["lines"][game], row["keeps"][game])


def _step(options: Options, choice: int, games: list[int], trigger: str, p_going_on: float | None = None) -> PlanStep:
    pins = options.pins[:, games, :].mean(axis=1)
    row = options.rows[choice]
    keeps = bool(row["keeps"][games[0]])
    boards = [row["boards"][game] for game in games]
    start = None if keeps else boards[0]
    moves = start is not None and len(games) > 1
    return PlanStep(
        from_game=games[0] + 1,
        to_game=games[-1] + 1,
        ball=row["ball"],
        ball_name=row["ball_name"],
        line=row["lines"][games[0]],
        keeps_line=keeps,
        start_board=start,
        boards_a_game=(boards[-1] - boards[0]) / (len(games) - 1) if moves else None,
        worth=estimate(pins[:, choice]),
        p_best=_p_best(options, pins, games[0], choice),
        shots=row["shots"],
        shots_elsewhere=row["shots_elsewhere"],
        trigger=trigger,
        p_going_on=p_going_on,
    )


def _p_best(options: Options, pins: Draws, game: int, choice: int) -> float | None:
    """Probability that the ball beats all others tried in the phase of that game; None if there is no other."""
    tried = options.tried[game].copy()
    tried[choice] = True
    alone = tried.sum() == 1
    return None if alone else float(probability_best(pins[:, tried])[int(tried[:choice].sum())])


def backup_of(options: Options, order: list[int]) -> PlanStep | None:
    """The best other ball over the first stretch; None if only one was tried then."""
    first = [g for g, k in enumerate(order) if k == order[0]]
    others = [k for k in range(len(options.rows)) if k != order[0] and options.tried[0, k]]
    if not others:
        return None
    mean = options.pins[:, first, :].mean(axis=(0, 1))
    best = max(others, key=lambda k: float(mean[k]))
    return _step(options, best, first, to_the_backup(in_a_stretch(options.strike[:, first, order[0]].mean(axis=0))))
