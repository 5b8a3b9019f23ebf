"""Plans: likely choices, honest scores, and intervals that widen on patterns unlike any logged."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.advice.ball_by_phase import Advised, Way
from pipeline.decisions.advice.change_cost import best_sequence
from pipeline.decisions.advice.next_shots import next_shots, sample_information
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.decisions.plan.block_plan import PlanError, default_plans, plan, plan_text
from pipeline.decisions.plan.choices import Lane, Options, OwnMix, Round, choices
from pipeline.decisions.plan.novelty import novelty, within_logged
from pipeline.decisions.plan.order import order_of
from pipeline.decisions.plan.own_mix import own_mix
from pipeline.decisions.plan.prices import priced
from pipeline.decisions.plan.triggers import in_a_stretch, so_few
from pipeline.decisions.records import BlockPlan, Estimate
from pipeline.decisions.wording.names import Names, named
from pipeline.decisions.wording.triggers import FewStrikes, InHand, going_on, to_the_backup
from pipeline.inference.sample_size import perfect_information
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Practice, Settings
from pipeline.sport.lane import NO_LINE
from pipeline.store.season import Season, prepare
from tests.decisions.drawn_choices import drawn
from tests.decisions.made_season import MadeBall, MadeSeason, make

LOGGED = pd.DataFrame({"length_ft": [36.0, 40.0, 44.0], "volume_ml": [22.0, 24.0, np.nan], "ratio": [3.0, 5.0, 8.0]})


def test_a_logged_pattern_is_not_new() -> None:
    assert novelty(LOGGED, 40.0, 24.0, 5.0) == 0
    assert novelty(LOGGED, 44.0, None, 8.0) == 0
    assert novelty(LOGGED, 44.0, 30.0, 8.0) == 0.5  # its volume was never noted, so it may be alike or not


def test_novelty_counts_typical_distances() -> None:
    assert novelty(LOGGED, 48.0, None, None) == pytest.approx(1.0)  # neighbours are four feet apart
    assert novelty(LOGGED, 52.0, None, None) == pytest.approx(2.0)
    assert novelty(LOGGED.iloc[:1], 38.0, None, None) == pytest.approx(1.0)  # one pattern: two feet count as alike
    assert novelty(LOGGED.iloc[:0], 40.0, None, None) == 4.0


def test_novelty_never_falls_further_out() -> None:
    far = [novelty(LOGGED, length, 24.0, 5.0) for length in np.arange(44, 60, 0.5)]
    assert all(b >= a for a, b in pairwise(far))


def test_oil_beyond_any_logged_is_drawn_back() -> None:
    assert within_logged(LOGGED, {"length_ft": 52.0, "volume_ml": None, "ratio": 1.0}) == {
        "length_ft": 44.0,
        "volume_ml": None,
        "ratio": 3.0,
    }


@pytest.fixture(scope="module")
def made() -> tuple[Season, Fits]:
    balls = [
        MadeBall("heron", cover="pearl", effect=0.8, benchmark=True),
        MadeBall("crane"),
        MadeBall("stork", effect=-0.4),
    ]
    season = make(MadeSeason(balls, blocks=30, games=4, patterns=(36.0, 40.0), game_effect={"heron": -0.6}, seed=2))
    return season, fit_all(season, Settings())


@pytest.fixture(scope="module")
def known(made: tuple[Season, Fits]) -> BlockPlan:
    return named(plan(Fitted(*made), "ann", 40.0, 24.0, 4.0, 4), Names.of(made[0]))


def test_the_plan_starts_with_the_ball_that_is_best_at_first_and_leaves_it_when_it_fades(known: BlockPlan) -> None:
    # true logits by game: heron 1.0, 0.4, -0.2, -0.8; crane 0.2 throughout
    assert known.steps[0].ball == "heron" and known.steps[0].to_game in (1, 2)
    assert known.steps[-1].ball == "crane" and known.steps[-1].to_game == 4
    assert "change to the Crane" in known.steps[0].trigger
    assert known.backup is not None and known.backup.ball != "heron"


def test_steps_cover_every_game_once(known: BlockPlan) -> None:
    games = [g for step in known.steps for g in range(step.from_game, step.to_game + 1)]
    assert games == [1, 2, 3, 4]


def test_the_histogram_is_a_distribution_with_the_expected_average(known: BlockPlan) -> None:
    histogram = np.array(known.score_histogram)
    assert len(histogram) == 301 and histogram.min() >= 0 and histogram.sum() == pytest.approx(1)
    assert histogram @ np.arange(301) == pytest.approx(known.score.mean, abs=1.5)
    assert histogram[200:].sum() == pytest.approx(known.p_200, abs=0.01)


def test_intervals_widen_on_patterns_unlike_any_logged(made: tuple[Season, Fits], known: BlockPlan) -> None:
    widths = [known.score.hi80 - known.score.lo80]
    for length in (44.0, 46.0, 48.0):
        far = plan(Fitted(*made), "ann", length, 24.0, 4.0, 4)
        widths.append(far.score.hi80 - far.score.lo80)
        assert far.novelty >= 1 and "Nothing this bowler logged is like this pattern" in far.sentence
    # a new pattern class comes first, then oil ever further out
    assert widths[1] > 1.5 * widths[0] and all(b > 1.02 * a for a, b in pairwise(widths)), widths
    assert known.novelty == 0 and "Nothing this bowler" not in known.sentence


def test_a_pattern_between_those_logged_is_not_taken_for_one_of_them(
    made: tuple[Season, Fits], known: BlockPlan
) -> None:
    new = plan(Fitted(*made), "ann", 39.0, 24.0, 4.0, 4)
    assert new.score.hi80 - new.score.lo80 > 1.05 * (known.score.hi80 - known.score.lo80)
    assert new.score.mean == pytest.approx(known.score.mean, abs=4.0)


NOTHING = OwnMix({}, {}, [])


def _options(pins: np.ndarray, tried: np.ndarray) -> Options:
    return Options(
        [{} for _ in range(pins.shape[2])], tried, ["fresh"] * pins.shape[1], pins[..., 0], pins, pins, pins, pins
    )


def test_the_sequence_of_most_pins_is_found_with_what_changes_cost() -> None:
    rng = np.random.default_rng(3)
    for _ in range(30):
        mean = rng.normal(0, 4, (4, 3))
        pins = np.broadcast_to(mean, (5, 4, 3))
        # By trying every sequence: each change costs four pins and must be to what is better in that game.
        every = [
            order
            for order in product(range(3), repeat=4)
            if all(a == b or mean[g + 1, b] > mean[g + 1, a] for g, (a, b) in enumerate(pairwise(order)))
        ]
        worth = [sum(mean[range(4), order]) - 4 * sum(a != b for a, b in pairwise(order)) for order in every]
        assert tuple(best_sequence(_options(pins, np.ones((4, 3), dtype=bool)))) == every[int(np.argmax(worth))]


def test_only_what_was_tried_so_late_and_is_likely_better_is_gone_to() -> None:
    gain = np.full(1000, -1.0)
    gain[:550] = 30.0  # worth more on average, and better in 55 draws of 100: the playbook would not say it either
    pins = np.zeros((1000, 2, 2))
    pins[:, 1, 1] = gain
    pins[:, 0, 1] = -50.0
    tried = np.array([[True, True], [True, True]])
    assert best_sequence(_options(pins, tried)) == [0, 0]
    pins[:600, 1, 1] = 30.0
    assert best_sequence(_options(pins, tried)) == [0, 1]
    assert best_sequence(_options(pins, np.array([[True, True], [True, False]]))) == [0, 0]


def test_a_ball_is_not_started_with_for_its_later_games_where_another_is_likely_better_at_first() -> None:
    pins = np.zeros((1000, 2, 2))
    pins[:, 0, 1] = -5.0
    pins[:580, 1, 1], pins[580:, 1, 1] = 30.0, -1.0  # worth 17 more later, but too unsure to change to
    every = np.ones((2, 2), dtype=bool)
    assert best_sequence(_options(pins, every)) == [0, 0]
    pins[:, 0, 1] = -3.0  # less than a change costs
    assert best_sequence(_options(pins, every)) == [1, 1]


def test_what_was_never_tried_so_late_is_left_for_less_than_a_change_costs() -> None:
    pins = np.zeros((10, 2, 2))
    pins[:, 0, 1], pins[:, 1, 1] = -50.0, 1.0
    assert best_sequence(_options(pins, np.array([[True, True], [True, True]]))) == [0, 0]
    assert best_sequence(_options(pins, np.array([[True, True], [False, True]]))) == [0, 1]
    pins[:, 1, 1] = -1.0  # nor is it kept for its price, as no card would name it there
    assert best_sequence(_options(pins, np.array([[True, True], [False, True]]))) == [0, 1]
    assert best_sequence(_options(pins, np.array([[True, True], [False, False]]))) == [0, 0]


def _answered(options: Options, ball: str) -> dict[str, Advised]:
    """The advice by phase names this ball in every phase."""
    balls = [row["ball"] for row in options.rows]
    ways = {name: Way(k, None, options.pins[:, 0, k]) for k, name in enumerate(balls)}
    return {phase: Advised(ball, ways) for phase in set(options.phase)}


def test_a_plan_leaves_the_cards_balls_only_where_that_is_likely_better_by_what_a_change_costs() -> None:
    """The first ball is on the cards; the second is worth so many more pins on this pattern, in so many draws."""
    for more, likely, leaves in ((3.0, 0.9, True), (1.0, 0.9, False), (3.0, 0.55, False)):
        pins = np.zeros((1000, 2, 2))
        better = int(1000 * likely)
        pins[:better, :, 1] = (more + 1000 * (1 - likely) / 1000) / likely
        pins[better:, :, 1] = -1.0
        assert pins[:, 0, 1].mean() == pytest.approx(more)
        rows = [{"ball": "card", "ball_name": "Card"}, {"ball": "other", "ball_name": "Other"}]
        options = replace(_options(pins, np.ones((2, 2), dtype=bool)), rows=rows)
        order = order_of(options, _answered(options, "card"), "medium")
        assert order.balls == ([1, 1] if leaves else [0, 0]), (more, likely)
        assert bool(order.departs) == leaves
        if leaves:
            assert "+3.0 pins per game" in order.departs and "90 % likely better" in order.departs
        assert order_of(options, {}, "medium").balls == best_sequence(options)


def test_where_nothing_is_compared_the_ball_in_hand_stays_if_it_was_tried() -> None:
    pins = np.zeros((10, 2, 2))
    pins[:, 1, 1] = 1.0
    rows = [{"ball": "card", "ball_name": "Card"}, {"ball": "other", "ball_name": "Other"}]
    for tried, then in ((True, 0), (False, 1)):
        options = Options(
            rows, np.array([[True, True], [tried, True]]), ["fresh", "late"], pins[..., 0], pins, pins, pins, pins
        )
        answers = {"fresh": _answered(options, "card")["fresh"]}
        assert order_of(options, answers, "medium").balls == [0, then]


def test_without_boards_a_plan_names_no_line() -> None:
    balls = [MadeBall("heron", effect=0.4), MadeBall("crane")]
    season = make(MadeSeason(balls, blocks=6, games=3, seed=5, boards=False), Settings())
    made = plan(Fitted(season, fit_all(season, Settings())), "ann", 40.0, games=3)
    assert {step.line for step in made.steps} == {NO_LINE} and all(step.start_board is None for step in made.steps)
    assert "nan" not in made.sentence and "from the" not in made.sentence


def test_luck_alone_meets_a_limit_no_oftener_than_said() -> None:
    # Strikes are drawn outright, game by game.
    rng = np.random.default_rng(8)
    rate = np.array([0.55, 0.5, 0.48, 0.45])
    limit = so_few(rate)
    assert limit is not None
    strikes = rng.binomial(10, rate, (20_000, 4))
    met = (strikes <= limit.strikes).any(axis=1).mean()
    assert met == pytest.approx(limit.by_luck, abs=0.01) and met <= 0.1
    assert (strikes <= limit.strikes + 1).any(axis=1).mean() > 0.1
    # One look of ten at a known rate, by the binomial alone: P(X <= 2 | 10, 0.5) = 56/1024.
    assert so_few(np.array([0.5])) == FewStrikes(2, pytest.approx(56 / 1024))
    assert so_few(np.full(3, 0.05)) is None and so_few(np.zeros(0)) is None


def test_triggers_say_what_to_look_at_and_how_often_luck_alone_brings_it() -> None:
    half, heron = np.full(4, 0.5), InHand("aa", "Heron", "third arrow", True)
    crane = InHand("bb", "Crane", "second arrow", False)
    then = "From game 5 change to the Crane from the second arrow"
    assert going_on(5, heron, crane, 0.7) == f"{then} (70 % likely better)."
    assert going_on(2, heron, replace(heron, line="fourth arrow"), None) == "From game 2 move in to the fourth arrow."
    assert going_on(2, heron, replace(heron, keeps=False), None) == "From game 2 move with the lane."
    untried = f"{then} (the ball in hand has too few shots that late)."
    assert going_on(5, heron, crane, None) == untried
    # three looks of ten, for the fourth game ends the stretch: 1 - (1 - 11/1024)^3 = 3.2 %
    limit = in_a_stretch(half)
    luck = "A good line has such a game by chance in 3 % of blocks."
    early = "Go sooner after a game with at most 1 strike in ten frames."
    assert going_on(5, heron, crane, None, limit) == f"{untried} {early} {luck}"
    backup = "Go to it after a game with at most 1 strike in ten frames, or if the pocket is gone."
    assert to_the_backup(limit) == f"{backup} {luck}"
    # in a stretch of one game there is nothing to look at before it is over anyway
    assert in_a_stretch(half[:1]) is None and to_the_backup(None) == "Go to it if the pocket is gone."


def test_knowing_less_of_a_pattern_promises_no_more_pins(made: tuple[Season, Fits]) -> None:
    rows = choices(Fitted(*made), "ann", "medium")
    lane: Lane = {"pattern_class": "medium", "pattern": "new", "length_ft": 40.0, "volume_ml": 24.0, "ratio": 4.0}
    known, new = priced(
        made[1], "ann", [Round(rows, lane | {"length_ft": far}, lane, 4, 0.0, {}, NOTHING) for far in (40.0, 64.0)]
    )
    assert new.pins.mean(axis=0) == pytest.approx(known.pins.mean(axis=0), abs=1e-9)
    assert (new.pins.std(axis=0) > 1.2 * known.pins.std(axis=0)).all()
    assert best_sequence(new)[0] == best_sequence(known)[0]
    assert new.strike.mean(axis=0) == pytest.approx(known.strike.mean(axis=0), abs=0.01)


def test_a_ball_is_drawn_in_by_as_much_as_on_its_card(made: tuple[Season, Fits]) -> None:
    """By hand: a card that draws a ball in by 3 pins in the fresh phase takes 3 pins off it in games 1 and 2."""
    rows = choices(Fitted(*made), "ann", "medium")
    lane: Lane = {"pattern_class": "medium", "pattern": "new", "length_ft": 40.0, "volume_ml": 24.0, "ratio": 4.0}
    names = list(dict.fromkeys(row["ball"] for row in sorted(rows, key=lambda row: (-row["counted"], row["ball"]))))
    ways = {name: Way(0, None, np.zeros(1), -3.0 if name == names[0] else 0.0) for name in names}
    answers = {"fresh": Advised(names[0], ways)}
    plain, card = priced(made[1], "ann", [Round(rows, lane, lane, 4, 0.0, known, NOTHING) for known in ({}, answers)])
    by = np.zeros((4, len(names)))
    by[:2, [row["ball"] for row in card.rows].index(names[0])] = -3.0
    assert card.pins - plain.pins == pytest.approx(np.broadcast_to(by, card.pins.shape), abs=1e-9)
    assert card.kept - plain.kept == pytest.approx(np.broadcast_to(by, card.kept.shape), abs=1e-9)


def test_what_the_bowler_throws_now_is_the_mean_of_its_balls_by_their_shares(made: tuple[Season, Fits]) -> None:
    """By hand: three quarters heron in the fresh phase, drawn in by 2 pins there, and crane alone later."""
    rows = choices(Fitted(*made), "ann", "medium")
    lane: Lane = {"pattern_class": "medium", "pattern": "new", "length_ft": 40.0, "volume_ml": 24.0, "ratio": 4.0}
    heron, crane = sorted({row["ball"] for row in rows})[::-1][:2]
    shares = {"fresh": {heron: 0.75, crane: 0.25}, "transition": {crane: 1.0}}
    mix = OwnMix(shares, {"fresh": {heron: -2.0}}, [])
    (all_compared,) = priced(made[1], "ann", [Round(rows, lane, lane, 4, 0.0, {}, mix)])
    at = {row["ball"]: all_compared.score[..., k] for k, row in enumerate(all_compared.rows)}
    fresh = 0.75 * (at[heron] - 2.0) + 0.25 * at[crane]
    assert all_compared.own[:, :2] == pytest.approx(fresh[:, :2], abs=1e-9)
    assert all_compared.own[:, 2:] == pytest.approx(at[crane][:, 2:], abs=1e-9)
    # a ball thrown and not compared counts all the same, and is not offered
    of_heron = [row for row in rows if row["ball"] == heron]
    others = [row for row in rows if row["ball"] == crane]
    (one,) = priced(made[1], "ann", [Round(of_heron, lane, lane, 4, 0.0, {}, OwnMix(shares, mix.drawn_in, others))])
    assert [row["ball"] for row in one.rows] == [heron]
    assert one.own == pytest.approx(all_compared.own, abs=1e-9)


def test_the_own_mix_counts_a_ball_as_often_as_it_is_thrown(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 30 and 10 deliveries in the period, of 30 and 40 in the whole log, and none late."""
    rows = pd.DataFrame({"ball": ["a", "a", "b"], "shots_now": [20, 10, 10], "shots": [20, 10, 40]})
    rows = rows.assign(bowler="ann", pattern_class="medium", phase="fresh")
    not_asked: Any = None
    choices_of = Candidates(rows, not_asked, not_asked, np.array([[9.0, 9.0, 9.0], [0.0, 1.0, 2.0]]))
    monkeypatch.setattr("pipeline.decisions.plan.own_mix.candidates", lambda fitted: choices_of)
    compared = [{"ball": name} for name in ("a", "b")]
    mix = own_mix(None, "ann", "medium", compared)  # type: ignore[arg-type]
    assert mix.shares == {phase: {"a": 0.75, "b": 0.25} for phase in ("fresh", "transition", "late")}
    assert mix.drawn_in == {"fresh": {"a": 1.0, "b": 2.0}} and mix.others == []


