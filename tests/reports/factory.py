"""An invented season's decisions, with hostile names, for tests of the reports. Nobody in it exists."""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np

from pipeline.decisions import results as r

SCRIPT = "<script>document.title='broken'</script>"
QUOTES = 'Ida "Quote" O\'Tick & Sons'
RIGHT_TO_LEFT = "מעין \u202eנחל\u202c"
EMOJI = "🎳 Sparrow 🧤"
LONG = "Verylongname" * 25
FORMULA = '=HYPERLINK("x")'
BALL_MARKUP = "<img src=x onerror=alert(1)> Anvil"
HOSTILE = (SCRIPT, QUOTES, RIGHT_TO_LEFT, EMOJI, LONG, FORMULA, BALL_MARKUP)

BOWLERS = {
    "b1": "Wren Alder",
    "b2": SCRIPT,
    "b3": QUOTES,
    "b4": RIGHT_TO_LEFT,
    "b5": EMOJI,
    "b6": LONG,
    "b7": FORMULA,
}
BALLS = {
    "amber": ("Amber Drift", "symmetric pearl"),
    "anvil": (BALL_MARKUP, "asymmetric solid"),
    "cedar": ("Cedar Chest", "symmetric hybrid"),
    "dusk": ("Dusk", "urethane"),
    "flint": ("Flint", "symmetric solid"),
    "glass": ("Glass", "polyester"),
}
LINES = ("first arrow", "second arrow", "third arrow", "fourth arrow")
PATTERNS = ("short", "medium", "long")
SKILLS: tuple[tuple[str, str, bool], ...] = (
    ("pocket", "%", True),
    ("carry", "%", True),
    ("single-pin spares", "%", True),
    ("multi-pin spares", "%", True),
    ("accuracy at the arrows", "boards", False),
    ("accuracy at the pocket", "boards", False),
    ("versatility", "pins", True),
)


def estimate(mean: float, sd: float) -> r.Estimate:
    """A normal estimate with its intervals."""
    return r.Estimate(
        mean=mean,
        lo50=mean - 0.674 * sd,
        hi50=mean + 0.674 * sd,
        lo80=mean - 1.282 * sd,
        hi80=mean + 1.282 * sd,
        lo95=mean - 1.96 * sd,
        hi95=mean + 1.96 * sd,
    )


@cache
def season() -> r.Decisions:
    """Seven bowlers on three pattern classes, every kind of decision filled."""
    rng = np.random.default_rng(7)
    combos = [item for bowler in BOWLERS for pattern in PATTERNS for item in _combos(rng, bowler, pattern)]
    return r.Decisions(
        title="Harbour Lane juniors & friends, autumn",
        summary=_summary(rng),
        combos=combos,
        playbook=_playbook(combos),
        curves=_curves(rng, combos),
        crossings=_crossings(rng),
        line_moves=_line_moves(rng),
        arsenal=[_verdict(rng, bowler, ball, place) for bowler in BOWLERS for place, ball in enumerate(BALLS)],
        redundant=[
            r.RedundantPair(
                bowler="b1", ball_a="amber", ball_b="cedar", p_same_job=0.83, shots=412, sentence="Leave one at home."
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
        ladder=[item for bowler in BOWLERS for item in _ladder(bowler)],
        changes=_changes(rng),
        skills=_skills(rng),
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
        maxims=_maxims(),
        plans=[_plan(bowler, length) for bowler in list(BOWLERS)[:3] for length in (36, 44)],
        next_shots=[
            r.NextShots(
                bowler=bowler,
                pattern_class="medium",
                phase="late",
                ball="cedar",
                ball_name="Cedar Chest",
                line="third arrow",
                shots=40,
                pins_at_stake=0.9 - 0.1 * place,
                sentence="Forty shots late on medium would settle the question.",
            )
            for place, bowler in enumerate(BOWLERS)
        ],
        leaves=[item for bowler in ("everyone", *BOWLERS) for item in _leaves(rng, bowler)],
        entry=[item for bowler in ("everyone", *BOWLERS) for item in _entry(rng, bowler)],
        calibration=_calibration(rng),
        checks=[
            r.ModelCheck(
                name="dispersion", value=1.04, expected="0.9 to 1.1", passed=True, sentence="Spread is as expected."
            ),
            r.ModelCheck(
                name="log loss", value=0.6712, expected="below 0.6931", passed=None, sentence="Better than a coin."
            ),
        ],
        sensitivity=[
            r.Sensitivity(
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
            average=float(175 + 6 * place),
            strike_rate=0.38 + 0.02 * place,
        )
        for place, (bowler, name) in enumerate(BOWLERS.items())
    ]
    return r.SeasonSummary(
        first_date=dt.date(2026, 9, 5),
        last_date=dt.date(2027, 3, 20),
        bowlers=cards,
        blocks=22,
        games=sum(card.games for card in cards),
        deliveries=15012,
        rows_read=15060,
        rows_quarantined=31,
        rows_repaired=17,
        share_logged={"entry_board": 0.81, "laydown_board": 0.93, "speed_mph": 0.4, "entry_angle_deg": 0.0},
        notes=["Deliveries on the pair were logged for two blocks only, so that axis leans on them."],
    )


def _combos(rng: np.random.Generator, bowler: str, pattern: str) -> list[r.ComboWorth]:
    found = []
    for phase in r.PHASES:
        chances = rng.dirichlet(np.full(12, 0.3))
        for place in range(12):
            ball = list(BALLS)[place // 2 % 5]
            line = LINES[(place + len(phase)) % 4]
            shots = int(rng.integers(4, 220))
            worth = float(rng.normal(0, 7))
            found.append(
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
                    raw_worth=worth + float(rng.normal(0, 4)),
                    strike=estimate(0.45 + worth / 100, 0.05),
                    p_best=float(chances[place]),
                    p_200=0.4,
                    settled=shots > 40,
                    shots_needed=0 if shots > 40 else 60,
                )
            )
    return found


def _playbook(combos: list[r.ComboWorth]) -> list[r.PhaseAdvice]:
    found = []
    for bowler in BOWLERS:
        for pattern in PATTERNS:
            for phase in r.PHASES:
                cell = [c for c in combos if (c.bowler, c.pattern_class, c.phase) == (bowler, pattern, phase)]
                ranked = sorted((c for c in cell if c.settled), key=lambda c: -c.worth.mean)
                empty = pattern == "short" and phase == "late"
                best, second = ranked[0], ranked[1]
                found.append(
                    r.PhaseAdvice(
                        bowler=bowler,
                        pattern_class=pattern,
                        phase=phase,
                        best=None if empty else best.model_copy(update={"p_best": 0.87}),
                        runner_up=None if empty else second,
                        margin=None if empty else estimate(best.worth.mean - second.worth.mean, 2.5),
                        verdict="not enough shots" if empty else "settled" if phase == "fresh" else "leaning",
                        move="" if empty else "Move two boards in when the ball reads early twice in a row.",
                        change="",
                        sentence=f"On {pattern} patterns, {phase}: {best.ball_name} from the {best.line} was worth "
                        f"{best.worth.mean:+.1f} pins per game.",
                    )
                )
    return found


def _curves(rng: np.random.Generator, combos: list[r.ComboWorth]) -> list[r.TransitionCurve]:
    found = []
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
                    )
                    for game in range(1, 7)
                ]
                found.append(
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
    return found


def _crossings(rng: np.random.Generator) -> list[r.Crossing]:
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


def _line_moves(rng: np.random.Generator) -> list[r.LineMove]:
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


def _verdict(rng: np.random.Generator, bowler: str, ball: str, place: int) -> r.BallVerdict:
    verdicts = ("resurface", "keep", "clean", "retire", "keep", "not enough shots")
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
        loss_per_10_games=estimate(100 * loss, 0.5),
        curve=curve if place < 5 else [],
        care=care if place == 0 else [],
        verdict=verdict,
        probability=0.55 + 0.06 * place,
        utilities={"keep": estimate(0, 0.1), "clean": estimate(0.4, 1.0), "resurface": estimate(2.1, 1.2)},
        at_stake=estimate(2.1 - 0.3 * place, 1.2),
        shots_needed=80 if place == 5 else 0,
        sentence=f"{verdict.capitalize()} it: carry fell by {100 * loss:.1f} points in 10 games.",
    )


def _ladder(bowler: str) -> list[r.LadderRung]:
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


def _changes(rng: np.random.Generator) -> list[r.BallChange]:
    timings = ("late", "on time", "early", "cannot tell")
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
            games_late=None if place % 4 == 3 else estimate(1.0 - place % 4, 0.5),
        )
        for place in range(120)
    ]


