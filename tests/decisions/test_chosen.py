"""A report about some bowlers: theirs as in the report about all, nothing of the others, and who is taken unasked."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from pipeline.decisions.arsenal import arsenal
from pipeline.decisions.assemble import decide
from pipeline.decisions.plan import plan
from pipeline.decisions.playbook import playbook
from pipeline.decisions.results import ComboWorth
from pipeline.models import chosen
from pipeline.models import season as season_module
from pipeline.models.chosen import UnknownBowlerError, about, whom
from pipeline.models.fits import Fits, fit_all
from pipeline.models.season import Season
from pipeline.settings import Settings
from sample_logs.generate import SimulatedSeason, simulate_season
from tests.recovery.in_memory import open_simulated

SETTINGS = Settings.model_validate({"evidence": {"draws": 800}})


def _choice(worth: ComboWorth) -> tuple[object, ...]:
    return worth.bowler, worth.pattern_class, worth.phase, worth.ball, worth.line, worth.shots, worth.ranked


@pytest.fixture(scope="module")
def simulated() -> SimulatedSeason:
    return simulate_season(31, blocks=14)


@pytest.fixture
def season(simulated: SimulatedSeason) -> Iterator[Season]:
    with open_simulated(simulated, SETTINGS) as opened:
        yield opened


@pytest.fixture
def fits(season: Season) -> Fits:
    return fit_all(season, SETTINGS)


def test_what_is_said_of_a_bowler_does_not_depend_on_who_else_is_told_of(season: Season, fits: Fits) -> None:
    everybody = [worth for worth in playbook(season, fits)[0] if worth.bowler in ("joss", "oda")]
    fits.cache.clear()
    alone = playbook(season, about(season, fits, whom(season, ["oda", "joss"])))[0]
    assert [_choice(worth) for worth in alone] == [_choice(worth) for worth in everybody]
    numbers = [[w.worth.mean, w.worth.lo80, w.p_200, w.p_best] for w in alone]
    assert np.array(numbers) == pytest.approx(
        np.array([[w.worth.mean, w.worth.lo80, w.p_200, w.p_best] for w in everybody])
    )


def test_nothing_is_told_of_the_others(season: Season, fits: Fits) -> None:
    decisions = decide(season, about(season, fits, whom(season, ["oda", "joss"])), "Two")
    assert [card.bowler for card in decisions.summary.bowlers] == ["joss", "oda"]
    assert {ball.bowler for ball in decisions.arsenal} == {"joss", "oda"}
    assert {pair.better for pair in decisions.comparisons} <= {"joss", "oda"}
    text = decisions.model_dump_json()
    for other in ("tevin", "pialor", "halvo", "brisa"):
        assert other not in text
    # The load of a pair is everybody's, whoever is told of.
    ((load,),) = season.connection.execute("SELECT max(pair_load) FROM first_balls").fetchall()
    ((alone,),) = season.connection.execute(
        "SELECT max(thrown) FROM (SELECT count(*) AS thrown FROM deliveries GROUP BY block, (lane + 1) // 2)"
    ).fetchall()
    assert load > alone


def test_the_most_thrown_are_taken_where_nobody_is_asked_for(
    season: Season, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = season.frame("63_bowlers_by_shots")
    monkeypatch.setattr(chosen, "MOST_UNASKED", 3)
    few = about(season, fits, whom(season, []))
    assert set(few.rates.shots) == set(shots["bowler"].head(3))
    assert any("7 bowlers are logged" in note and "--about" in note for note in few.notes)
    assert {ball.bowler for ball in arsenal(season, few)} == set(shots["bowler"].head(3))


def test_all_are_taken_where_all_are_asked_for_or_few_are_there(
    season: Season, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert about(season, fits, whom(season, [])) is fits
    monkeypatch.setattr(chosen, "MOST_UNASKED", 3)
    assert about(season, fits, whom(season, ["all"])) is fits
    assert len(season.frame("63_bowlers_by_shots")) == 7


def test_a_name_that_is_not_there_is_refused_with_the_nearest(season: Season) -> None:
    with pytest.raises(UnknownBowlerError, match=r"--about jos: .* known are joss and others\."):
        whom(season, ["jos"])
    with pytest.raises(UnknownBowlerError, match="--bowler jos: "):
        whom(season, ["jos"], "--bowler")


@pytest.fixture
def large(simulated: SimulatedSeason, monkeypatch: pytest.MonkeyPatch) -> Iterator[Season]:
    monkeypatch.setattr(season_module, "_ONE_THREAD_TO", 100)
    with open_simulated(simulated, SETTINGS) as opened:
        yield opened


def _shown(season: Season) -> list[list[tuple[object, ...]]]:
    tables = ("first_balls", "deliveries", "balls")
    return [season.connection.execute(f"SELECT * FROM {name} ORDER BY ALL").fetchall() for name in tables]


def test_of_a_large_season_the_same_rows_are_shown(season: Season, large: Season, fits: Fits) -> None:
    for opened in (season, large):
        about(opened, fits, whom(opened, ["oda", "joss"]))
    assert _shown(large) == _shown(season)


def test_of_a_large_season_the_same_is_said(season: Season, large: Season, fits: Fits) -> None:
    people = whom(large, ["oda", "joss"])
    kept = fit_all(large, SETTINGS, bowlers=people.bowlers)
    planned = [plan(opened, models, "oda", 41.0).score.mean for opened, models in ((large, kept), (season, fits))]
    assert planned[0] == pytest.approx(planned[1], abs=3)
    kept.cache.clear()
    few = about(large, kept, people)
    theirs = {_choice(worth): worth.worth.mean for worth in playbook(large, few)[0]}
    usual = {_choice(w): w.worth.mean for w in playbook(season, fits)[0] if w.bowler in ("oda", "joss")}
    same = [choice for choice in theirs if choice in usual]
    assert len(same) > 0.9 * len(usual)
    gap = np.array([theirs[choice] - usual[choice] for choice in same])
    assert np.abs(gap).max() < 0.3 * np.std(list(usual.values()))
    text = decide(large, few, "Two").model_dump_json()
    assert not any(other in text for other in ("tevin", "pialor", "halvo", "brisa"))
