"""One question that cannot be answered leaves the others whole, and says why."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from pipeline.decisions import decide as decide_module
from pipeline.decisions.decide import decide
from pipeline.decisions.export.writers import to_json
from pipeline.decisions.guard import Answers
from pipeline.errors import TRACEBACK, RackledgerError
from pipeline.models import fits as fits_module
from pipeline.models.fits import fit_all
from pipeline.settings import Settings
from reports.publish import pages
from tests.decisions.made_season import MadeBall, MadeSeason, make


def _singular(*_: object) -> object:
    return np.linalg.inv(np.zeros((2, 2)))


def _indefinite(*_: object) -> object:
    raise ArithmeticError("not positive definite")


def test_the_rest_of_the_report_stands_and_says_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(decide_module, "arsenal", _singular)
    monkeypatch.setattr(decide_module, "model_checks", _indefinite)
    monkeypatch.setattr(fits_module, "_fit_entry", _indefinite)
    season = make(MadeSeason([MadeBall("heron"), MadeBall("crane")], blocks=4, games=2))
    decisions = decide(season, fit_all(season, Settings()), "part", None)
    missing = {item.question: item.reason for item in decisions.left_out}
    assert set(missing) == {"ball care", "checks of the models", "strikes by entry board"}
    assert "please report it" in missing["ball care"] and "Singular" in missing["ball care"]
    assert missing["checks of the models"] == "these shots do not determine it (not positive definite)"
    assert decisions.arsenal == [] and decisions.entry == []
    assert decisions.combos and decisions.leaves and decisions.changes_in_all
    written = dict(pages(decisions, lambda _text, _share: None))
    assert "ball care" in written["index.html"] and "not positive definite" in written["method.html"]
    assert json.loads(to_json(decisions, tmp_path / "d.json").read_text())["left_out"]


@pytest.mark.parametrize(
    "error", [RackledgerError("no season"), MemoryError(), OSError(28, "full"), KeyboardInterrupt()]
)
def test_what_concerns_the_whole_run_still_ends_it(error: BaseException) -> None:
    def fails() -> int:
        raise error

    with pytest.raises(type(error)):
        Answers().ask("anything", fails, 0)


def test_a_developer_is_shown_where_it_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(TRACEBACK, "1")
    with pytest.raises(np.linalg.LinAlgError):
        Answers().ask("anything", _singular, None)
