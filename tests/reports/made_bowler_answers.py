"""Invented answers on bowlers: skills, sayings, plans, leaves, entry and how well predictions held."""

from __future__ import annotations

import numpy as np

from pipeline.decisions import records as r
from tests.reports.invented_names import BALL_MARKUP, BALLS, BOWLERS, LINES, SKILLS, WHOLES, estimate


def skills(rng: np.random.Generator) -> list[r.SkillEstimate]:
    """Skills, their parts' gains in steps of half a pin, and the wholes, which have none."""
    parts = _skills(rng, SKILLS)
    won = [
        item.model_copy(
            update={
                "pins_to_win_back": estimate(0.2 * (1 + place % 5), 0.1),
                "p_win_back": 0.05 if item.p_above_average > 0.5 else 0.95,
            }
        )
        for place, item in enumerate(parts)
    ]
    return [*_skills(np.random.default_rng(31), WHOLES), *won]


def _skills(rng: np.random.Generator, kinds: tuple[tuple[str, str, bool], ...]) -> list[r.SkillEstimate]:
    rows = []
    for skill, unit, higher in kinds:
        middle = 60.0 if unit == "%" else 1.6
        spread = 5.0 if unit == "%" else 0.4
        for bowler in BOWLERS:
            value = float(rng.normal(middle, spread))
            above = (value > middle) == higher
            rows.append(
                r.SkillEstimate(
                    bowler=bowler,
                    skill=skill,
                    unit=unit,
                    higher_is_better=higher,
                    value=estimate(value, spread / 2),
                    class_average=middle,
                    p_above_average=0.92 if above else 0.13,
                    progress=estimate(spread / 3, spread / 2) if bowler != "b6" else None,
                    class_progress=spread / 3,
                    shots=900,
                )
            )
    return rows


def maxims() -> list[r.MaximTrial]:
    verdicts = ("holds for you", "does not hold", "cannot tell", "not tested")
    return [
        r.MaximTrial(
            maxim="Change to a weaker ball once the pattern breaks down.",
            bowler="everyone" if place == 0 else list(BOWLERS)[place],
            verdict=verdict,
            pins=estimate(4.0 - 3 * place, 2.0) if place < 3 else None,
            probability=(0.96, 0.06, 0.5, 0.5)[place],
            shots=500,
            source="common practice",
            sentence="Tested on blocks with a change after game three.",
        )
        for place, verdict in enumerate(verdicts)
    ]


def plan(bowler: str, length: int, playbook: list[r.PhaseAdvice]) -> r.BlockPlan:
    """What the cards name for the class of that length, in each phase; one bowler's long plan departs from them."""
    kind, departs = "long" if length > 40 else "short", (bowler, length) == ("b2", 44)
    cards = [item for item in playbook if (item.bowler, item.pattern_class) == (bowler, kind) and item.policy]
    balls = [item.policy.ball for item in cards if item.policy][:3]
    balls = ["dusk", "flint", "amber"] if departs else [*balls, "amber"][:3]
    scores = np.exp(-0.5 * ((np.arange(301) - 192) / 24) ** 2)
    scores /= scores.sum()
    steps = [
        r.PlanStep(
            from_game=1 + 2 * place,
            to_game=2 + 2 * place,
            ball=ball,
            ball_name=BALLS[ball][0],
            line=LINES[place],
            keeps_line=place == 1,
            start_board=None if place == 1 else 12.3 + place,
            boards_a_game=None if place == 1 else 1.2,
            worth=estimate(6.0 - 2 * place, 3.0),
            p_best=0.72,
            shots=140 if place < 2 else 0,
            shots_elsewhere=35,
            trigger="Two corner pins in three shots." if place < 2 else "",
            p_going_on=0.7 if place < 2 else None,
        )
        for place, ball in enumerate(balls)
    ]
    return r.BlockPlan(
        bowler=bowler,
        pattern=f"{BALL_MARKUP} House" if length > 40 else "Lowmoor & Co",
        length_ft=length,
        volume_ml=24.5,
        ratio=3.5 if length > 40 else None,
        games=6,
        pattern_class=kind,
        novelty=1.3 if length > 40 else 0.2,
        steps=steps,
        backup=steps[2].model_copy(update={"trigger": "Nothing holds the pocket.", "p_going_on": None}),
        departs="This pattern asks for other balls than long patterns do as a rule." if departs else "",
        score=estimate(192.0, 5.0),
        score_kept_line=estimate(189.0, 6.0),
        gain=estimate(3.1, 2.5),
        p_gain=0.8,
        average=estimate(192.0, 11.0),
        score_histogram=[float(p) for p in scores],
        p_200=float(scores[200:].sum()),
        sentence="Start with Dusk from the first arrow and move in two boards per game.",
    )


