"""The season review's two answers: the first ball on each pattern is the card's, and all costs are in one currency."""

from __future__ import annotations

import re
from typing import cast

import pytest

from pipeline.decisions.records import SkillComparison
from pipeline.decisions.wording.drills import drill
from pipeline.decisions.wording.focus import skill_name
from reports.charts.queue import Pen
from reports.context import ReportContext
from reports.html import strips
from reports.style import wording
from reports.views import advice, costs, first_ball, person, plan, skills, students, work_list
from tests.reports.factory import season


@pytest.fixture(scope="module")
def context() -> ReportContext:
    return ReportContext(season(), cast(Pen, None))  # tables need no pen


def test_the_first_ball_is_the_one_of_the_first_card(context: ReportContext) -> None:
    shown = first_ball.first_balls(context)
    cards = {(item.bowler, item.pattern_class): item for item in context.decisions.playbook if item.from_game == 1}
    assert len(cards) == sum(len(item.table.rows) for item in shown.values())
    for bowler, item in shown.items():
        for row in item.table.rows:
            pattern, ball, gain, chance, shots = (cell.value for cell in row.cells)
            policy = cards[bowler, str(pattern)].policy
            if policy is None:
                assert row.cells[1].text == "not enough shots" and not ball
                continue
            now = cards[bowler, str(pattern)].gain_over_now
            assert (ball, gain, shots) == (policy.ball_name, now.gain.mean if now else None, policy.shots)
            named = [(bit.label, bit.text) for bit in item.digest]
            assert (pattern, wording.shorten(policy.ball_name, 24)) in named
            if policy.p_best is not None:
                assert chance == policy.p_best
            played = f"stay on {policy.line}" if policy.keeps_line else f"from board {policy.start_board:.0f}"
            assert row.cells[1].note.startswith(played)


def test_the_start_page_names_the_first_ball_of_each_card_with_the_way_to_it(context: ReportContext) -> None:
    cards = {(item.bowler, item.pattern_class): item for item in context.decisions.playbook if item.from_game == 1}
    answered = {key: item for key, item in cards.items() if item.policy is not None}
    shown = {
        (bowler, item.advice.pattern_class): item
        for bowler, items in first_ball.at_a_glance(context).items()
        for item in items
    }
    assert shown.keys() == answered.keys()
    for (bowler, kind), item in shown.items():
        assert item.policy == answered[bowler, kind].policy
        assert item.link == f"season.html#answer-{bowler}-{kind}-fresh&bowler={bowler}"
        assert (item.tags.bowler, item.tags.pattern, item.tags.phase) == (bowler, kind, "")


def test_the_arsenal_says_first_how_many_balls_ask_for_what(context: ReportContext) -> None:
    said = work_list.dues(context)
    tasks = context.decisions.arsenal_tasks
    for bowler, text in said.items():
        mine = [str(item.do) for item in tasks if bowler in ("", item.bowler)]
        counts = {act: int(number) for number, act in re.findall(r"(\d+)(?: balls?)? to (\w+)", text)}
        match = re.search(r"(\d+)(?: balls?)? without enough shots", text)
        counts |= {"not enough shots": int(match.group(1))} if match else {}
        assert counts == {act: mine.count(act) for act in set(mine)}
    assert "1 balls" not in " ".join(said.values())


def test_a_plan_says_why_it_starts_on_another_board_than_the_card_of_its_class(context: ReportContext) -> None:
    made = context.decisions.plans[0]
    first = made.steps[0].model_copy(update={"ball": "b9-1", "start_board": 12.4})
    other = made.model_copy(update={"steps": [first, *made.steps[1:]]})
    card = next(
        item
        for item in context.decisions.playbook
        if (item.bowler, item.pattern_class, item.from_game) == (made.bowler, made.pattern_class, 1) and item.policy
    )

    def said(ball: str, board: float | None) -> str:
        policy = card.policy.model_copy(update={"ball": ball, "start_board": board}) if card.policy else None
        cards = [card.model_copy(update={"policy": policy})]
        return plan.class_start(
            ReportContext(context.decisions.model_copy(update={"playbook": cards}), context.pen), other
        )

    assert ": board 14 from game 1 (this oil: 12)." in said("b9-1", 14.2)
    assert said("b9-1", 11.6) == ""  # the same board once rounded
    assert said("b9-1", None) == said("b9-2", 14.2) == ""  # a line kept, or another ball: nothing to compare


