"""An invented season's decisions, with hostile names, for tests of the reports. Nobody in it exists."""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np

from pipeline.decisions import records as r
from tests.reports.invented_names import BALLS, BOWLERS, PATTERNS, estimate
from tests.reports.made_bag_answers import changes, changes_in_all, ladder, task, verdict
from tests.reports.made_bowler_answers import calibration, entry, leaves, maxims, plan, session, skills
from tests.reports.made_lane_answers import crossings, curves, leads, line_moves, paths, playbook, worths
from tests.reports.made_ledger_answers import accounts, blocks, habits
from tests.reports.made_season_beside import beside


@cache
def season() -> r.Decisions:
    """Seven bowlers on three pattern classes, every kind of decision filled."""
    rng = np.random.default_rng(7)
    combos = [item for bowler in BOWLERS for pattern in PATTERNS for item in worths(rng, bowler, pattern)]
    balls = [(verdict(rng, bowler, ball, place), place) for bowler in BOWLERS for place, ball in enumerate(BALLS)]
    return r.Decisions(
        title="Harbour Lane juniors & friends, autumn",
        summary=_summary(rng),
        left_out=[r.LeftOut(question="gaps in the bag", reason="these shots do not determine it")],
        combos=combos,
        playbook=(advice := playbook(combos)),
        paths=paths(advice),
        leads=leads(advice),
        curves=curves(rng, combos),
        crossings=crossings(rng),
        line_moves=line_moves(rng),
        arsenal=[ball for ball, _ in balls],
        arsenal_tasks=[task(ball, place) for ball, place in balls],
        redundant=[
            r.RedundantPair(
                bowler="b1",
                ball_a="amber",
                ball_b="cedar",
                p_same_job=0.83,
                apart=estimate(0.6, 1.1),
                shots=412,
                sentence="Leave one at home.",
            )
        ],
        gaps=[
            r.ArsenalGap(
                bowler="b2",
                pattern_class="long",
                phase="late",
                best_worth=estimate(-4.2, 2.5),
                probability=0.94,
                shots=120,
                sentence="Nothing in the bag holds up late on long patterns.",
            )
        ],
        ladder=[item for bowler in BOWLERS for item in ladder(bowler)],
        changes=(made := changes(rng)),
        changes_in_all=changes_in_all(made),
        skills=skills(rng),
        comparisons=[
            r.SkillComparison(
                skill="carry", better="b1", other="b2", difference=estimate(6.1, 3.0), probability=0.97, shots=800
            ),
            r.SkillComparison(
                skill="pocket", better="b3", other="b6", difference=estimate(2.0, 3.0), probability=0.71, shots=640
            ),
        ],
        focus=[
            r.PracticeFocus(
                bowler=bowler,
                skill="single-pin spares",
                pins_if_class_best=estimate(3.0 + place, 1.5),
                p_best=0.55 + 0.05 * place,
                shots=300 + place,
                sentence="Twenty corner-pin spares before every practice.",
            )
            for place, bowler in enumerate(BOWLERS)
        ],
        season_beside=beside(np.random.default_rng(5)),
        ledger=accounts(rng),
        ledger_blocks=blocks(rng),
        habits=habits(),
        maxims=maxims(),
        plans=[plan(bowler, length, advice) for bowler in list(BOWLERS)[:3] for length in (36, 44)],
        next_shots=[
            r.NextShots(
                bowler=bowler,
                pattern_class="medium",
                phase="late",
                ball="cedar",
                ball_name="Cedar Chest",
                line="third arrow",
                shots=40,
                gain=0.5 - 0.1 * place,
                pins_at_stake=0.9 - 0.1 * place,
                share=0.2,
                sentence="Forty shots late on medium would settle the question.",
            )
            for place, bowler in enumerate(BOWLERS)
        ],
        practice=[session(bowler, place) for place, bowler in enumerate(BOWLERS)],
        leaves=[item for bowler in ("everyone", *BOWLERS) for item in leaves(rng, bowler)],
        entry=[item for bowler in ("everyone", *BOWLERS) for item in entry(rng, bowler)],
        calibration=calibration(rng),
        checks=[
            r.ModelCheck(
                name="dispersion", value=1.04, expected="0.9 to 1.1", passed=True, sentence="Spread is as expected."
            ),
            r.ModelCheck(
                name="log loss", value=0.6712, expected="below 0.6931", passed=None, sentence="Better than a coin."
            ),
        ],
        held_out=[
            r.HeldOutGain(
                bowler=bowler,
                gain=estimate(1.2 - place, 1.5),
                predicted=2.1,
                share_changed=0.6,
                verdict="too noisy to tell",
                blocks=40 + place,
                shots=900,
                sentence="Too noisy to tell: on 40 blocks that had no part in the choice.",
            )
            for place, bowler in enumerate(("everyone", *BOWLERS))
        ],
        sensitivity=[
            r.Sensitivity(
                bowler="b1",
                question="cedar against anvil, late on long",
                model=estimate(6.1, 2.0),
                doubly_robust=estimate(5.2, 3.0),
                raw=-1.4,
                agree=True,
                shots=300,
            )
        ],
    )


def small_season() -> r.Decisions:
    """The same season with two of the bowlers, for tests that take time by the size of a page."""
    whole, kept = season(), {"b1", "b3", "everyone"}
    lists = {
        name: [item for item in getattr(whole, name) if getattr(item, "bowler", "everyone") in kept]
        for name in r.Decisions.model_fields
        if name not in ("title", "summary")
    }
    bowlers = [card for card in whole.summary.bowlers if card.bowler in kept]
    return whole.model_copy(update=lists | {"summary": whole.summary.model_copy(update={"bowlers": bowlers})})


def _summary(rng: np.random.Generator) -> r.SeasonSummary:
    cards = [
        r.BowlerCard(
            bowler=bowler,
            name=name,
            hand="left" if place % 3 == 2 else "right",
            style="two-handed" if place == 4 else "one-handed",
            coach="b1" if place else None,
            minor=place in (4, 5),
            games=90 + place,
            shots=1000 + 13 * place,
            games_complete=88 + place,
            average=float(175 + 6 * place),
            strike_rate=0.38 + 0.02 * place,
        )
        for place, (bowler, name) in enumerate(BOWLERS.items())
    ]
    return r.SeasonSummary(
        period=r.ReportPeriod(season="2026-27", first=dt.date(2026, 9, 1), last=dt.date(2027, 5, 31)),
        beside=r.ReportPeriod(season="2025-26", first=dt.date(2025, 9, 1), last=dt.date(2026, 5, 31)),
        first_date=dt.date(2026, 9, 5),
        last_date=dt.date(2027, 3, 20),
        bowlers=cards,
        blocks=22,
        games=sum(card.games for card in cards),
        deliveries=15012,
        rows_read=15060,
        rows_quarantined=31,
        rows_repaired=17,
        refused_files=[r.RefusedFile(file="wren/shots_may.csv", problem="is empty; it needs a header", rows_kept=12)],
        share_logged={"entry_board": 0.81, "laydown_board": 0.93, "speed_mph": 0.4, "entry_angle_deg": 0.0},
        notes=["Deliveries on the pair were logged for two blocks only, so that axis leans on them."],
    )
