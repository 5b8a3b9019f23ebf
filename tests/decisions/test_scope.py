"""A report about some bowlers: theirs as in the report about all, nothing of the others, and who is taken unasked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import candidates as candidates_module
from pipeline.decisions import scope
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.arsenal.verdicts import arsenal, everybodys_balls
from pipeline.decisions.decide import decide
from pipeline.decisions.export import ledger_batches
from pipeline.decisions.export.ledger_file import write_ledger
from pipeline.decisions.plan.block_plan import plan
from pipeline.decisions.records import ComboWorth, Decisions
from pipeline.decisions.rules_of_thumb.trials import tried_on_everybody
from pipeline.decisions.scope import UnknownBowlerError, resolve_bowlers, restricted
from pipeline.decisions.students.comparison import skill_draws
from pipeline.decisions.two_processes import Asked
from pipeline.everyone import EVERYONE
from pipeline.models.balls import ball_wear as ageing_module
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.models.notes import Note
from pipeline.pricing.ledger import class_usual as class_usual_module
from pipeline.pricing.ledger.class_usual import class_usual
from pipeline.store import season as season_module
from pipeline.store.season import Season
from pipeline.store.shelf import Shelf
from sample_logs.generate import SimulatedSeason, simulate_season
from tests.conftest import FEW_DRAWS
from tests.recovery.in_memory import open_simulated

SETTINGS = FEW_DRAWS
Reported = tuple[Fitted, Decisions]


def _choice(worth: ComboWorth) -> tuple[object, ...]:
    return worth.bowler, worth.pattern_class, worth.phase, worth.ball, worth.line, worth.shots, worth.ranked


@pytest.fixture(scope="module")
def simulated() -> SimulatedSeason:
    return simulate_season(31, blocks=14)


@pytest.fixture
def season(simulated: SimulatedSeason) -> Iterator[Season]:
    with open_simulated(simulated, SETTINGS) as opened:
        yield opened


@pytest.fixture(scope="module")
def fitted(simulated: SimulatedSeason) -> Fits:
    with open_simulated(simulated, SETTINGS) as opened:
        return fit_all(opened, SETTINGS)


@pytest.fixture
def fits(fitted: Fits) -> Fits:
    """The fits of the season before anything is learned with them."""
    return replace(fitted, cache={})


def _reported(decisions: Decisions, names: set[str]) -> dict[str, list[dict[str, object]]]:
    """Every list of the decisions, without what is about others."""
    by_name = {}
    for kind, value in decisions.model_dump().items():
        if isinstance(value, list):
            people = [{v for k, v in item.items() if k in ("bowler", "better", "other")} - {EVERYONE} for item in value]
            by_name[kind] = [
                item for item, resolve_bowlers in zip(value, people, strict=True) if resolve_bowlers <= names
            ]
    return by_name


def _same(one: object, other: object) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(value, other[key]) for key, value in one.items())
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, float):
        return other == pytest.approx(one, rel=1e-9, abs=1e-9)
    return one == other


@pytest.fixture(scope="module")
def two(simulated: SimulatedSeason) -> Iterator[Reported]:
    """The season restricted to two bowlers, with fits of its own, and what is decided about them."""
    with open_simulated(simulated, SETTINGS) as opened:
        alone = restricted(Fitted(opened, fit_all(opened, SETTINGS)), resolve_bowlers(opened, ["oda", "joss"]))
        yield alone, decide(alone, "Two")


@pytest.mark.slow
def test_answers_about_a_bowler_do_not_depend_on_who_else_is_reported(
    season: Season, fits: Fits, two: Reported
) -> None:
    names = {"oda", "joss"}
    everybody = _reported(decide(Fitted(season, fits), "All"), names)
    alone = _reported(two[1], names)
    assert alone.keys() == everybody.keys() and sum(map(len, alone.values())) > 300
    assert [kind for kind in alone if not _same(alone[kind], everybody[kind])] == []


def test_nothing_about_the_others_is_reported(two: Reported) -> None:
    fitted, decisions = two
    assert [card.bowler for card in decisions.summary.bowlers] == ["joss", "oda"]
    assert {ball.bowler for ball in decisions.arsenal} == {"joss", "oda"}
    assert {pair.better for pair in decisions.comparisons} <= {"joss", "oda"}
    text = decisions.model_dump_json()
    for other in ("tevin", "pialor", "halvo", "brisa"):
        assert other not in text
    # The load of a pair is everybody's, whoever is reported.
    ((load,),) = fitted.season.connection.execute("SELECT max(pair_load) FROM first_balls").fetchall()
    ((alone,),) = fitted.season.connection.execute(
        "SELECT max(thrown) FROM (SELECT count(*) AS thrown FROM deliveries GROUP BY block, (lane + 1) // 2)"
    ).fetchall()
    assert load > alone


def test_more_bowlers_than_a_report_holds_are_refused_with_the_way_out(
    season: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scope, "MOST_AT_ONCE", 5)
    for asked in (("all",), ("oda", "joss", "tevin", "pialor", "halvo", "brisa")):
        with pytest.raises(scope.TooManyBowlersError, match=r"5 at most.*--about ID.*the 24 with the most"):
            resolve_bowlers(season, asked)
    assert resolve_bowlers(season, ("oda", "oda", "joss")).bowlers == ("joss", "oda")
    monkeypatch.setattr(scope, "MOST_AT_ONCE", 7)
    assert resolve_bowlers(season, ("all",)).bowlers is None


def test_the_most_thrown_are_taken_where_nobody_is_asked_for(
    season: Season, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = season.frame("scope/bowlers_by_shots")
    monkeypatch.setattr(scope, "MOST_UNASKED", 3)
    some = restricted(Fitted(season, fits), resolve_bowlers(season, []))
    assert set(some.fits.mix.shots) == set(shots["bowler"].head(3))
    assert Note("most_logged", count=3, of=7) in some.fits.notes
    assert {ball.bowler for ball in arsenal(some)} == set(shots["bowler"].head(3))


def test_all_are_taken_where_all_are_asked_for_or_few_are_there(
    season: Season, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    everybody = Fitted(season, fits)
    assert restricted(everybody, resolve_bowlers(season, [])) is everybody
    monkeypatch.setattr(scope, "MOST_UNASKED", 3)
    assert restricted(everybody, resolve_bowlers(season, ["all"])) is everybody
    assert len(season.frame("scope/bowlers_by_shots")) == 7


def test_a_name_that_is_not_there_is_refused_with_the_nearest(season: Season) -> None:
    with pytest.raises(UnknownBowlerError, match=r"--about jos: .* known are joss and others\."):
        resolve_bowlers(season, ["jos"])
    assert resolve_bowlers(season, ["Joss", "ODA"]).bowlers == ("joss", "oda")
    (name,) = season.connection.execute("SELECT name FROM bowlers WHERE bowler = 'oda'").fetchall()[0]
    assert resolve_bowlers(season, [name.lower()], "--bowler").bowlers == ("oda",)
    with pytest.raises(UnknownBowlerError, match="--bowler jos: "):
        resolve_bowlers(season, ["jos"], "--bowler")


@pytest.fixture
def large(simulated: SimulatedSeason, monkeypatch: pytest.MonkeyPatch) -> Iterator[Season]:
    monkeypatch.setattr(season_module, "_ONE_THREAD_TO", 100)
    with open_simulated(simulated, SETTINGS) as opened:
        yield opened


def _shown(season: Season) -> list[list[tuple[object, ...]]]:
    tables = ("first_balls", "deliveries", "balls")
    return [season.connection.execute(f"SELECT * FROM {name} ORDER BY ALL").fetchall() for name in tables]


def test_of_a_large_season_the_same_rows_are_shown(season: Season, large: Season, fits: Fits) -> None:
    before = _shown(season)
    usual, some = (
        restricted(Fitted(opened, fits), resolve_bowlers(opened, ["oda", "joss"])).season for opened in (season, large)
    )
    assert _shown(some) == _shown(usual) != before
    assert _shown(season) == before, "the season it was made from shows everything still"


@pytest.mark.slow
def test_of_a_large_season_the_same_is_said(season: Season, large: Season, fits: Fits) -> None:
    people = resolve_bowlers(large, ["oda", "joss"])
    kept = fit_all(large, SETTINGS, bowlers=people.bowlers)
    planned = [
        plan(Fitted(opened, models), "oda", 41.0).score.mean for opened, models in ((large, kept), (season, fits))
    ]
    assert planned[0] == pytest.approx(planned[1], abs=3)
    kept.cache.clear()
    some = restricted(Fitted(large, kept), people)
    theirs = {_choice(worth): worth.worth.mean for worth in playbook(some)[0]}
    usual = {_choice(w): w.worth.mean for w in playbook(Fitted(season, fits))[0] if w.bowler in ("oda", "joss")}
    same = [choice for choice in theirs if choice in usual]
    assert len(same) > 0.9 * len(usual)
    gap = np.array([theirs[choice] - usual[choice] for choice in same])
    # two sets of 200 draws: their noise alone comes to a tenth of how far choices differ
    assert np.sqrt(np.mean(gap**2)) < 0.15 * np.std(list(usual.values()))
    assert class_usual(some).bowlers > set(some.fits.mix.shots)  # the class is more than those reported
    text = decide(some, "Two").model_dump_json()
    assert not any(note.kind == "learned_from_some" for note in some.fits.notes)  # there was room for all
    assert not any(other in text for other in ("tevin", "pialor", "halvo", "brisa"))


def test_the_ledger_of_a_large_season_takes_any_number_of_bowlers(
    large: Season, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scope, "MOST_AT_ONCE", 4)
    monkeypatch.setattr(ledger_batches, "MOST_AT_ONCE", 4)
    monkeypatch.setattr(ledger_batches, "BOWLERS_AT_ONCE", 3)
    asked = Asked(resolve_bowlers(large, ("all",), any_number=True))
    books = ledger_batches.ledgers(asked, large, Shelf.of(large, None))
    rows = pd.read_csv(write_ledger(books, tmp_path / "ledger.csv"), low_memory=False)
    real = large.frame("cells/game_scores").dropna(subset=["score"])
    assert list(dict.fromkeys(rows["bowler"])) == sorted(real["bowler"].unique())
    keys = ["against", "bowler", "block", "game"]
    whole = rows[rows["complete"]].groupby(keys)
    start = whole["expected_before"].first()
    scored = (start + whole["pins"].sum()).reset_index(name="pins").merge(real, on=keys[1:])
    assert len(scored) == 2 * len(real)
    np.testing.assert_allclose(scored["pins"], scored["score"], atol=1e-6)
    # what is expected of the class does not hang on the group, but for balls whose own effects a group leaves out
    expected = start["class"].groupby("bowler").first()
    assert np.ptp(expected) < 2.0, "pins per game"


def test_a_large_club_taken_some_at_a_time_gets_the_same_answers(
    season: Season, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_once = [
        everybodys_balls(Fitted(season, fits)).fit,
        skill_draws(Fitted(season, fits)),
        tried_on_everybody(Fitted(season, fits)).contrasts,
    ]
    usual = class_usual(Fitted(season, fits)).chances
    fits.cache.clear()
    monkeypatch.setattr(candidates_module, "_AT_A_TIME", 2)
    monkeypatch.setattr(ageing_module, "_ROWS_AT_ONCE", 50)
    monkeypatch.setattr(class_usual_module, "_ROWS_AT_ONCE", 50)
    parts = [
        everybodys_balls(Fitted(season, fits)).fit,
        skill_draws(Fitted(season, fits)),
        tried_on_everybody(Fitted(season, fits)).contrasts,
    ]
    for name, of_some in vars(class_usual(Fitted(season, fits)).chances).items():
        np.testing.assert_allclose(of_some, getattr(usual, name), rtol=1e-9)
    np.testing.assert_allclose(parts[0].base, at_once[0].base, rtol=1e-9)
    np.testing.assert_allclose(parts[0].scatter, at_once[0].scatter, rtol=1e-9)
    assert parts[1]["versatility"].bowlers == at_once[1]["versatility"].bowlers
    np.testing.assert_allclose(parts[1]["versatility"].value, at_once[1]["versatility"].value, rtol=1e-9, atol=1e-9)
    for rule, contrasts in at_once[2].items():
        assert contrasts.keys() == parts[2][rule].keys()
        for bowler, contrast in contrasts.items():
            again = parts[2][rule][bowler]
            assert (contrast is None) == (again is None)
            if contrast is not None and again is not None:
                np.testing.assert_allclose(again.pins, contrast.pins, atol=1e-9)
