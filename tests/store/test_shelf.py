"""Fits kept in the database: equal to the digit to fits made anew, and never used where anything has changed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import duckdb
import numpy as np
import pytest

from pipeline import api
from pipeline.arrays import Floats
from pipeline.decisions import decide as decide_module
from pipeline.decisions.arsenal.verdicts import everybodys_balls
from pipeline.decisions.decide import decide
from pipeline.decisions.records import Decisions, LeftOut
from pipeline.decisions.scope import resolve_bowlers, restricted
from pipeline.decisions.students.comparison import skills_of_nights
from pipeline.inference.mixed_logit.mixed_fit import PosteriorDraws
from pipeline.intake import load_folder
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted, once
from pipeline.settings import Settings
from pipeline.store import shelf as shelf_module
from pipeline.store.database import open_for_writing
from pipeline.store.period import nights
from pipeline.store.season import Season, open_season
from pipeline.store.shelf import DamagedFitsError, Key, Shelf
from sample_logs.generate import simulate_season, write_season
from tests.conftest import FEW_DRAWS
from tests.reports.factory import small_season

SETTINGS = FEW_DRAWS


def opened(season: Season, settings: Settings = SETTINGS, fresh: bool = False) -> tuple[Shelf, Fits]:
    shelf = Shelf(season.connection, Key.of(season.connection, settings, None), fresh=fresh)
    return shelf, fit_all(season, settings, shelf=shelf)


def decided(database: Path, settings: Settings = SETTINGS, fresh: bool = False) -> tuple[str, Shelf]:
    """Every decision as JSON, and the shelf; what was made is written."""
    with open_season(database, settings) as season:
        shelf, fits = opened(season, settings, fresh)
        text = decide(Fitted(season, fits), "Season").model_dump_json()
    shelf.write(database)
    return text, shelf


@pytest.mark.slow
def test_decisions_of_the_sample_season_from_kept_fits_equal_those_made_anew_to_the_digit(
    decided_sample: Path, tmp_path: Path
) -> None:
    database = Path(shutil.copy(decided_sample / "s.duckdb", tmp_path / "s.duckdb"))
    kept_answers, shelf = decided(database)
    assert not shelf.made and not shelf.closed  # nothing was fitted, nor answered
    with open_for_writing(database) as connection:
        connection.execute("DELETE FROM kept_fits WHERE starts_with(part, 'decisions, ')")
    again, shelf = decided(database)
    assert [part.split(",")[0] for part in shelf.made] == ["decisions"]  # nothing was fitted
    assert kept_answers == again == (decided_sample / "decisions.json").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A few blocks of the invented club with their fits kept: what is tried on it does not depend on its size."""
    place = tmp_path_factory.mktemp("kept")
    write_season(simulate_season(5, blocks=4), place / "logs")
    load_folder(place / "logs", place / "s.duckdb")
    with open_season(place / "s.duckdb", SETTINGS) as season:
        shelf, _ = opened(season)
    shelf.write(place / "s.duckdb")
    return place / "s.duckdb"


@pytest.fixture
def database(small: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(small, tmp_path / "s.duckdb"))


@pytest.mark.slow
def test_fits_made_on_purpose_replace_those_kept(database: Path) -> None:
    _, shelf = decided(database, fresh=True)
    assert shelf.unfit == () and not shelf.closed
    with duckdb.connect(str(database), read_only=True) as connection:
        stored = {part for (part,) in connection.execute("SELECT part FROM kept_fits").fetchall()}
    learned = {everybodys_balls.name(), skills_of_nights.name(nights(None))}
    assert {"worth", "entry", "leave", "conversion", "mix", *learned} <= set(shelf.made)
    assert stored == set(shelf.made)


@pytest.mark.parametrize(
    "settings",
    [
        {"evidence": {"draws": 201}},
        {"evidence": {"draws": 200, "seed": 5}},
        {"evidence": {"draws": 200}, "costs": {"resurface": 9.0}},
    ],
)
def test_other_settings_have_other_keys(small: Path, settings: dict[str, dict[str, float]]) -> None:
    other = Settings.model_validate(settings)
    with open_season(small, SETTINGS) as season:
        usual, changed = (Key.of(season.connection, each, None) for each in (SETTINGS, other))
        some = Key.of(season.connection, SETTINGS, ("oda",))
    assert usual.data == changed.data == some.data
    assert len({usual.whole, changed.whole, some.whole}) == 3


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE deliveries SET standing = standing + 1 WHERE rowid = 5",
        "UPDATE deliveries SET ball = (SELECT max(ball) FROM balls) WHERE rowid = 7",
        "DELETE FROM deliveries WHERE rowid = 3",
        "INSERT INTO deliveries SELECT * FROM deliveries LIMIT 1",
        "UPDATE balls SET rg_in = 2.6 WHERE rowid = 0",
        "UPDATE bowlers SET birth_year = 1970 WHERE rowid = 0",
        "UPDATE patterns SET length_ft = 39 WHERE rowid = 0",
        "DELETE FROM maintenance WHERE rowid = 0",
        "DELETE FROM blocks WHERE rowid = 0",
    ],
)
def test_other_data_have_another_key(database: Path, change: str) -> None:
    keys = []
    for statement in ("SELECT 1", change):
        with open_for_writing(database) as connection:
            connection.execute(statement)
            keys.append(Key.of(connection, SETTINGS, None))
    assert keys[0].data != keys[1].data


