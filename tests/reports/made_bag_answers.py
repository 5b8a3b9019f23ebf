"""Invented answers on the bag: verdicts on balls, the ladder and the changes of ball."""

from __future__ import annotations

import datetime as dt

import numpy as np

from pipeline.decisions import records as r
from tests.reports.invented_names import BALLS, BOWLERS, PATTERNS, estimate


def verdict(rng: np.random.Generator, bowler: str, ball: str, place: int) -> r.BallVerdict:
    verdicts = ("resurface", "keep", "clean", "retire", "watch", "not enough shots")
    start, loss = float(rng.uniform(0.42, 0.58)), float(rng.uniform(0.0, 0.02))
    curve = [
        r.AgePoint(games=games, carry=estimate(start - loss * games / 10, 0.03 + games / 2500), shots=90 - games)
        for games in range(0, 75, 15)
    ]
    verdict = verdicts[place]
    care = [
        r.CareEffect(
            date=dt.date(2026, 12, 1),
            action="resurface",
            games_at=52.0,
            recovery=estimate(3.1, 1.4),
            shots_before=140,
            shots_after=150,
        )
    ]
    return r.BallVerdict(
        bowler=bowler,
        ball=ball,
        ball_name=BALLS[ball][0],
        ball_class=BALLS[ball][1],
        catalogue="solid cover, symmetric core, RG 2.50, differential 0.045, 2000 grit",
        shots=420 - 60 * place,
        games_total=110.0,
        games_since_resurface=58.0,
        carry=estimate(start, 0.03),
        against_class=estimate(-0.03, 0.02),
        drift_per_10_games=estimate(0.3, 0.1) if place % 2 == 0 else None,
        missed_hook_per_10_games=estimate(0.01, 0.01) if place % 2 == 0 else None,
        drift_so_far=estimate(-0.2, 0.1),
        lost_in_all=estimate(3.0, 2.0),
        loss_per_10_games=estimate(100 * loss, 0.5),
        curve=curve if place < 5 else [],
        care=care if place == 0 else [],
        life=[
            r.LifePoint(games_total=2.5 + 5 * k, surface_number=int(k > 10), shots=30, strikes=12 + k % 5)
            for k in range(22 if place < 5 else 0)
        ],
        verdict=verdict,
        probability=0.55 + 0.06 * place,
        utilities={"keep": estimate(0, 0.1), "clean": estimate(0.4, 1.0), "resurface": estimate(2.1, 1.2)},
        at_stake=estimate(2.1 - 0.3 * place, 1.2),
        shots_needed=80 if place == 5 else 0,
        sentence=f"{verdict.capitalize()} it: carry fell by {100 * loss:.1f} points in 10 games.",
    )


def task(ball: r.BallVerdict, place: int) -> r.ArsenalTask:
    """The ball's line of the work list."""
    acts = ("keep", "clean", "resurface", "retire")
    looks = ball.verdict if ball.verdict in acts else "resurface"
    options = [
        r.CareOption(
            act=act,
            gain=estimate(0.0, 0.0) if act == "keep" else estimate(2.1 - 0.4 * place if act == looks else -1.0, 1.2),
            p_gain=None if act == "keep" else 0.9 if act == looks else 0.2,
            p_best=ball.probability if act == looks else (1 - ball.probability) / 3,
        )
        for act in acts
    ]
    best = options[acts.index(looks)]
    known = place % 2 == 0
    return r.ArsenalTask(
        bowler=ball.bowler,
        ball=ball.ball,
        ball_name=ball.ball_name,
        do=ball.verdict,
        looks_best=looks,
        probability=best.p_best,
        pins_a_season=best.gain.mean * (40 - place),
        games_a_season=40.0 - place,
        grit=r.GritEvidence(
            grit=2000 if known else None,
            over_others=estimate(1.2, 1.0) if known else None,
            probability=0.81 if known else None,
            of="its class" if known else "no evidence",
            shots=240 if known else 0,
            now=None if known else 3000,
            sentence="2000 grit carried best on balls of its class." if known else "No evidence: one grit was tried.",
        ),
        due=r.DueBy(games=14.0 * place, lo80=0.0, hi80=None, date=dt.date(2027, 2, 3)),
        options=options,
        stand_in=r.StandIn(ball="flint", ball_name=BALLS["flint"][0], gain=estimate(-0.8, 1.5), p_gain=0.3)
        if ball.ball != "flint"
        else None,
        settles="about 80 more shots would settle it" if ball.verdict in ("watch", "not enough shots") else "",
        shots=ball.shots,
        sentence=ball.sentence,
    )


def ladder(bowler: str) -> list[r.LadderRung]:
    order = ["anvil", "flint", "cedar", "amber", "dusk", "glass"]
    return [
        r.LadderRung(
            bowler=bowler,
            ball=ball,
            ball_name=BALLS[ball][0],
            benchmark=ball == "cedar",
            boards_of_hook=estimate(4.0 - 2 * rank, 0.7),
            rank=rank + 1,
            catalogue=BALLS[ball][1],
            shots=400 - 50 * rank,
            ball_up=order[rank - 1] if rank else None,
            ball_down=order[rank + 1] if rank < 5 else None,
        )
        for rank, ball in enumerate(order)
    ]


def changes_in_all(changes: list[r.BallChange]) -> list[r.ChangesInAll]:
    return [
        r.ChangesInAll(
            bowler=bowler,
            changes=sum(change.bowler == bowler for change in changes),
            gain=estimate(1.4, 1.1),
            p_gain=0.9,
            shots=sum(c.shots_before + c.shots_after for c in changes if c.bowler == bowler),
        )
        for bowler in sorted({change.bowler for change in changes})
    ]


def changes(rng: np.random.Generator) -> list[r.BallChange]:
    timings = ("late", "on time", "not called for", "cannot tell")
    return [
        r.BallChange(
            bowler=list(BOWLERS)[place % 7],
            date=dt.date(2026, 9, 5) + dt.timedelta(days=place),
            block=f"block {place % 22}",
            pattern_class=PATTERNS[place % 3],
            game=2 + place % 4,
            from_ball=list(BALLS)[place % 5],
            to_ball=list(BALLS)[(place + 2) % 5],
            shots_before=24,
            shots_after=19,
            strike_before=0.29,
            strike_after=0.47,
            expected_had_stayed=estimate(0.38, 0.05),
            expected_after=estimate(0.46, 0.05),
            gain=estimate(float(rng.normal(3, 5)), 3.0),
            timing=timings[place % 4],
            timing_probability=0.55 if place % 4 == 3 else 0.85,
            games_late=None if place % 4 == 3 else estimate(1.0 - place % 4, 0.5),
        )
        for place in range(120)
    ]