def test_a_plan_of_what_is_thrown_anyway_gains_nothing() -> None:
    """A bowler with one ball can only go on."""
    alone = make(MadeSeason([MadeBall("heron")], blocks=4, games=2, seed=9), Settings())
    planned = plan(Fitted(alone, fit_all(alone, Settings())), "ann", 40.0, 24.0, 4.0, 2)
    assert not planned.steps[0].keeps_line
    assert planned.gain.mean == pytest.approx(0.0, abs=1e-9) and planned.gain.hi80 == pytest.approx(0.0, abs=1e-9)


def test_a_plan_states_its_gain_over_what_is_thrown_now(made: tuple[Season, Fits], known: BlockPlan) -> None:
    fitted = Fitted(*made)
    mix = own_mix(fitted, "ann", "medium", choices(fitted, "ann", "medium"))
    # the shares are those of the first deliveries logged on the class in the phase
    logged = "SELECT ball, count(*) FROM first_balls WHERE pattern_class = 'medium' AND phase = 'fresh' GROUP BY ball"
    thrown = dict(made[0].connection.execute(logged).fetchall())
    assert mix.shares["fresh"] == pytest.approx({ball: n / sum(thrown.values()) for ball, n in thrown.items()})
    assert known.gain.lo80 < known.gain.mean < known.gain.hi80 and 0.9 < known.p_gain <= 1
    assert f"{known.gain.mean:+.1f}" in known.sentence and "over what you throw now" in known.sentence


