"""The study itself: its tables by hand on small counts, and two seasons through the whole of it."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.recovery import study
from tests.recovery.summary import ranking_table, ratio, recovery_table


def test_standard_errors_take_the_season_as_the_unit() -> None:
    # By hand: seasons with 2 of 2, 1 of 2, 0 of 2. Mean 1/2; deviations 1, 0, -1; 3/2 * 2 / 36 = 1/12.
    mean, error = ratio(pd.Series([1, 1, 1, 0, 0, 0]), pd.Series([1, 1, 2, 2, 3, 3]))
    assert mean == 0.5
    assert error == pytest.approx(np.sqrt(1 / 12))


def test_missing_raw_averages_are_left_out() -> None:
    assert all(np.isnan(value) for value in ratio(pd.Series([np.nan, np.nan]), pd.Series([1, 2])))


def test_well_stated_normal_intervals_cover_as_they_say() -> None:
    rng = np.random.default_rng(3)
    size = 4000
    truth = rng.normal(0, 1, size)
    mean = truth + rng.normal(0, 0.5, size)
    # Normal quantiles: 1.2816 and 1.9600 standard deviations hold 80 and 95 %.
    table = pd.DataFrame({"world": "made", "kind": "a", "seed": np.arange(size) // 40, "truth": truth, "mean": mean})
    for level, z in ((80, 1.2816), (95, 1.9600)):
        table[f"lo{level}"], table[f"hi{level}"] = mean - z * 0.5, mean + z * 0.5
    row = recovery_table(table.assign(raw=mean + 1)).iloc[0]
    assert abs(row["coverage_80"] - 0.80) < 4 * row["coverage_80_se"]
    assert abs(row["coverage_95"] - 0.95) < 4 * row["coverage_95_se"]
    assert abs(row["bias"]) < 4 * row["bias_se"]
    assert row["raw_bias"] == pytest.approx(row["bias"] + 1, abs=1e-3)


def test_ranking_counts_by_bin() -> None:
    ranked = pd.DataFrame(
        {
            "world": "made",
            "seed": [1, 1, 2, 2],
            "stated": [0.95, 0.05, 0.6, 0.4],
            "top": [True, False, True, False],
            "top_raw": [True, False, False, True],
            "best": [True, False, False, True],
            "lost": [0.0, 8.0, 3.0, 0.0],
        }
    )
    table = ranking_table(ranked).set_index("choices")
    assert table.loc["ranked first", "truly_best"] == 0.5
    assert table.loc["ranked first", "stated_best"] == pytest.approx(0.775)
    assert table.loc["ranked first by raw average", "truly_best"] == 1.0
    assert table.loc["stated 0.9 to 1.0", "count"] == 1


@pytest.mark.slow
def test_two_seasons_through_the_whole_study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(os.environ, "OPENBLAS_NUM_THREADS", "1")
    for world, simulate in study.WORLDS.items():  # half a season each, for speed: the limits below are loose
        monkeypatch.setitem(study.WORLDS, world, partial(simulate, blocks=18))
    monkeypatch.setattr(study, "DRAWS", 200)
    done = study.run([1], workers=1, keep=tmp_path / "kept")
    out = tmp_path / "recovery_table.csv"
    study.write_tables(done, out)
    table, ranking = pd.read_csv(out), pd.read_csv(tmp_path / "ranking_table.csv")
    assert set(table["world"]) == {"rich", "drawn"} == set(ranking["world"])
    for world in ("rich", "drawn"):
        strike = table[(table["world"] == world) & (table["quantity"] == "strike probability, ranked choices")].iloc[0]
        assert strike["values"] >= 30
        # One season's values move together: loose limits, the study itself has the tight ones.
        assert strike["coverage_95"] > 0.75
        assert abs(strike["bias"]) < 0.06
        assert strike["rmse"] < strike["raw_rmse"]
    again = study.run([1], workers=1, keep=tmp_path / "kept")
    assert all(a[0].equals(b[0]) for a, b in zip(done, again, strict=True))
