"""Invented answers on ball, line and lane: worth, playbook, transition and moves."""

from __future__ import annotations

import numpy as np

from pipeline.decisions import records as r
from tests.reports.invented_names import BALLS, BOWLERS, LINES, PATTERNS, estimate


def worths(rng: np.random.Generator, bowler: str, pattern: str) -> list[r.ComboWorth]:
    rows = []
    for phase in r.PHASES:
        chances = rng.dirichlet(np.full(12, 0.3))
        for place in range(12):
            ball = list(BALLS)[place // 2 % 5]
            line = LINES[(place + len(phase)) % 4]
            shots = int(rng.integers(4, 220))
            worth = float(rng.normal(0, 7))
            rows.append(
                r.ComboWorth(
                    bowler=bowler,
                    pattern_class=pattern,
                    phase=phase,
                    ball=ball,
                    ball_name=BALLS[ball][0],
                    ball_class=BALLS[ball][1],
                    line=line,
                    shots=shots,
                    worth=estimate(worth, 40 / np.sqrt(shots + 10)),
                    worth_following=estimate(worth + 1, 40 / np.sqrt(shots + 10)),
                    raw_worth=worth + float(rng.normal(0, 4)),
                    strike=estimate(0.45 + worth / 100, 0.05),
                    p_best=float(chances[place]),
                    p_200=0.4,
                    ranked=shots > 40,
                    shots_needed=0 if shots > 40 else 60,
                )
            )
    return rows


def playbook(combos: list[r.ComboWorth]) -> list[r.PhaseAdvice]:
    rows = []
    for bowler in BOWLERS:
        for pattern in PATTERNS:
            for phase in r.PHASES:
                cell = [c for c in combos if (c.bowler, c.pattern_class, c.phase) == (bowler, pattern, phase)]
                ranked = sorted((c for c in cell if c.ranked), key=lambda c: -c.worth.mean)
                empty = pattern == "short" and phase == "late"
                best, second = ranked[0], ranked[1]
                rows.append(
                    r.PhaseAdvice(
                        bowler=bowler,
                        pattern_class=pattern,
                        phase=phase,
                        from_game={"fresh": 1, "transition": 3, "late": 5}[phase],
                        to_game={"fresh": 2, "transition": 4}.get(phase),
                        best=None if empty else best.model_copy(update={"p_best": 0.87}),
                        runner_up=None if empty else second,
                        margin=None if empty else estimate(best.worth.mean - second.worth.mean, 2.5),
                        gain_over_now=None if empty else _gain(best, second),
                        policy=None if empty else _policy(best),
                        verdict="not enough shots" if empty else "settled" if phase == "fresh" else "leaning",
                        shots_needed=60 if empty else 0 if phase == "fresh" else 480,
                        why_neither="" if empty else "After game 4 nothing is likely enough to be better.",
                        move=None if empty else _move(best),
                        change=None,
                        sentence=f"On {pattern} patterns, {phase}: {best.ball_name} from the {best.line} was worth "
                        f"{best.worth.mean:+.1f} pins per game.",
                    )
                )
    return rows


def _gain(best: r.ComboWorth, second: r.ComboWorth) -> r.GainOverNow:
    return r.GainOverNow(
        gain=estimate(best.worth.mean - second.worth.mean + 1.0, 2.0),
        p_gain=0.84,
        share_now=0.3,
        games=30,
        pins_a_season=30 * (best.worth.mean - second.worth.mean + 1.0),
        instead_of_ball=second.ball,
        instead_of_line=second.line,
        sentence=f"Throw {best.ball_name} from the {best.line} instead of {second.ball_name}.",
    )


def _policy(best: r.ComboWorth) -> r.Policy:
    return r.Policy(
        ball=best.ball,
        ball_name=best.ball_name,
        keeps_line=False,
        line=None,
        start_board=14.2,
        boards_a_game=1.4,
        boards_for_one_high=3.1,
        worth=best.worth_following,
        p_best=0.71,
        shots=best.shots + 12,
        sentence=f"Play the {best.ball_name} from about board 14 at the arrows and move with the lane.",
    )


def _move(best: r.ComboWorth) -> r.NextStep:
    return r.NextStep(
        from_game=3,
        ball=best.ball,
        ball_name=best.ball_name,
        line="third arrow",
        over_ball=best.ball,
        over_line=best.line,
        gain=estimate(2.4, 1.8),
        probability=0.9,
        shots=44,
        sentence="Move two boards in when the ball reads early twice in a row.",
    )


def leads(playbook: list[r.PhaseAdvice]) -> list[r.Lead]:
    """Three balls in every game of each cell that has a policy; its ball is advised, though not always the best."""
    games = {"fresh": (1, 2), "transition": (3, 4), "late": (5, 6)}
    rows = []
    for advice in playbook:
        policy = advice.policy
        if policy is None:
            continue
        others = [ball for ball in BALLS if ball != policy.ball][:2]
        for game in games[advice.phase]:
            for place, ball in enumerate((policy.ball, *others)):
                rows.append(
                    r.Lead(
                        bowler=advice.bowler,
                        pattern_class=advice.pattern_class,
                        game=game,
                        phase=advice.phase,
                        ball=ball,
                        ball_name=BALLS[ball][0],
                        keeps_line=place == 1,
                        line="third arrow" if place == 1 else None,
                        advised=place == 0,
                        worth=estimate(policy.worth.mean - 2 * place, 2.0 + 0.3 * game),
                        p_best=(0.7 - 0.08 * game, 0.2 + 0.08 * game, 0.1)[place],
                        shots=200 - 20 * game - place,
                    )
                )
    return rows


def curves(rng: np.random.Generator, combos: list[r.ComboWorth]) -> list[r.TransitionCurve]:
    rows = []
    for bowler in BOWLERS:
        for pattern in PATTERNS:
            for place, ball in enumerate(list(BALLS)[:4]):
                start, slope = float(rng.normal(3, 4)), float(rng.normal(-0.8, 1.4))
                points = [
                    r.CurvePoint(
                        x=game,
                        worth=estimate(start + slope * game, 2.0 + 0.3 * game),
                        shots=30 - 3 * game + place,
                        raw=None if game == 5 else start + slope * game + float(rng.normal(0, 4)),
                        p_best=(0.7 - 0.1 * game, 0.1, 0.1, 0.1 + 0.1 * game)[place],
                    )
                    for game in range(1, 7)
                ]
                rows.append(
                    r.TransitionCurve(
                        bowler=bowler,
                        pattern_class=pattern,
                        axis="games into the block",
                        ball=ball,
                        ball_name=BALLS[ball][0],
                        line=LINES[place],
                        points=points,
                    )
                )
    return rows


def paths(playbook: list[r.PhaseAdvice]) -> list[r.LanePath]:
    """The advised line of each cell, and one other thrown there; one bowler logged breakpoints too."""
    rows = []
    for advice in playbook:
        for place in range(2 if advice.best else 0):
            assert advice.best is not None
            logged = advice.bowler == "b2"
            rows.append(
                r.LanePath(
                    bowler=advice.bowler,
                    pattern_class=advice.pattern_class,
                    phase=advice.phase,
                    ball=advice.best.ball,
                    ball_name=advice.best.ball_name,
                    line=advice.best.line if place == 0 else "fifth arrow",
                    laydown=None if advice.bowler == "b4" else 21.5 + 2 * place,
                    arrow=14.25 + 2 * place,
                    breakpoint=8.0 if logged else None,
                    breakpoint_ft=41.0 if logged else None,
                    entry=17.25,
                    shots=90 - 10 * place,
                )
            )
    return rows


def crossings(rng: np.random.Generator) -> list[r.Crossing]:
    return [
        r.Crossing(
            bowler=bowler,
            pattern_class=pattern,
            axis="games into the block",
            leader="Dusk from the first arrow",
            challenger="Cedar Chest from the third arrow",
            at=estimate(3.4, 0.6) if pattern != "short" else None,
            probability=float(rng.uniform(0.1, 0.95)),
            shots=int(rng.integers(20, 200)),
            sentence="Change about game three, sooner when corner pins stand.",
        )
        for bowler in BOWLERS
        for pattern in PATTERNS
    ]


def line_moves(rng: np.random.Generator) -> list[r.LineMove]:
    return [
        r.LineMove(
            bowler=bowler,
            pattern_class=pattern,
            target="arrow",
            boards_per_game=estimate(float(rng.normal(0.9, 0.3)), 0.2),
            best_games_boards_per_game=estimate(1.2, 0.4) if pattern == "long" else None,
            shots=310,
        )
        for bowler in BOWLERS
        for pattern in PATTERNS
    ]
