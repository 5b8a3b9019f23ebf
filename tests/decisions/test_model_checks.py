"""The records of the checks, from whole small seasons whose truth is known."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from pipeline.decisions.checks.model_checks import checks_on_new_blocks, other_checks, second_way
from pipeline.decisions.left_out import Questions
from pipeline.decisions.records import CalibrationBin, ModelCheck, Sensitivity
from pipeline.decisions.wording.names import ball_named
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Evidence, Settings
from pipeline.store.season import Season
from tests.decisions.made_season import MadeBall, MadeSeason, make

Checked = tuple[list[ModelCheck], list[CalibrationBin], list[Sensitivity]]
SETTINGS = Settings(evidence=Evidence(draws=200))


def _run(plan: MadeSeason) -> tuple[Season, Checked]:
    season = make(plan, SETTINGS)
    fitted, asked = Fitted(season, fit_all(season, SETTINGS)), Questions()
    checks, bins = checks_on_new_blocks(fitted, asked)
    return season, ([*checks, *other_checks(fitted, asked)], bins, second_way(fitted))


@cache
def _two_balls() -> tuple[Season, Checked]:
    return _run(MadeSeason([MadeBall("a-1", effect=0.8), MadeBall("a-2", effect=-0.8)], blocks=24))


def _check(checks: Checked, name: str) -> ModelCheck:
    return next(check for check in checks[0] if check.name == name)


def test_every_check_is_there_once_with_a_sentence() -> None:
    _, result = _two_balls()
    names = [check.name for check in result[0]]
    assert len(names) == len(set(names)) == 12
    assert all(check.sentence.endswith(".") and np.isfinite(check.value) for check in result[0])
    assert _check(result, "log loss of the model").passed
    assert _check(result, "model against challenger").passed


def test_both_calibration_curves_hold_every_first_ball() -> None:
    season, (_, bins, _) = _two_balls()
    shots = season.frame("cells/entry_cells")["shots"].sum()
    for source in ("model", "challenger"):
        assert sum(item.shots for item in bins if item.source == source) == shots


def test_the_contrast_of_two_balls_known_to_differ() -> None:
    _, (_, _, answers) = _two_balls()
    assert len(answers) == 1
    answer = answers[0]
    # balls are thrown in turn, so all three ways must tell the same story; 1.6 logits are about 0.38 in strikes
    question = f"{ball_named('a-1')} against {ball_named('a-2')} on medium patterns"
    assert (answer.bowler, answer.question) == ("ann", question)
    assert answer.agree
    assert answer.model.lo95 > 0 and answer.doubly_robust.lo95 > 0
    assert answer.doubly_robust.mean == pytest.approx(answer.raw, rel=0.1)
    assert answer.doubly_robust.lo95 < answer.model.mean < answer.doubly_robust.hi95


def test_balls_thrown_in_turn_make_strikes_alternate() -> None:
    # the better ball every other frame: more runs than chance, and less spread of scores
    _, result = _two_balls()
    runs = _check(result, "streaks within games")
    assert runs.value > 1.96 and runs.passed is False
    assert "alternate" in runs.sentence
    assert _check(result, "streaks and the spread of scores").value < 0


def test_one_ball_in_one_block() -> None:
    _, (checks, bins, answers) = _run(MadeSeason([MadeBall("a-1")], blocks=1))
    assert bins == [] and answers == []
    assert {check.name for check in checks} >= {"streaks within games", "longest strike run per game"}
    assert not any("challenger" in check.name for check in checks)


def test_nothing_logged_but_the_pins() -> None:
    _, (checks, bins, answers) = _run(MadeSeason([MadeBall("a-1"), MadeBall("a-2")], blocks=6, boards=False))
    assert len(answers) == 1 and bins
    assert "strikes by entry board" not in {check.name for check in checks}
