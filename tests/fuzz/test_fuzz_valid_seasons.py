"""Any valid season gives a whole report: no crash, no warning, no nan, nothing left out that was unforeseen."""

from __future__ import annotations

import math
import re
import tempfile
import warnings
from pathlib import Path

import pytest
from hypothesis import example, given

from pipeline.decisions.decide import decide
from pipeline.decisions.records import Decisions
from pipeline.intake import load_folder
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Evidence, Settings
from pipeline.store.season import EmptySeasonError, open_season
from reports.publish import pages
from tests.fuzz.profile import cases
from tests.fuzz.valid_seasons import MEASURED, ValidSeason, valid_seasons, write_season

_FEW_DRAWS = Settings(evidence=Evidence(draws=200))
_NOT_A_NUMBER = re.compile(r"(?<![\w&])[-−+]?(nan|NaN|NaT|inf|Infinity)(?!\w)")
_PLAIN = dict.fromkeys(MEASURED, "full")


def _season(**changed: object) -> ValidSeason:
    usual: dict[str, object] = {"bowlers": 2, "blocks": 3, "games": 3, "strikes": 0.5, "spares": 0.6, "frames": "whole"}
    usual |= {
        "bag": "usual",
        "club": "alike",
        "posted": "all",
        "fills": _PLAIN,
        "care": False,
        "one_day": False,
        "seed": 1,
    }
    return ValidSeason(**(usual | changed))  # type: ignore[arg-type]


@pytest.mark.slow
@cases(quick=24, many=600)  # and the six below: thirty in the suite
@given(valid_seasons)
@example(_season(strikes=0.02, blocks=2, fills=dict.fromkeys(MEASURED, "none")))
@example(_season(blocks=12, fills=_PLAIN | {"entry_board": "on strikes"}))
@example(_season(strikes=1.0, frames="first deliveries only"))
@example(_season(bowlers=3, blocks=12, club="one odd", fills=_PLAIN | {"entry_board": "on strikes"}))
@example(_season(care=True, one_day=True))
@example(_season(strikes=0.0, spares=0.0, posted="none"))
def test_a_valid_season_gives_a_whole_report(plan: ValidSeason) -> None:
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("error")
        folder, database = Path(place) / "logs", Path(place) / "season.duckdb"
        written = write_season(plan, folder)
        report = load_folder(folder, database)
        assert report.rows_quarantined == 0, report.lines()
        with open_season(database, _FEW_DRAWS) as season:
            try:
                fits = fit_all(season, _FEW_DRAWS)
            except EmptySeasonError:
                pytest.fail("a season with deliveries is not empty")
            decisions = decide(Fitted(season, fits), "any", None)
        assert decisions.summary.deliveries == written
        _whole(decisions)
        for name, page in pages(decisions, lambda _text, _share: None):
            assert not _NOT_A_NUMBER.search(page), (name, _around(page))
            assert "unforeseen" not in page and "please report" not in page, name


def _around(page: str) -> str:
    match = _NOT_A_NUMBER.search(page)
    return page[max(match.start() - 200, 0) : match.end() + 50] if match else ""


def _whole(decisions: Decisions) -> None:
    assert not [item for item in decisions.left_out if "please report" in item.reason], decisions.left_out
    assert _finite(decisions.model_dump())


def _finite(value: object) -> bool:
    if isinstance(value, dict):
        return all(map(_finite, value.values()))
    if isinstance(value, list | tuple):
        return all(map(_finite, value))
    return not isinstance(value, float) or math.isfinite(value)