def test_with_one_choice_logged_enough_there_is_still_something_to_fall_back_on() -> None:
    season = make(MadeSeason([MadeBall("heron"), MadeBall("crane")], blocks=4, games=2, seed=9), Settings())
    few_shots = Settings.model_validate({"evidence": {"min_shots": 35}})
    fits = fit_all(season, few_shots)
    assert len(choices(Fitted(season, fits), "ann", "medium")) > 1
    assert plan(Fitted(season, fits), "ann", 40.0, games=2).backup is not None


def _sd(value: Estimate) -> float:
    return (value.hi80 - value.lo80) / 2 / 1.2816


def test_the_average_to_expect_has_the_luck_of_its_games(made: tuple[Season, Fits]) -> None:
    one, four = (plan(Fitted(*made), "ann", 40.0, 24.0, 4.0, games) for games in (1, 4))
    for planned in (one, four):  # luck is as often good as bad
        assert planned.average.mean == pytest.approx(planned.score.mean, abs=1e-9)
    luck = [np.sqrt(_sd(made.average) ** 2 - _sd(made.score) ** 2) for made in (one, four)]
    histogram, scores = np.array(one.score_histogram), np.arange(301)
    of_a_game = np.sqrt(histogram @ scores**2 - (histogram @ scores) ** 2)
    assert luck[0] == pytest.approx(np.sqrt(of_a_game**2 - _sd(one.score) ** 2), rel=0.1)
    assert luck[0] / luck[1] == pytest.approx(2, rel=0.15)  # the mean of four games


