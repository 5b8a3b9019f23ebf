"""The personal strength ladder: every ball of a bowler by boards of hook, measured from the benchmark ball."""

from __future__ import annotations

import numpy as np

from pipeline.decisions.candidates import row_dicts
from pipeline.decisions.estimates import estimates
from pipeline.decisions.records import LadderRung
from pipeline.decisions.wording.balls import catalogue
from pipeline.decisions.wording.names import ball_named
from pipeline.models.balls.ball_hook import HookFit, fit_hook
from pipeline.models.fitted import Fitted


def strength_ladder(fitted: Fitted) -> list[LadderRung]:
    """Rungs by bowler, strongest first; a bowler without logged arrow and entry boards has none.

    Hook is measured at the pins, in boards of entry at the same line. If the benchmark ball was not thrown, or none
    is marked, the most thrown ball is the reference, and no rung is marked as the benchmark.
    """
    cells = fitted.season.frame("cells/hook_cells")
    states = fitted.season.frame("cells/ball_states", usual=fitted.fits.settings.costs.resurface_every_games)
    rungs: list[LadderRung] = []
    for bowler, rows in cells.groupby("bowler", sort=True):
        bag = {str(row["ball"]): row for row in row_dicts(states[states["bowler"] == bowler])}
        marked = [ball for ball, row in bag.items() if row["benchmark"]]
        mine = rows[rows["ball"].isin(list(bag))]
        fit = fit_hook(
            mine, marked[0] if marked else None, fitted.fits.n_draws, fitted.fits.generator(f"hook of {bowler}")
        )
        if fit is not None:
            rungs += _rungs(str(bowler), fit, bag)
    return rungs


def _rungs(bowler: str, fit: HookFit, bag: dict[str, dict[str, object]]) -> list[LadderRung]:
    order = [int(at) for at in np.argsort(-fit.draws.mean(axis=0), kind="stable")]
    hooks = estimates(fit.draws)
    ranked = [fit.balls[at] for at in order]
    return [
        LadderRung(
            bowler=bowler,
            ball=ball,
            ball_name=ball_named(ball),
            benchmark=bool(bag[ball]["benchmark"]) and ball == fit.reference,
            boards_of_hook=hooks[at],
            rank=place + 1,
            catalogue=catalogue(bag[ball]),
            shots=fit.shots[at],
            ball_up=ranked[place - 1] if place else None,
            ball_down=ranked[place + 1] if place + 1 < len(ranked) else None,
        )
        for place, (at, ball) in enumerate(zip(order, ranked, strict=True))
    ]
