"""Whom the lesser models of a large season learn from: whoever the report is about, and some of the others."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
import pytest

from pipeline.models import subsample as module
from pipeline.models.fits import fit_all
from pipeline.models.notes import Note
from pipeline.models.subsample import compared_with, subsample_of, training_cells
from pipeline.settings import Settings
from pipeline.store import season as season_module
from pipeline.store.season import Season
from sample_logs.generate import simulate_season
from tests.recovery.in_memory import open_simulated

ASKED = ("oda", "joss")


@pytest.fixture(scope="module")
def season() -> Iterator[Season]:
    with open_simulated(simulate_season(32, blocks=10), Settings()) as opened:
        yield opened


@pytest.fixture
def large(season: Season, monkeypatch: pytest.MonkeyPatch) -> Season:
    monkeypatch.setattr(season_module, "_ONE_THREAD_TO", 100)
    return season


def test_a_usual_season_and_a_report_about_everybody_keep_all(season: Season, monkeypatch: pytest.MonkeyPatch) -> None:
    assert subsample_of(season, ASKED) is None
    monkeypatch.setattr(season_module, "_ONE_THREAD_TO", 100)
    assert subsample_of(season, None) is None


def test_of_a_large_season_those_asked_for_are_kept_with_their_balls_and_all_are_heard(large: Season) -> None:
    subsample = subsample_of(large, ASKED)
    assert subsample is not None
    balls = large.table("balls")
    assert subsample.bowlers == set(ASKED)
    assert subsample.balls == set(balls.loc[balls["bowler"].isin(ASKED), "ball"])
    assert (subsample.training_bowlers, subsample.notes) == (None, ())


def test_of_a_huge_season_some_are_heard_who_always_are_those_asked_for(
    large: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = large.frame("scope/bowlers_by_shots").set_index("bowler")["shots"]
    monkeypatch.setattr(module, "_TRAINING_SHOTS", int(shots.sum() * 0.6))
    subsample, again = subsample_of(large, ASKED), subsample_of(large, ASKED)
    assert subsample == again
    assert subsample is not None
    assert subsample.training_bowlers is not None
    assert set(ASKED) < subsample.training_bowlers < set(shots.index)
    assert shots[list(subsample.training_bowlers)].sum() <= shots.sum() * 0.6
    assert subsample.notes == (Note("learned_from_some", count=len(subsample.training_bowlers), of=len(shots)),)
    for query in ("cells/entry_cells", "cells/leave_cells", "cells/spare_cells"):
        every = large.frame(query)
        training_bowlers = every[every["bowler"].isin(subsample.training_bowlers)].reset_index(drop=True)
        pd.testing.assert_frame_equal(training_cells(large, query, subsample), training_bowlers)


def test_people_and_balls_are_compared_with_those_asked_for_and_a_class_that_is_the_same_whoever_asks(
    large: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = large.frame("scope/bowlers_by_shots").set_index("bowler")["shots"]
    assert compared_with(large, ASKED) == sorted(shots.index)
    room = int(shots.sum() * 0.6)
    monkeypatch.setattr(module, "_COMPARED", room)
    of_class = module.class_sample(large)
    assert of_class < set(shots.index) and shots[list(of_class)].sum() <= room
    for asked in (ASKED, sorted(shots.index)[-1:]):
        assert compared_with(large, asked) == sorted({*asked, *of_class})
    monkeypatch.setattr(module, "_COMPARED", 1)
    assert compared_with(large, ASKED) == sorted(ASKED)


def test_fits_of_a_huge_season_hold_a_few_and_say_who_was_heard(large: Season, monkeypatch: pytest.MonkeyPatch) -> None:
    shots = large.frame("scope/bowlers_by_shots").set_index("bowler")["shots"]
    monkeypatch.setattr(module, "_TRAINING_SHOTS", int(shots.sum() * 0.6))
    fits = fit_all(large, Settings(), bowlers=ASKED)
    assert set(fits.mix.shots) == set(ASKED)
    assert set(fits.conversion.bowler_leaves["bowler"]) == set(ASKED)
    assert fits.worth.shots == large.frame("cells/worth_cells", load_step=60)["shots"].sum()
    assert fits.entry.shots < fits.worth.shots
    assert any(note.kind == "learned_from_some" for note in fits.notes)