def test_care_of_a_ball_that_no_card_asks_for_is_for_those_who_go_on_throwing_it(context: ReportContext) -> None:
    card = next(item for item in context.decisions.playbook if item.policy and item.gain_over_now)
    task = next(
        item for item in context.decisions.arsenal_tasks if item.bowler == card.bowler and item.do == "resurface"
    )
    assert card.policy is not None and card.gain_over_now is not None

    tail = "if you still throw it"

    def said(asked: str, replaced: str) -> str:
        policy = card.policy.model_copy(update={"ball": asked}) if card.policy else None
        gain = card.gain_over_now.model_copy(update={"instead_of_ball": replaced}) if card.gain_over_now else None
        cards = [card.model_copy(update={"policy": policy, "gain_over_now": gain})]
        shown = ReportContext(context.decisions.model_copy(update={"playbook": cards}), context.pen)
        notes = {row.cells[0].text: row.cells[2].note for row in work_list.table(shown).rows}
        said = next(item.sentence for item in advice.candidates(shown) if item.sentence.startswith(task.ball_name))
        assert said.endswith(tail) == (notes[task.ball_name] == "if still thrown")
        on_paper = [text for text, item in person.view(shown)["sheets"][card.bowler].balls if item.ball == task.ball]
        assert [text.endswith(tail) for text in on_paper] == [said.endswith(tail)] * len(on_paper) != []
        return said

    assert said("another", task.ball).endswith(tail)
    assert not said(task.ball, task.ball).endswith(tail)  # a card asks for it
    assert not said("another", "a third").endswith(tail)  # nothing replaces it


def test_a_plan_says_so_if_its_backup_is_worth_as_much(context: ReportContext) -> None:
    made = next(item for item in context.decisions.plans if item.backup is not None)
    first = made.steps[0].worth.mean
    for above, said in ((0.3, True), (0.0, True), (-0.3, False)):
        worth = made.backup.worth.model_copy(update={"mean": first + above}) if made.backup else None
        backup = made.backup.model_copy(update={"worth": worth}) if made.backup else None
        assert bool(plan.as_good(made.model_copy(update={"backup": backup}))) == said
    assert plan.as_good(made.model_copy(update={"backup": None})) == ""


def test_a_plan_says_what_its_pins_are_counted_from(context: ReportContext) -> None:
    """By hand: 3 games at +2 and 1 at -2 are +1 per game on the mean, so a mean score of 191 counts from 190."""
    made = context.decisions.plans[0]
    ends = ((1, 3, 2.0), (4, 4, -2.0))
    steps = [
        made.steps[0].model_copy(
            update={"from_game": a, "to_game": b, "worth": made.steps[0].worth.model_copy(update={"mean": w})}
        )
        for a, b, w in ends
    ]
    score = made.score.model_copy(update={"mean": 191.0})
    said = plan.season_level(context, made.model_copy(update={"steps": steps, "score": score}))
    scored = next(card.average for card in context.decisions.summary.bowlers if card.bowler == made.bowler)
    assert scored is not None and f"level, 190.0 ({scored:.1f} scored" in said


def test_a_change_of_accuracy_says_its_direction_in_words(context: ReportContext) -> None:
    """Boards missed: fewer are better."""
    skill = next(item for item in context.decisions.skills if not item.higher_is_better)
    assert students.changed(-0.04, skill) == "0.04 boards better"
    assert students.changed(0.04, skill) == "0.04 boards worse"
    assert students.changed(-0.001, skill) == "0.00 boards"
    rate = next(item for item in context.decisions.skills if item.unit == "%")
    assert students.changed(1.2, rate).startswith("+1.2") and students.changed(1.2, rate).endswith("points")
    scale = students._better_right(strips.Scale(-0.1, 0.2), skill)
    assert scale.place(-0.1) > scale.place(0.2)  # better to the right
    assert students._better_right(strips.Scale(-0.1, 0.2), rate) == strips.Scale(-0.1, 0.2)


def test_what_costs_most_is_in_pins_per_season(context: ReportContext) -> None:
    """A gain in some games counts for the games it concerns; a skill for all of a bowler's games."""
    games = {card.bowler: card.games for card in context.decisions.summary.bowlers}
    tasks = {(item.bowler, item.ball_name): item for item in context.decisions.arsenal_tasks}
    skills = {(item.bowler, item.skill): item for item in context.decisions.skills}
    seen = set()
    for bowler, item in costs.people(context).items():
        assert 0 < len(item.table.rows) <= costs.MOST
        pins = [float(cast(float, row.cells[1].value)) for row in item.table.rows]
        assert pins == sorted(pins, reverse=True) and min(pins) >= costs.LEAST * games[bowler]
        for row, gain in zip(item.table.rows, pins, strict=True):
            what = row.cells[0].text
            if what.startswith("Practise "):
                seen.add("skill")
                skill = next(
                    skill for who, skill in skills if who == bowler and what == f"Practise {skill_name(skill)}"
                )
                won = skills[bowler, skill].pins_to_win_back
                assert won is not None and gain == pytest.approx(won.mean * games[bowler])
            elif (bowler, what.split(":")[0]) in tasks:
                seen.add("ball")
                assert gain == pytest.approx(tasks[bowler, what.split(":")[0]].pins_a_season)
            else:
                seen.add("choice")
                by_season = [
                    a.gain_over_now.pins_a_season
                    for a in context.decisions.playbook
                    if a.bowler == bowler and a.gain_over_now
                ]
                assert any(gain == pytest.approx(value) for value in by_season)
    assert seen == {"skill", "ball", "choice"}


