"""Seasons with hardly anything in them are decided too, and say what they could not tell."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.decisions.alias import alias
from pipeline.decisions.decide import decide
from pipeline.decisions.export.writers import to_csv, to_json
from pipeline.decisions.records import Decisions
from pipeline.decisions.wording.names import Names
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from tests.conftest import FEW_DRAWS
from tests.decisions.made_season import MadeBall, MadeSeason, make

pytestmark = pytest.mark.slow

TWO_HANDS = [
    MadeBall("heron", "ann", cover="urethane", benchmark=True),
    MadeBall("crane", "ann", effect=0.3),
    MadeBall("white", "ann", cover="polyester", spare_ball=True),
    MadeBall("stork", "lefty", benchmark=True),
    MadeBall("egret", "lefty", cover="pearl", core="asymmetric"),
]
SEASONS = {
    "one bowler, one ball, one game a block, nothing posted, no boards": MadeSeason(
        [MadeBall("heron")], blocks=6, games=1, patterns=(None,), boards=False
    ),
    "one block only": MadeSeason([MadeBall("heron"), MadeBall("crane")], blocks=1, games=3),
    "a left-hander beside a right-hander, patterns partly posted": MadeSeason(
        TWO_HANDS, blocks=9, games=5, patterns=(36.0, None, 44.0), hands={"lefty": "left"}
    ),
    "no boards, blocks of one game": MadeSeason(TWO_HANDS, blocks=8, games=1, boards=False, hands={"lefty": "left"}),
    "every game a strike": MadeSeason([MadeBall("heron", effect=9.0)], blocks=4, games=2),
}


@pytest.fixture(scope="module", params=list(SEASONS), ids=list(SEASONS))
def decided(request: pytest.FixtureRequest) -> tuple[MadeSeason, Decisions]:
    plan = SEASONS[request.param]
    season = make(plan)
    return plan, decide(Fitted(season, fit_all(season, FEW_DRAWS)), "edge", None)


def test_it_is_decided_and_written(decided: tuple[MadeSeason, Decisions], tmp_path: Path) -> None:
    plan, decisions = decided
    bowlers = {ball.bowler for ball in plan.balls}
    assert {card.bowler for card in decisions.summary.bowlers} == bowlers
    text = to_json(decisions, tmp_path / "d.json").read_text(encoding="utf-8")
    assert Decisions.model_validate_json(text) == decisions  # no number that is none
    assert len(to_csv(decisions, tmp_path / "csv")) > 20
    assert {card.bowler for card in alias(decisions, Names(), "salt")[0].summary.bowlers}.isdisjoint(bowlers)


def test_every_choice_thrown_ten_times_is_in_the_playbook(decided: tuple[MadeSeason, Decisions]) -> None:
    _, decisions = decided
    thrown = sum(card.shots for card in decisions.summary.bowlers)
    assert 0 < sum(combo.shots for combo in decisions.combos) <= thrown
    assert all(combo.shots >= 10 for combo in decisions.combos)
    cells = {(c.bowler, c.pattern_class, c.phase) for c in decisions.combos}
    assert cells <= {(a.bowler, a.pattern_class, a.phase) for a in decisions.playbook}
    assert all(advice.sentence.endswith(".") for advice in decisions.playbook)


def test_nothing_is_claimed_that_was_not_logged(decided: tuple[MadeSeason, Decisions]) -> None:
    plan, decisions = decided
    if not plan.boards:
        assert {combo.line for combo in decisions.combos} == {"line not logged"}
        assert not [s for s in decisions.skills if s.skill in ("pocket", "carry") or s.skill.startswith("accuracy")]
        assert not [advice for advice in decisions.playbook if "line not logged" in advice.sentence]
    if plan.patterns == (None,):
        assert not decisions.plans and not [s for s in decisions.skills if s.skill == "versatility"]
    if len({ball.bowler for ball in plan.balls}) == 1:
        assert not decisions.comparisons and not decisions.focus
    if len(plan.balls) == 1:
        assert all(advice.verdict != "settled" for advice in decisions.playbook)
        assert not [advice.change for advice in decisions.playbook if advice.change]


def test_a_left_hander_is_read_from_his_own_side(decided: tuple[MadeSeason, Decisions]) -> None:
    plan, decisions = decided
    hands = {card.bowler: card.hand for card in decisions.summary.bowlers}
    assert hands == {ball.bowler: plan.hands.get(ball.bowler, "right") for ball in plan.balls}
    # boards count from the bowler's own side and both bowl the same boards, so the lines have the same names
    lines = {b: {c.line for c in decisions.combos if c.bowler == b} for b in hands}
    assert all(value & {"second arrow", "third arrow", "line not logged"} for value in lines.values())