def session(bowler: str, place: int) -> r.PracticeSession:
    """A practice session; every third bowler has none."""
    if place % 3 == 2:
        return r.PracticeSession(bowler=bowler, games=6, gain=0.12, sentence="No practice of 6 games is worth it.")
    parts = [
        r.PracticeShots(
            phase=phase,
            from_game=1 + 2 * k,
            to_game=2 + 2 * k,
            ball=ball,
            ball_name=BALLS[ball][0],
            line=LINES[k],
            shots=24,
            logged=40 - 10 * k,
        )
        for k, (phase, ball) in enumerate(zip(("fresh", "transition", "late"), ("dusk", "flint", "amber"), strict=True))
    ]
    return r.PracticeSession(
        bowler=bowler,
        games=6,
        pattern_class="medium",
        shots=parts,
        gain=0.8 - 0.05 * place,
        gain_if_known=3.1,
        share=0.4,
        p_change=0.31,
        smallest_in_session=21.0,
        smallest_in_season=7.0,
        sentence="Practise 6 games on medium patterns.",
    )


def leaves(rng: np.random.Generator, bowler: str) -> list[r.LeaveShare]:
    kinds = {
        "10": "corner pin",
        "7": "corner pin",
        "3-10": "split, two pins",
        "2-4-5-8": "bucket",
        "4-6-7-10": "split, three or more pins",
        "1-2-4-10": "washout",
        "6-10": "cluster",
        "4": "other single pin",
        "2-8": "cluster",
    }
    return [
        r.LeaveShare(
            bowler=bowler,
            leave=leave,
            leave_type=kind,
            count=int(rng.integers(5, 120)),
            per_100_first_balls=float(rng.uniform(0.3, 9)),
            conversion=estimate(float(rng.uniform(0.2, 0.9)), 0.05),
            pins_per_game_lost=float(rng.uniform(0.05, 2.2)),
            pins_to_win_back=round(0.07 * (len(kind) % 7), 2),
        )
        for leave, kind in kinds.items()
    ]


def entry(rng: np.random.Generator, bowler: str) -> list[r.EntryPoint]:
    boards = np.arange(10, 25.5, 1.5)
    return [
        r.EntryPoint(
            bowler=bowler,
            entry_board=float(board),
            strike=estimate(0.1 + 0.52 * float(np.exp(-0.5 * ((board - 17.5) / 2.4) ** 2)), 0.03),
            raw=None if board > 23 else 0.1 + 0.5 * float(np.exp(-0.5 * ((board - 17.3) / 2.5) ** 2)),
            shots=int(rng.integers(10, 300)),
        )
        for board in boards
    ]


def calibration(rng: np.random.Generator) -> list[r.CalibrationBin]:
    return [
        r.CalibrationBin(
            source=source,
            predicted=0.25 + 0.05 * place,
            observed=0.25 + 0.05 * place + float(rng.normal(0, 0.015)),
            shots=500,
        )
        for source in ("model", "challenger")
        for place in range(8)
    ]
