"""Stretches of nights: where one ends, and what the worth model makes of two."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from pipeline.models.strikes.stretches import MOVES, latest, moved_draws, stretches, with_stretches
from pipeline.models.strikes.strike_worth import fit_worth_cells
from pipeline.settings import Settings
from pipeline.store.season import prepare
from tests.decisions.made_season import MadeBall, MadeSeason, make
from tests.models.made_cells import balance, listed
from tests.recovery.seasons_study import fits_of, level, two_seasons

_PLAN = MadeSeason([MadeBall("only")], blocks=9, games=1)


def _stretched(dates: list[dt.date]) -> tuple[list[str], pd.DataFrame]:
    connection = make(_PLAN).connection
    for number, date in enumerate(dates):
        connection.execute("UPDATE deliveries SET date = ? WHERE block = ?", [date, f"b{number:03d}"])
    season = prepare(connection, Settings())
    return sorted(set(stretches(season).values())), with_stretches(
        season, season.frame("cells/worth_cells", load_step=20)
    )


def test_a_stretch_ends_with_sixty_days_of_rest_or_after_a_year() -> None:
    first = dt.date(2024, 9, 1)
    weekly = [first + dt.timedelta(days=7 * n) for n in range(9)]
    assert _stretched(weekly)[0] == ["2024-09-01"]
    rested = [*weekly[:4], *(weekly[3] + dt.timedelta(days=60 + n) for n in range(5))]
    assert _stretched(rested)[0] == ["2024-09-01", (weekly[3] + dt.timedelta(days=60)).isoformat()]
    shorter = [*weekly[:4], *(weekly[3] + dt.timedelta(days=59 + n) for n in range(5))]
    assert _stretched(shorter)[0] == ["2024-09-01"]
    all_year = [first + dt.timedelta(days=50 * n) for n in range(9)]
    assert _stretched(all_year)[0] == ["2024-09-01", (first + dt.timedelta(days=400)).isoformat()]


def test_a_log_of_one_stretch_is_fitted_as_ever() -> None:
    _, cells = _stretched([dt.date(2024, 9, 1) + dt.timedelta(days=7 * n) for n in range(9)])
    assert "stretch" not in cells and latest(cells) is None


@pytest.fixture(scope="module")
def study() -> pd.DataFrame:
    return pd.concat([fits_of(seed, 0.3) for seed in (1, 2)])


def test_a_second_season_starts_better_than_a_first(study: pd.DataFrame) -> None:
    """Source: simulated truth; bowlers move by 0.3 logits between seasons. seasons_table.csv has the study."""
    by = study.groupby("learned from")[["width", "error"]].mean()
    assert by.loc["both, moves learned", "width"] < 0.97 * by.loc["second season alone", "width"]
    assert by.loc["both, moves learned", "error"] < 0.8 * by.loc["both, as if nobody moved", "error"]
    held = study.groupby("learned from")["held"].mean()
    assert held["both, moves learned"] > held["both, as if nobody moved"]


def test_each_stretch_has_its_own_level() -> None:
    cells, _ = two_seasons(np.random.default_rng(5), 0.3)
    fit = fit_worth_cells(cells, balance(6), listed(cells))
    assert fit.now == "2" and MOVES in fit.model.groups
    then = pd.Series(["1", "2"])
    moved = moved_draws(fit.model, "b0", then, fit.now, 300, np.random.default_rng(1))
    assert isinstance(moved, np.ndarray)
    assert np.ptp(moved[:, 0]) > 0 and not moved[:, 1].any()
    now, before = (level(fit, {"stretch": which}) for which in ("2", "1"))
    assert np.array_equal(level(fit, {}), now) and not np.allclose(now, before)
    assert moved_draws(fit.model, "b0", then, None, 300, np.random.default_rng(1)) == 0.0