def test_times_and_kept_fits_are_no_data(database: Path) -> None:
    with open_for_writing(database) as connection:
        before = Key.of(connection, SETTINGS, None)
        connection.execute("UPDATE sources SET loaded_at = now()::TIMESTAMP")
        connection.execute("DELETE FROM kept_fits")
        assert Key.of(connection, SETTINGS, None) == before


def test_an_upgrade_fits_again(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_season(small, SETTINGS) as season:
        before = Key.of(season.connection, SETTINGS, None)
        monkeypatch.setattr(shelf_module, "code_hash", lambda: "another version")
        assert Key.of(season.connection, SETTINGS, None).data != before.data


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE kept_fits SET content = content[1:1000]",
        "UPDATE kept_fits SET content = content || 'x'::BLOB",
        "UPDATE kept_fits SET digest = 'none'",
        "UPDATE kept_fits SET content = (SELECT content FROM kept_fits WHERE part = 'mix') WHERE part = 'worth'",
        "UPDATE kept_fits SET part = CASE part WHEN 'leave' THEN 'entry' WHEN 'entry' THEN 'leave' ELSE part END",
        "DROP TABLE kept_fits",
        "UPDATE kept_apart SET content = content[1:1000] WHERE part = 'entry'",
        "UPDATE kept_apart SET part = CASE part WHEN 'worth' THEN 'entry' ELSE 'worth' END",
        "DROP TABLE kept_apart",
    ],
)
def test_damaged_and_foreign_parts_are_never_trusted(database: Path, damage: str) -> None:
    with open_for_writing(database) as connection:
        connection.execute(damage)
    with open_season(database, SETTINGS) as season:
        shelf, fits = opened(season)
    assert shelf.made
    shelf.write(database)
    with open_season(database, SETTINGS) as season:
        again, same = opened(season)
        assert not again.made and (same.worth.model.fit.fixed == fits.worth.model.fit.fixed).all()


@pytest.fixture
def answered(monkeypatch: pytest.MonkeyPatch) -> list[Decisions]:
    """One entry for each time that questions are answered anew, by an invented season's answers."""
    times: list[Decisions] = []

    def answer(_fitted: Fitted, title: str, _progress: object) -> Decisions:
        times.append(small_season().model_copy(update={"title": title, "left_out": []}))
        return times[-1]

    monkeypatch.setattr(decide_module, "_answered", answer)
    return times


def test_answers_are_kept_with_the_fits_whatever_their_title(database: Path, answered: list[Decisions]) -> None:
    decided(database)
    with open_season(database, SETTINGS) as season:
        shelf, fits = opened(season)
        decisions = decide(Fitted(season, fits), "Another title")
    assert len(answered) == 1 and not shelf.made
    assert decisions == answered[0].model_copy(update={"title": "Another title"})


def test_answers_that_do_not_hold_are_given_anew(database: Path, answered: list[Decisions]) -> None:
    decided(database)
    for change in ("content = content[1:1000]", "digest = 'none'", "content = (FROM mix)"):
        with open_for_writing(database) as connection:
            connection.execute("CREATE TEMP TABLE mix AS SELECT content FROM kept_fits WHERE part = 'mix'")
            connection.execute(f"UPDATE kept_fits SET {change} WHERE starts_with(part, 'decisions, ')")
        times = len(answered)
        decided(database)
        assert len(answered) == times + 1
    with open_for_writing(database) as connection:
        connection.execute("UPDATE deliveries SET foul = NOT foul WHERE rowid = 11")
    times = len(answered)
    decided(database)
    assert len(answered) == times + 1


def test_answers_for_other_seasons_of_the_settings_or_some_bowlers_are_not_those_kept(
    database: Path, answered: list[Decisions]
) -> None:
    decided(database)
    seasons = {"now": {"first": "2020-01-01", "last": "2030-01-01"}}
    decided(database, Settings.model_validate({**SETTINGS.model_dump(), "seasons": seasons}))
    assert len(answered) == 2
    with open_season(database, SETTINGS) as season:
        shelf, fits = opened(season)
        decide(restricted(Fitted(season, fits), resolve_bowlers(season, ("oda",))), "One")
    assert len(answered) == 3 and not [part for part in shelf.made if part.startswith("decisions, ")]


def test_answers_with_a_question_left_out_are_given_anew_at_every_run(
    database: Path, answered: list[Decisions], monkeypatch: pytest.MonkeyPatch
) -> None:
    part = small_season().model_copy(update={"left_out": [LeftOut(question="leaves", reason="no number")]})
    monkeypatch.setattr(decide_module, "_answered", lambda *_: answered.append(part) or part)
    decided(database)
    decided(database)
    assert len(answered) == 2