def test_a_ball_to_resurface_has_a_grit_named_even_without_evidence(context: ReportContext) -> None:
    due = [item for item in context.decisions.arsenal_tasks if item.looks_best == "resurface"]
    assert any(item.grit.grit is None for item in due) and any(item.grit.grit is not None for item in due)
    for item in context.decisions.arsenal_tasks:
        cell = work_list._grit(item)
        if item.looks_best != "resurface":
            assert cell.text == ""
        elif item.grit.grit is not None:
            assert cell.text == str(item.grit.grit)
        else:
            assert cell.text == f"same {item.grit.now}" and cell.note == ""


@pytest.mark.parametrize("first_is_better", [True, False])
def test_the_class_grid_names_who_leads_and_how_surely(context: ReportContext, first_is_better: bool) -> None:
    """Spares are one row; its chance is of the pair in front, whichever of them the comparison favours."""
    spares = [item for item in context.decisions.skills if item.skill == "spares"]
    first, second, *_ = sorted(spares, key=lambda item: -item.value.mean)
    better, other = (first, second) if first_is_better else (second, first)
    compared = SkillComparison(
        skill="spares", better=better.bowler, other=other.bowler, difference=first.value, probability=0.9, shots=60
    )
    decisions = context.decisions.model_copy(update={"comparisons": [*context.decisions.comparisons, compared]})
    rows = {row.skill: row for row in students.class_grid(ReportContext(decisions, context.pen))}
    row = rows["spares"]
    assert row.whole and not rows["carry from the pocket"].whole and len(row.cells) == len(context.bowlers)
    names = [context.short_name(item.bowler) for item in (first, second)]
    assert row.leader == (names[0] if first_is_better else " or ".join(names))  # under 80 in 100: too close to call
    assert row.p_ahead == pytest.approx(0.9 if first_is_better else 0.1)
    assert rows["strikes"].p_ahead is None  # nobody compared them


def test_two_are_too_close_to_call_under_80_in_100(context: ReportContext) -> None:
    """The limit is that of the 80 % intervals all around it."""
    assert skills.over("Pia", 0.8) == "80 in 100 over Pia"
    assert skills.over("Pia", 0.79) == "79 in 100 over Pia, too close to call" and skills.over("Pia", None) == ""
    first, second = context.bowlers[:2]
    names = [context.short_name(bowler) for bowler in (first, second)]
    assert skills.leading(context, [first, second], 0.8) == names[0]
    assert skills.leading(context, [first, second], 0.79) == " or ".join(names)


def test_practice_is_listed_if_likely_to_gain_though_another_focus_may_be_better(context: ReportContext) -> None:
    behind = {(item.bowler, item.skill): item.p_win_back for item in context.decisions.skills}
    listed = {item.tags.bowler: item for item in advice.candidates(context) if item.kind == "In practice"}
    assert {item.bowler for item in context.decisions.focus} == listed.keys() != set()
    for focus in context.decisions.focus:
        known = behind.get((focus.bowler, focus.skill))
        assert listed[focus.bowler].probability == (focus.p_best if known is None else known)
    assert any(behind.get((focus.bowler, focus.skill)) is not None for focus in context.decisions.focus)


def test_a_drill_for_spares_names_the_costliest_leaves_as_they_stand(context: ReportContext) -> None:
    """A left-hander's leaves are kept mirrored, so a 10 is said as the 7 that stands."""
    focus = context.decisions.focus[0].model_copy(update={"skill": "multi-pin spares"})
    leave = context.decisions.leaves[0].model_copy(update={"bowler": focus.bowler, "leave_type": "split, two pins"})
    leaves = [
        leave.model_copy(update={"leave": name, "pins_to_win_back": back})
        for name, back in (("1-2-10", 0.1), ("3-10", 0.4), ("10", 0.9), ("4-7", 0.2), ("2-8", 0.05))
    ]
    shown = ReportContext(context.decisions.model_copy(update={"leaves": leaves}), context.pen)
    assert students.leaves_to_practise(shown, focus) == ["3-10", "4-7", "1-2-10"]
    assert students.leaves_to_practise(shown, focus.model_copy(update={"skill": "single-pin spares"})) == ["10"]
    assert students.leaves_to_practise(shown, focus.model_copy(update={"skill": "carry"})) == []
    assert "at the 3-10, 4-7 and 1-2-10." in drill("multi-pin spares", ["3-10", "4-7", "1-2-10"])
    assert "at the 2-7, 6-10 and 1-3-7 (real" in drill("multi-pin spares", ["3-10", "4-7", "1-2-10"], True)
    assert "at the 10, moving" in drill("single-pin spares", ["10"]) and "7, 10 and 3" in drill("single-pin spares")


def test_the_work_list_folds_by_whether_a_resurfacing_is_due_now(context: ReportContext) -> None:
    table = work_list.table(context)
    tasks = sorted(context.decisions.arsenal_tasks, key=lambda item: -item.pins_a_season)
    assert table.opens and len(tasks) == len(table.rows)
    for item, row in zip(tasks, table.rows, strict=True):
        now = item.do == "resurface" and item.due.games == 0
        assert (row.group == "Resurface now") == now
        assert row.group.lower().startswith(item.do)
