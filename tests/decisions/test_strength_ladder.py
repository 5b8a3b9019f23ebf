"""The strength ladder against known boards of hook."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.arsenal.strength_ladder import strength_ladder
from pipeline.models.balls.ball_hook import fit_hook
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Evidence, Settings
from pipeline.store.season import Season, prepare
from tests.decisions.made_season import MadeBall, MadeSeason, make

FEW = Settings(evidence=Evidence(draws=300))
HOOKS = {"aa": 0.0, "bb": 1.5, "cc": -1.0, "dd": 0.4}


def _season(**changes: object) -> tuple[Season, Fits]:
    bag = [MadeBall(ball, hook=hook, benchmark=ball == "aa") for ball, hook in HOOKS.items()]
    season = make(MadeSeason(bag, blocks=20, **changes), FEW)  # type: ignore[arg-type]
    return season, fit_all(season, FEW)


def test_the_ladder_orders_the_bag_by_hook_and_names_ball_up_and_ball_down() -> None:
    rungs = strength_ladder(Fitted(*_season()))
    assert [rung.ball for rung in rungs] == ["bb", "dd", "aa", "cc"]
    assert [rung.rank for rung in rungs] == [1, 2, 3, 4]
    assert [rung.benchmark for rung in rungs] == [False, False, True, False]
    aa = rungs[2]
    assert (aa.ball_up, aa.ball_down) == ("dd", "cc")
    assert rungs[0].ball_up is None and rungs[-1].ball_down is None
    assert aa.boards_of_hook.mean == 0
    for rung in rungs:
        assert rung.boards_of_hook.mean == pytest.approx(HOOKS[rung.ball], abs=0.35)
        assert "solid cover, symmetric core, RG 2.500 in" in rung.catalogue
        assert 100 < rung.shots < 250


def test_without_boards_or_a_second_ball_there_is_no_ladder() -> None:
    assert strength_ladder(Fitted(*_season(boards=False))) == []
    season = make(MadeSeason([MadeBall("aa", benchmark=True)], blocks=3), FEW)
    assert strength_ladder(Fitted(season, fit_all(season, FEW))) == []


def test_the_most_thrown_ball_stands_in_for_a_benchmark_never_thrown() -> None:
    season, fits = _season()
    season.connection.execute("UPDATE deliveries SET ball = 'bb' WHERE ball = 'aa'")
    rungs = strength_ladder(Fitted(prepare(season.connection, FEW), fits))
    assert [rung.boards_of_hook.mean == 0 for rung in rungs] == [rung.ball == "bb" for rung in rungs]
    assert not any(rung.benchmark for rung in rungs)


def _cells(rng: np.random.Generator, true: dict[str, float], arrow_of: dict[str, float]) -> pd.DataFrame:
    rows = []
    for block in range(25):
        oil = rng.normal(0, 0.4)
        for ball, hook in true.items():
            for game in (1, 2, 3):
                arrow = arrow_of[ball] + rng.normal(0, 1.2)
                entry = 17.5 + oil + hook - 0.35 * (arrow - 12) + rng.normal(0, 0.5)
                rows.append(("ann", f"b{block}", "medium", game, ball, 4, arrow, arrow + 4, 16.0, entry))
    return pd.DataFrame(rows, columns=["bowler", "block", "pattern_class", "game", "ball", "shots", "arrow_board",
                                       "laydown_board", "speed_mph", "entry_board"])  # fmt: skip


def test_a_stronger_ball_played_further_in_is_still_the_stronger() -> None:
    # Every ball comes in at the same board, because the line makes up for its hook: the raw entry boards say nothing.
    true = {"aa": 0.0, "bb": 1.4, "cc": -0.7}
    cells = _cells(np.random.default_rng(3), true, {"aa": 12.0, "bb": 16.0, "cc": 10.0})
    assert np.ptp(cells.groupby("ball")["entry_board"].mean()) < 0.4
    fit = fit_hook(cells, "aa", 1000, np.random.default_rng(4))
    assert fit is not None
    by_key = dict(zip(fit.balls, fit.draws.mean(axis=0), strict=True))
    assert by_key == pytest.approx(true, abs=0.35)


def test_intervals_of_hook_cover_the_truth() -> None:
    inside = number = 0
    for seed in range(25):
        rng = np.random.default_rng(seed)
        true = {"aa": 0.0, **{ball: float(rng.normal(0, 0.8)) for ball in ("bb", "cc", "dd", "ee")}}
        fit = fit_hook(_cells(rng, true, dict.fromkeys(true, 12.0)), "aa", 600, rng)
        assert fit is not None
        low, high = np.quantile(fit.draws, (0.1, 0.9), axis=0)
        inside += sum(low[at] < true[ball] < high[at] for at, ball in enumerate(fit.balls) if ball != "aa")
        number += 4
    # The four balls of one fit share the benchmark's error: allow twice the binomial standard error, three times.
    assert abs(inside / number - 0.8) < 3 * 2 * np.sqrt(0.8 * 0.2 / number)


def test_a_ball_that_never_met_the_others_is_left_out() -> None:
    cells = _cells(np.random.default_rng(5), {"aa": 0.0, "bb": 1.0, "cc": 0.5}, dict.fromkeys(("aa", "bb", "cc"), 12.0))
    apart = cells["ball"] == "cc"
    cells.loc[apart, "block"] = "x" + cells.loc[apart, "block"]
    fit = fit_hook(cells, "aa", 300, np.random.default_rng(6))
    assert fit is not None and set(fit.balls) == {"aa", "bb"}