def _drawn_anew(season: Season, in_full: bool) -> tuple[Shelf, PosteriorDraws]:
    """Draws of another number than those kept, for which the whole fit is read."""
    shelf = Shelf(season.connection, Key.of(season.connection, SETTINGS, None), in_full=in_full)
    return shelf, fit_all(season, SETTINGS, shelf=shelf).worth.model.fit.draw(7, np.random.default_rng(1))


def test_what_is_read_when_asked_for_is_the_same_or_said_to_be_damaged(database: Path) -> None:
    with open_season(database, SETTINGS) as season:
        (_, at_once), (shelf, asked_for) = (_drawn_anew(season, in_full) for in_full in (True, False))
    assert not shelf.made and (at_once.fixed == asked_for.fixed).all()
    with open_for_writing(database) as connection:
        connection.execute("UPDATE kept_apart SET content = 'x'::BLOB")
    with open_season(database, SETTINGS) as season:
        with pytest.raises(DamagedFitsError, match=r"damaged \(worth\)"):
            _drawn_anew(season, in_full=False)
        shelf, refitted = _drawn_anew(season, in_full=True)
    assert {"worth", "entry"} <= set(shelf.made) and (refitted.fixed == at_once.fixed).all()


def test_a_plan_that_meets_damaged_fits_is_made_anew(database: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def planned(fitted: Fitted, *_: object) -> Floats:
        return fitted.fits.worth.model.fit.draw(7, np.random.default_rng(1)).fixed

    monkeypatch.setattr("pipeline.decisions.plan.block_plan.plan", planned)
    whole = api.plan(database, "oda", 40, settings=SETTINGS)
    with open_for_writing(database) as connection:
        connection.execute("UPDATE kept_apart SET digest = 'none'")
    assert (np.asarray(api.plan(database, "oda", 40, settings=SETTINGS)) == np.asarray(whole)).all()
    with open_season(database, SETTINGS) as season:
        shelf, _ = _drawn_anew(season, in_full=False)  # mended
    assert not shelf.made


def test_a_database_that_cannot_be_written_works_without(database: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_for_writing(database) as connection:
        connection.execute("DELETE FROM kept_fits")
    content = database.read_bytes()
    with open_season(database, SETTINGS) as season:
        shelf, _ = opened(season)
        assert shelf.made and not shelf.write(database)  # it is open for reading here
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert not shelf.write(database)
    assert database.read_bytes() == content


def test_a_fit_that_failed_is_not_kept(database: Path) -> None:
    with open_season(database, SETTINGS) as season:
        shelf, fits = opened(season, fresh=True)
        with pytest.raises(ValueError, match="as it happens"):
            _fail(fits)
    assert shelf.closed and not shelf.write(database)


@once()
def _fail(_fits: Fits) -> None:
    raise ValueError("as it happens")


def test_kept_fits_of_other_data_go(database: Path) -> None:
    with open_for_writing(database) as connection:
        connection.execute("UPDATE deliveries SET foul = NOT foul WHERE rowid = 11")
        connection.execute("ALTER TABLE kept_fits ADD COLUMN of_an_older_version INTEGER")
    with open_season(database, SETTINGS) as season:
        shelf, _ = opened(season)
        assert shelf.made
    shelf.write(database)
    with duckdb.connect(str(database), read_only=True) as connection:
        assert "of_an_older_version" not in connection.table("kept_fits").columns
        for table in ("kept_fits", "kept_apart"):
            assert connection.table(table).project("data").distinct().fetchall() == [(shelf.key.data,)]


_WRITE = """
import sys
from pathlib import Path
from tests.store.test_shelf import SETTINGS, opened
from pipeline.store.season import open_season
database = Path(sys.argv[1])
with open_season(database, SETTINGS) as season:
    shelf, _ = opened(season)
print("ready", flush=True)
shelf.write(database)
"""


@pytest.mark.parametrize("wait", [0.0, 0.02, 0.06, 0.15])
def test_a_killed_write_leaves_the_season_as_it_was(database: Path, wait: float) -> None:
    with open_for_writing(database) as connection:
        connection.execute("DELETE FROM kept_fits; DELETE FROM kept_apart")
        before = Key.of(connection, SETTINGS, None)
    with subprocess.Popen([sys.executable, "-c", _WRITE, str(database)], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None and process.stdout.readline() == b"ready\n"
        time.sleep(wait)
        process.send_signal(signal.SIGKILL)
    with open_season(database, SETTINGS) as season:
        assert Key.of(season.connection, SETTINGS, None) == before
        count = "SELECT (SELECT count(*) FROM kept_fits), (SELECT count(*) FROM kept_apart)"
        parts = season.connection.execute(count).fetchall()
    assert parts in ([(0, 0)], [(5, 2)])  # nothing or all of it
