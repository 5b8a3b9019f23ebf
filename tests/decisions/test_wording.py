"""What the wording says for typed values: each choice gets its own sentence, whatever the season."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from pipeline.decisions.records import ComboWorth, Estimate, GritEvidence, NextStep
from pipeline.decisions.wording.ball_care import grit_sentence, what_settles
from pipeline.decisions.wording.checks import Calibration, calibration_slope
from pipeline.decisions.wording.next_step import change_sentence, move_sentence
from pipeline.decisions.wording.notes import note_text
from pipeline.decisions.wording.playbook import Ranking, advice_sentence, why_neither
from pipeline.decisions.wording.questions import Question, Stage, question_text, stage_text
from pipeline.decisions.wording.rules_of_thumb import RuleName, rule_text
from pipeline.inference.sample_size import MOST_SHOTS
from pipeline.models.notes import Note, NoteKind
from pipeline.settings import BlockPhases

PHASES = BlockPhases()


def about(mean: float) -> Estimate:
    return Estimate(mean=mean, lo50=mean - 2, hi50=mean + 2, lo80=mean - 4, hi80=mean + 4, lo95=mean - 6, hi95=mean + 6)


def combo(name: str, mean: float, **changes: object) -> ComboWorth:
    fields = {
        "bowler": "ann",
        "pattern_class": "long",
        "phase": "fresh",
        "ball": name.lower(),
        "ball_name": name,
        "ball_class": "solid",
        "line": "second arrow",
        "shots": 80,
        "worth": about(mean),
        "worth_following": about(mean),
        "raw_worth": mean,
        "strike": about(0.5),
        "p_best": 0.7,
        "p_200": 0.4,
        "ranked": True,
        "shots_needed": 0,
    }
    return ComboWorth.model_validate(fields | changes)


HERON, CRANE = combo("Heron", 5.0), combo("Crane", 3.0)
UNRANKED = combo("Stork", 9.0, ranked=False, shots=12, shots_needed=60)


def test_every_verdict_of_the_playbook_has_its_own_sentence() -> None:
    said = {
        ranking.verdict: advice_sentence("long", "fresh", PHASES, ranking)
        for ranking in (
            Ranking("settled", 0, HERON),
            Ranking("leaning", 400, HERON, [CRANE]),
            Ranking("not compared", 60, HERON, nearest=UNRANKED),
            Ranking("not enough shots", 60, nearest=UNRANKED),
        )
    }
    assert all(text.startswith("On long patterns in games 1 to 2") for text in said.values())
    assert "Not settled" in said["leaning"] and "About 400 more shots" in said["leaning"]
    assert "Not settled" not in said["settled"] and "Crane" not in said["settled"]
    assert "60 more shots" in said["not compared"] and "no ball and line has enough shots" in said["not enough shots"]


def test_a_choice_priced_above_the_best_is_named_once_that_is_compared() -> None:
    for ranking in (Ranking("settled", 0, HERON), Ranking("leaning", 400, HERON, [CRANE])):
        assert "Stork" not in advice_sentence("long", "fresh", PHASES, ranking)
        assert "Stork" in advice_sentence("long", "fresh", PHASES, replace(ranking, above=UNRANKED))


def test_a_step_says_what_it_is_weighed_against() -> None:
    step = NextStep(
        from_game=3,
        ball="heron",
        ball_name="Heron",
        line="third arrow",
        over_ball="heron",
        over_line="second arrow",
        gain=about(4.0),
        probability=0.8,
        shots=30,
        sentence="",
    )
    assert "move in to the third arrow" in move_sentence(step, "move") and "over staying" in move_sentence(step, "move")
    assert "stay on the third arrow" in move_sentence(step, "stay") and "over moving" in move_sentence(step, "stay")
    assert "80 % likely better" in change_sentence(step, "Crane", None)
    untried = change_sentence(step, "Crane", about(2.0))
    assert "+2 pins per game" in untried and "Crane" in untried and "likely better" not in untried


def test_why_no_step_is_advised() -> None:
    assert "Stork" in why_neither("late", PHASES, False, UNRANKED)
    assert why_neither("late", PHASES, True, UNRANKED) != why_neither("late", PHASES, False, None)
    assert "more shots" not in why_neither("late", PHASES, False, None)


def test_no_grit_is_named_without_evidence() -> None:
    nothing = GritEvidence(grit=None, over_others=None, probability=None, of="no evidence", shots=0, sentence="")
    assert len({grit_sentence(nothing, "alike"), grit_sentence(nothing, "not compared")}) == 2
    result = GritEvidence(grit=2000, over_others=about(1.0), probability=0.7, of="this ball", shots=90, sentence="")
    assert "2000 grit" in grit_sentence(result, "alike") and "70 % likely" in grit_sentence(result, "alike")


def test_shots_that_cannot_settle_a_verdict_are_not_asked_for() -> None:
    assert "about 200 more shots" in what_settles(200)
    assert f"{MOST_SHOTS:,}" not in what_settles(MOST_SHOTS) and "resurfacing" in what_settles(MOST_SHOTS)


@pytest.mark.parametrize("kind", get_args(Calibration))
def test_every_calibration_has_its_words(kind: Calibration) -> None:
    others = {calibration_slope("model", other, 1.0, 0.1, 0.2).sentence for other in get_args(Calibration)}
    assert len(others) == len(get_args(Calibration))
    assert "slope 1.00, standard error 0.10" in calibration_slope("model", kind, 1.0, 0.1, 0.2).sentence


def test_every_id_has_its_own_words() -> None:
    for ids, words in ((Question, question_text), (Stage, stage_text), (RuleName, rule_text)):
        said = [words(name) for name in get_args(ids)]
        assert all(said) and len(set(said)) == len(said)


@pytest.mark.parametrize("kind", get_args(NoteKind))
def test_every_kind_of_note_says_its_numbers(kind: NoteKind) -> None:
    text = note_text(Note(kind, share=0.125, count=1234, of=5678, names=("washout (6)",)))
    assert text.endswith(".") and text[0].isupper() | text[0].isdigit()
    said = {"most_logged": ("1234", "5,678", "--about"), "rare_leaves_merged": ("1234", "washout (6)")}
    said |= dict.fromkeys(("compared_with_some", "learned_from_some"), ("1,234", "5,678"))
    said |= dict.fromkeys(("no_arrow_board", "ball_not_listed", "pattern_not_posted", "some_entry_boards"), ("12.5",))
    said |= {"layout_not_read": ("1,234 balls",), "period": ("washout (6)",)}
    assert all(part in text for part in said.get(kind, ())), text