def test_shots_on_other_patterns_are_not_counted_as_shots_on_this(made: tuple[Season, Fits]) -> None:
    here, there = plan(Fitted(*made), "ann", 40.0, games=2), plan(Fitted(*made), "ann", 50.0, games=2)
    assert there.steps[0].shots == 0 < there.steps[0].shots_elsewhere
    assert "no shot on such patterns, " in there.sentence and "no shot" not in here.sentence
    assert here.steps[0].shots > 0


def test_a_volume_never_logged_says_nothing_of_the_balls() -> None:
    season = make(
        MadeSeason([MadeBall("heron", effect=0.4), MadeBall("crane")], blocks=20, games=4, seed=4), Settings()
    )
    season.connection.execute("UPDATE patterns SET volume_ml = NULL, ratio = NULL")
    fits = fit_all(prepare(season.connection, Settings()), Settings())
    without, posted = (plan(Fitted(season, fits), "ann", 40.0, *oil, 4) for oil in ((None, None), (25.0, 3.0)))
    assert posted.steps[0].ball == without.steps[0].ball
    # of all bowled on one pattern, some is taken for the pattern's own and not promised on another
    assert posted.steps[0].worth.mean == pytest.approx(without.steps[0].worth.mean, abs=2.0)
    assert without.novelty == 0 < posted.novelty < 1
    width = [p.steps[0].worth.hi80 - p.steps[0].worth.lo80 for p in (without, posted)]
    assert width[0] < width[1] < 4 * width[0]  # one pattern bowled on says little of how patterns differ


