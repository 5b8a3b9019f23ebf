"""An open season: linear algebra runs on one thread, in a notebook as on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from pipeline.settings import Settings
from pipeline.store.season import open_season
from tests.intake.logs import load, shot, write_logs


def _threads() -> set[int]:
    return {int(library["num_threads"]) for library in threadpool_info() if library["user_api"] == "blas"}


def test_an_open_season_keeps_linear_algebra_to_one_thread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    load(write_logs(tmp_path / "logs", [shot(1, 1, "X")]), tmp_path / "s.duckdb")
    monkeypatch.delenv("OPENBLAS_NUM_THREADS")
    with threadpool_limits(limits=2, user_api="blas"):
        with open_season(tmp_path / "s.duckdb", Settings()):
            assert _threads() == {1}
        assert _threads() == {2}
