"""One question that cannot be answered leaves the others whole, and says why."""

from __future__ import annotations

import json
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from pipeline.decisions import parts
from pipeline.decisions.checks import model_checks
from pipeline.decisions.decide import decide
from pipeline.decisions.export.writers import to_json
from pipeline.decisions.left_out import Questions
from pipeline.errors import TRACEBACK, NotDeterminedError, RackledgerError
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.models.spares import leave, spare
from pipeline.models.strikes import strike_by_entry, strike_worth
from pipeline.settings import Evidence, Settings
from reports.publish import pages
from tests.decisions.made_season import MadeBall, MadeSeason, make


def _singular(*_: object) -> object:
    return np.linalg.inv(np.zeros((2, 2)))


def _indefinite(*_: object) -> object:
    raise NotDeterminedError("not positive definite")


def test_the_rest_of_the_report_stands_and_says_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(parts, "arsenal", _singular)
    monkeypatch.setitem(model_checks.CHECKS, "streaks", _indefinite)
    monkeypatch.setattr(strike_by_entry, "fit_entry", _indefinite)
    season = make(MadeSeason([MadeBall("heron"), MadeBall("crane")], blocks=4, games=2))
    decisions = decide(Fitted(season, fit_all(season, Settings())), "part", None)
    missing = {item.question: item.reason for item in decisions.left_out}
    by_entry = {"strikes by entry board", "check of strikes by entry board"}
    assert set(missing) == {"ball care", "check for streaks"} | by_entry
    assert "please report it" in missing["ball care"] and "Singular" in missing["ball care"]
    for question in ("check for streaks", *by_entry):
        assert missing[question] == "these shots do not determine it (not positive definite)"
    names = {check.name for check in decisions.checks}
    assert {"log loss of the model", "longest strike run per game"} <= names and decisions.calibration
    assert decisions.arsenal == [] and decisions.entry == []
    assert decisions.combos and decisions.leaves and decisions.changes_in_all
    written = dict(pages(decisions, lambda _text, _share: None))
    assert "ball care" in written["index.html"] and "not positive definite" in written["method.html"]
    assert json.loads(to_json(decisions, tmp_path / "d.json").read_text())["left_out"]


@pytest.mark.parametrize(
    ("module", "fit", "stands"),
    [(strike_worth, "fit_worth", "entry"), (leave, "fit_leave", "entry"), (spare, "fit_conversion", "entry")],
)
def test_without_one_model_what_does_not_rest_on_it_stands(
    module: ModuleType, fit: str, stands: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, fit, _indefinite)
    season = make(MadeSeason([MadeBall("heron"), MadeBall("crane")], blocks=4, games=2))
    decisions = decide(Fitted(season, fit_all(season, Settings(evidence=Evidence(draws=200)))), "part", None)
    assert decisions.left_out and getattr(decisions, stands)
    assert all("(not positive definite)" in item.reason for item in decisions.left_out), decisions.left_out
    assert len(dict(pages(decisions, lambda _text, _share: None))) > 3


def test_a_division_by_zero_is_never_called_too_few_shots() -> None:
    answers = Questions()
    assert answers.ask("leaves", lambda: [1 / int("0")], []) == []
    assert "ZeroDivisionError" in answers.left_out[0].reason and "please report" in answers.left_out[0].reason


@pytest.mark.parametrize(
    "error",
    [
        RuntimeError("Query interrupted"),
        RackledgerError("no season"),
        MemoryError(),
        OSError(28, "full"),
        KeyboardInterrupt(),
    ],
)
def test_what_concerns_the_whole_run_still_ends_it(error: BaseException) -> None:
    def fails() -> int:
        raise error

    with pytest.raises(type(error)):
        Questions().ask("leaves", fails, 0)


def test_a_developer_is_shown_where_it_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(TRACEBACK, "1")
    with pytest.raises(np.linalg.LinAlgError):
        Questions().ask("leaves", _singular, None)