def test_there_is_a_plan_for_every_posted_pattern_the_one_bowled_on_last_first(made: tuple[Season, Fits]) -> None:
    plans = default_plans(Fitted(*made))
    assert [(p.bowler, p.length_ft, p.games) for p in plans] == [("ann", 40.0, 4), ("ann", 36.0, 4)]
    assert [named(p, Names.of(made[0])).pattern for p in plans] == ["made", "made"]  # what each goes by


def test_rounds_priced_together_are_priced_as_each_alone(made: tuple[Season, Fits]) -> None:
    for together in default_plans(Fitted(*made)):
        oil = (together.length_ft, together.volume_ml, together.ratio)
        assert plan(Fitted(*made), "ann", *oil, together.games, name=together.pattern) == together


def test_the_text_names_the_choice_and_the_odds(known: BlockPlan) -> None:
    text = plan_text(known)
    assert text.startswith("ann: 4 games on 40 ft, 24 mL, 4:1 (medium)")
    assert "the Heron" in text and "Backup" in text and "of games at 200 or more" in text


def test_a_plan_that_cannot_be_made_says_why(made: tuple[Season, Fits]) -> None:
    with pytest.raises(PlanError, match="bowlers with shots are ann"):
        plan(Fitted(*made), "nobody", 40.0)
    with pytest.raises(PlanError, match="at least one game"):
        plan(Fitted(*made), "ann", 40.0, games=0)