def _skills(rng: np.random.Generator) -> list[r.SkillEstimate]:
    found = []
    for skill, unit, higher in SKILLS:
        middle = 60.0 if unit == "%" else 1.6
        spread = 5.0 if unit == "%" else 0.4
        for bowler in BOWLERS:
            value = float(rng.normal(middle, spread))
            above = (value > middle) == higher
            found.append(
                r.SkillEstimate(
                    bowler=bowler,
                    skill=skill,
                    unit=unit,
                    higher_is_better=higher,
                    value=estimate(value, spread / 2),
                    class_average=middle,
                    p_above_average=0.92 if above else 0.13,
                    progress=estimate(spread / 3, spread / 2) if bowler != "b6" else None,
                    shots=900,
                )
            )
    return found


def _maxims() -> list[r.MaximTrial]:
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


def _plan(bowler: str, length: int) -> r.BlockPlan:
    scores = np.exp(-0.5 * ((np.arange(301) - 192) / 24) ** 2)
    scores /= scores.sum()
    steps = [
        r.PlanStep(
            from_game=1 + 2 * place,
            to_game=2 + 2 * place,
            ball=ball,
            ball_name=BALLS[ball][0],
            line=LINES[place],
            worth=estimate(6.0 - 2 * place, 3.0),
            p_best=0.72,
            shots=140,
            trigger="Two corner pins in three shots." if place < 2 else "",
        )
        for place, ball in enumerate(("dusk", "flint", "amber"))
    ]
    return r.BlockPlan(
        bowler=bowler,
        length_ft=length,
        volume_ml=24.5,
        ratio=3.5 if length > 40 else None,
        games=6,
        pattern_class="long" if length > 40 else "short",
        novelty=1.3 if length > 40 else 0.2,
        steps=steps,
        backup=steps[2].model_copy(update={"trigger": "Nothing holds the pocket."}),
        score=estimate(192.0, 5.0),
        score_histogram=[float(p) for p in scores],
        p_200=float(scores[200:].sum()),
        sentence="Start with Dusk from the first arrow and move in two boards a game.",
    )


def _leaves(rng: np.random.Generator, bowler: str) -> list[r.LeaveShare]:
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
        )
        for leave, kind in kinds.items()
    ]


def _entry(rng: np.random.Generator, bowler: str) -> list[r.EntryPoint]:
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


def _calibration(rng: np.random.Generator) -> list[r.CalibrationBin]:
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
