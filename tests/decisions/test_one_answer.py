"""One answer: whatever names a ball to throw first, on a pattern class and in a game, names the same one.

Two questions are asked of the same priced choices, and each record answers one of them:

- which ball, played as it is best played, its line following the lane unless staying is likely better: the policy and
  its gain, the change into the next phase, what leads at each game, gaps, and plans of a class's patterns, which say so
  where a pattern's own oil asks for another ball. Compared are the balls thrown often enough in the phase.
- which line to keep all night: ``best``, ``runner_up``, ``move``, curves and crossings. Compared are the ranked lines.

The strength ladder is of boards of hook, pairs of one job and what to log next are of differences and of questions
left open: none of them says what to throw first. All are read back from the JSON that other programs get.

Walked are the sample season and one season of each of three simulated worlds.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from pipeline.decisions.records import PHASES, ComboWorth, Decisions, Lead, Phase, PhaseAdvice
from pipeline.decisions.wording.terms import with_ball
from pipeline.settings import Settings
from pipeline.sport.lane import phase_of

Cell = tuple[str, str, str]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module", params=["sample", "shared_lane", "shared_lane_strong", "ball_numbers"])
def decisions(request: pytest.FixtureRequest, decided_sample: Path, decided_world: Callable[[str], Path]) -> Decisions:
    folder = decided_sample if request.param == "sample" else decided_world(request.param)
    return Decisions.model_validate_json((folder / "decisions.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def cards(decisions: Decisions) -> dict[Cell, PhaseAdvice]:
    """The cards of cells in which something is advised."""
    return {_cell(item): item for item in decisions.playbook if item.policy is not None}


def _cell(item: PhaseAdvice | ComboWorth | Lead) -> Cell:
    return item.bowler, item.pattern_class, item.phase


def test_the_season_has_enough_to_contradict_itself(decisions: Decisions, cards: dict[Cell, PhaseAdvice]) -> None:
    assert not decisions.left_out
    assert len(cards) > 25 and len(decisions.leads) > 150 and len(decisions.plans) > 25
    assert any(not item.policy.keeps_line for item in cards.values() if item.policy)


def test_the_sample_season_has_every_kind_of_advice(decided_sample: Path) -> None:
    whole = Decisions.model_validate_json((decided_sample / "decisions.json").read_text(encoding="utf-8"))
    policies = [item.policy for item in whole.playbook if item.policy]
    assert len(policies) > 40 and {policy.keeps_line for policy in policies} == {True, False}
    assert any(item.change for item in whole.playbook) and any(plan.departs for plan in whole.plans)


def test_the_policy_and_the_leads_compare_the_same_balls_each_thrown_enough_there(
    decisions: Decisions, cards: dict[Cell, PhaseAdvice]
) -> None:
    for cell, card in cards.items():
        ranked = {item.ball for item in decisions.combos if item.ranked and _cell(item) == cell}
        by_game = groupby([item for item in decisions.leads if _cell(item) == cell], lambda item: item.game)
        compared = [{item.ball: item for item in game} for _, game in by_game]
        assert card.policy is not None and compared
        for balls in compared:
            assert balls.keys() == compared[0].keys() >= ranked | {card.policy.ball}
            assert all(item.shots >= Settings().evidence.min_shots for item in balls.values())


def test_the_ball_advised_for_each_game_is_the_card_s(decisions: Decisions, cards: dict[Cell, PhaseAdvice]) -> None:
    seen = set()
    for item in (item for item in decisions.leads if item.advised):
        policy = cards[_cell(item)].policy
        assert policy is not None
        assert (item.ball, item.keeps_line, item.line) == (policy.ball, policy.keeps_line, policy.line)
        assert phase_of(item.game, Settings().phases) == item.phase
        assert (item.bowler, item.pattern_class, item.game) not in seen
        seen.add((item.bowler, item.pattern_class, item.game))
    assert seen == {(item.bowler, item.pattern_class, item.game) for item in decisions.leads}
    assert {_cell(item) for item in decisions.leads} >= set(cards)


def test_a_change_is_to_the_next_card_s_ball_and_there_is_none_without_one(cards: dict[Cell, PhaseAdvice]) -> None:
    for one, other in pairwise(
        sorted(cards.values(), key=lambda a: (a.bowler, a.pattern_class, PHASES.index(a.phase)))
    ):
        if (one.bowler, one.pattern_class) != (other.bowler, other.pattern_class):
            assert one.change is None
            continue
        assert one.policy is not None and other.policy is not None
        if one.policy.ball == other.policy.ball:
            assert one.change is None
        else:
            assert one.change is not None and one.change.ball == other.policy.ball
            assert one.change.over_ball == one.policy.ball
            assert other.policy.line in (None, one.change.line)


def test_a_plan_throws_what_the_cards_name_or_says_that_it_does_not(
    decisions: Decisions, cards: dict[Cell, PhaseAdvice]
) -> None:
    known = 0
    for plan in decisions.plans:
        phases: list[Phase] = [phase for phase in PHASES if (plan.bowler, plan.pattern_class, phase) in cards]
        of_phase = {phase: cards[plan.bowler, plan.pattern_class, phase].policy for phase in phases}
        differs = False
        bowled = [(game, step) for step in plan.steps for game in range(step.from_game, step.to_game + 1)]
        for game, step in bowled:
            policy = next((p for phase, p in of_phase.items() if phase_of(game, Settings().phases) == phase), None)
            if policy is None:
                continue
            known += 1
            differs |= step.ball != policy.ball
            if step.ball == policy.ball:
                assert step.keeps_line == policy.keeps_line and policy.line in (None, step.line)
        assert differs == bool(plan.departs), (plan.bowler, plan.pattern)
    assert known > 100


def test_every_bowler_has_a_plan_for_every_logged_pattern_by_name(decisions: Decisions) -> None:
    names = {plan.pattern for plan in decisions.plans}
    assert len(names) > 3 and None not in names
    both = [(plan.bowler, plan.pattern) for plan in decisions.plans]
    assert sorted(both) == sorted((card.bowler, name) for card in decisions.summary.bowlers for name in names)


def test_the_gain_is_that_of_the_policy_s_ball(decisions: Decisions, cards: dict[Cell, PhaseAdvice]) -> None:
    for card in cards.values():
        assert card.policy is not None and card.gain_over_now is not None
        assert card.policy.ball_name in card.gain_over_now.sentence
        assert f"the {card.policy.ball_name}" in card.policy.sentence
        own = [item for item in decisions.combos if _cell(item) == _cell(card) and item.ball == card.policy.ball]
        kept = [item.shots for item in own if item.line == card.policy.line]
        assert (
            card.policy.shots == kept[0] if card.policy.keeps_line else card.policy.shots >= sum(i.shots for i in own)
        )
        assert card.gain_over_now.instead_of_ball != card.policy.ball or card.policy.keeps_line


def test_the_line_to_keep_is_the_best_ranked_and_leads_the_lines_kept(
    decisions: Decisions, cards: dict[Cell, PhaseAdvice]
) -> None:
    for cell, card in cards.items():
        ranked = [item for item in decisions.combos if item.ranked and _cell(item) == cell]
        assert card.best == max(ranked, key=lambda item: item.worth.mean, default=None)
        if card.best is None:
            continue
        assert with_ball(card.best.ball_name, card.best.line).lower() in card.sentence.lower()
    first: dict[tuple[str, str], ComboWorth] = {}
    for card in sorted(cards.values(), key=lambda item: PHASES.index(item.phase)):
        if card.best is not None:
            first.setdefault((card.bowler, card.pattern_class), card.best)
    assert decisions.crossings
    for crossing in decisions.crossings:
        best = first.get((crossing.bowler, crossing.pattern_class))
        if best is None:
            continue  # no line is ranked in any phase
        assert crossing.leader == with_ball(best.ball_name, best.line) and "of lines kept" in crossing.sentence.lower()


def test_a_line_to_stay_on_is_the_one_said_for_lines_kept(cards: dict[Cell, PhaseAdvice]) -> None:
    """Where staying is advised with the ball of the best line kept, it is on that line."""
    for card in cards.values():
        assert card.policy is not None and (card.best is not None or not card.policy.keeps_line)
        if card.best is not None and card.policy.keeps_line and card.policy.ball == card.best.ball:
            assert card.policy.line == card.best.line and card.policy.worth.mean == card.best.worth.mean


def test_a_gap_is_no_better_than_what_is_advised_there(decisions: Decisions, cards: dict[Cell, PhaseAdvice]) -> None:
    """Nothing in the bag works only where the advised way to play does not; the best by itself is at least as good."""
    gaps = {(gap.bowler, gap.pattern_class, str(gap.phase)): gap for gap in decisions.gaps}
    for cell, gap in gaps.items():
        policy = cards[cell].policy
        assert policy is not None and gap.best_worth.mean >= policy.worth.mean - 1e-9
    for cell, card in cards.items():
        assert card.policy is not None
        if card.policy.worth.mean < -5:
            assert cell in gaps
