"""Two processes decide as one does, to the digit, also about some people and some nights alone."""

from __future__ import annotations

import importlib
import os
import shutil
from pathlib import Path
from typing import Any, cast

import duckdb
import numpy as np
import pytest

from pipeline import api
from pipeline.decisions import decide as decide_module
from pipeline.decisions import two_processes
from pipeline.decisions.arsenal.verdicts import everybodys_balls
from pipeline.decisions.parts import EITHER, PARTS, Answered, Part, Who
from pipeline.intake import load_folder
from pipeline.models.fitted import Fitted
from pipeline.store import second_process
from sample_logs.generate import simulate_season, write_season
from tests.conftest import FEW_DRAWS

pytestmark = pytest.mark.skipif(not second_process.sys.platform.startswith("linux"), reason="only Linux has two")


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("two")
    write_season(simulate_season(5, blocks=5), folder / "logs")
    load_folder(folder / "logs", folder / "s.duckdb")
    return folder / "s.duckdb"


def _decided(database: Path, monkeypatch: pytest.MonkeyPatch, processes: int, **asked: Any) -> tuple[str, bool]:
    """Decisions as JSON, and whether a second process brought some of them."""
    monkeypatch.setattr("os.sched_getaffinity", lambda _: set(range(processes)))
    with api.fit(database, settings=FEW_DRAWS, in_two=True, **asked) as fitted:
        return api.decide(fitted).model_dump_json(), fitted.beside is not None


@pytest.mark.slow
def test_two_processes_decide_as_one(loaded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with duckdb.connect(str(loaded), read_only=True) as connection:
        ((since,),) = connection.execute("SELECT quantile_disc(date, 0.4) FROM blocks").fetchall()
    one, two = (Path(shutil.copy(loaded, tmp_path / f"{n}.duckdb")) for n in (1, 2))
    alone, no_second = _decided(one, monkeypatch, 1, about=["oda"], since=since)
    together, second = _decided(two, monkeypatch, 2, about=["oda"], since=since)
    assert second and not no_second
    assert together == alone
    again, _ = _decided(two, monkeypatch, 1, about=["oda"], since=since)  # with what the second process learned
    assert again == alone


def test_what_the_second_process_fits_is_not_fitted_again_here(
    loaded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every fit notes the process that makes it: the worth model this one, the others the second, each once."""
    database, noted = Path(shutil.copy(loaded, tmp_path / "s.duckdb")), tmp_path / "noted"
    here = os.getpid()
    modules = {"strikes.strike_worth": "fit_worth", "strikes.strike_by_entry": "fit_entry", "spares.leave": "fit_leave"}
    for module, name in modules.items():
        fit = getattr(importlib.import_module(f"pipeline.models.{module}"), name)

        def noting(*given: Any, fit: Any = fit, name: str = name) -> Any:
            with noted.open("a") as file:
                file.write(f"{name} {os.getpid() == here}\n")
            return fit(*given)

        monkeypatch.setattr(f"pipeline.models.{module}.{name}", noting)
    monkeypatch.setattr("os.sched_getaffinity", lambda _: {0, 1})
    with api.fit(database, settings=FEW_DRAWS, in_two=True) as fitted:
        assert fitted.fits.shelf is not None
        assert {"entry", "leave", "conversion", "mix", everybodys_balls.name()} <= set(fitted.fits.shelf.made)
    assert sorted(noted.read_text().split("\n")[:-1]) == ["fit_entry False", "fit_leave False", "fit_worth True"]
    assert fitted.fits.leave.leave_draws("oda", 3, np.random.default_rng(1)).shape[0] == 3


def test_a_failure_in_the_second_process_ends_the_run(
    loaded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise MemoryError

    database = Path(shutil.copy(loaded, tmp_path / "s.duckdb"))
    before = database.read_bytes()
    monkeypatch.setattr(two_processes, "second_answers", fails)
    monkeypatch.setattr(decide_module, "PARTS", ())
    monkeypatch.setattr(decide_module, "whatever_is_left", lambda *_: {})
    with pytest.raises(MemoryError):
        _decided(database, monkeypatch, 2)
    assert database.read_bytes() == before


def test_parts_for_either_process_are_each_taken_once_and_reported_in_order(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without a season: every part notes what it was asked for, and two takers share out those for either."""

    def part(place: int, who: Who) -> Part:
        return Part(
            "season", who, lambda fitted, asked: {"checks": [place]} if place in (1, 4) else {f"f{place}": place}
        )

    whose: list[Who] = ["first", "either", "second", "either", "either"]
    parts = tuple(part(place, who) for place, who in enumerate(whose))
    monkeypatch.setattr(decide_module, "PARTS", parts)
    monkeypatch.setattr(decide_module, "EITHER", (4, 1, 3))
    with second_process.tickets(3) as take:
        assert take() == 0
        second = decide_module.second_answers(cast(Fitted, None), take)
        assert sorted(second) == [1, 2, 3] and take() is None
    joined = Answered.joined([second[1], parts[4].answered(cast(Fitted, None))])
    assert joined.fields == {"checks": [1, 4]}


def test_every_part_for_either_process_has_its_turn() -> None:
    assert sorted(EITHER) == [place for place, part in enumerate(PARTS) if part.who == "either"]
    assert PARTS[0].who == "first", "an empty season is refused before a second process is waited for"