def test_perfect_information_against_the_normal() -> None:
    # E max of two independent standard normals is 1/sqrt(pi) (David & Nagaraja, Order Statistics, from memory)
    draws = np.random.default_rng(3).standard_normal((200_000, 2))
    assert perfect_information(draws) == pytest.approx(1 / np.sqrt(np.pi), abs=0.01)
    # knowing only one of two: E max(Z, 0) = 1/sqrt(2 pi)
    assert sample_information(draws, 0, 1.0) == pytest.approx(1 / np.sqrt(2 * np.pi), abs=0.01)
    # a sample that removes a quarter of the variance shows half the spread
    assert sample_information(draws, 0, 0.25) == pytest.approx(0.5 / np.sqrt(2 * np.pi), abs=0.01)
    assert sample_information(draws, 0, 0.0) == pytest.approx(0, abs=0.01)


def test_what_to_log_next_is_the_choice_least_known() -> None:
    made = drawn(cells=1, choices=3, shots=300, sd=6.0, seed=5)
    rng = np.random.default_rng(1)
    pins = made.fits.cache[candidates.name()].priced.pins
    pins[:, 0], pins[:, 1], pins[:, 2] = rng.normal(1, 0.5, 400), rng.normal(0, 8, 400), rng.normal(-20, 1, 400)
    first = next_shots(Fitted(made.season, made.fits))[0]
    assert first.ball == "ball1" and first.pins_at_stake == pytest.approx(perfect_information(pins))
    assert first.shots >= 10 and f"Log {first.shots} shots with the Ball1" in first.sentence


def test_one_question_a_cell_is_asked_and_some_where_little_was_logged() -> None:
    made = drawn(cells=5, choices=3, shots=60, sd=9.0, seed=6)
    asked = next_shots(Fitted(made.season, made.fits))
    assert len(asked) == 3 == len({item.pattern_class for item in asked})
    worth = [item.gain * item.share / item.shots for item in asked]
    assert worth == sorted(worth, reverse=True)
    few_shots = drawn(cells=1, choices=3, shots=6, sd=6.0, seed=6)
    assert len(next_shots(Fitted(few_shots.season, few_shots.fits))) == 1


def test_nothing_is_asked_that_gains_less_than_the_settings_ask() -> None:
    made = drawn(cells=5, choices=3, shots=60, sd=9.0, seed=6)
    assert all(item.gain >= 0.3 for item in next_shots(Fitted(made.season, made.fits)))
    strict = replace(made.fits, settings=Settings(practice=Practice(least_gain=40)))
    assert next_shots(Fitted(made.season, strict)) == []
