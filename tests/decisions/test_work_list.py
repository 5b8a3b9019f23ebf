"""The work list: grit, by when, what stands in, and that it says what the verdicts say."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.arsenal.due import HORIZON, Pace, games_until_due
from pipeline.decisions.arsenal.grit import GritLog
from pipeline.decisions.arsenal.stand_in import stand_in
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.arsenal.work_list import work_list
from pipeline.decisions.candidates import candidates
from pipeline.models.balls.ball_wear import AgeingFit
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Costs, Evidence, Settings
from tests.decisions.drawn_choices import drawn
from tests.decisions.made_season import MadeBall, MadeSeason, make

FEW = Settings(evidence=Evidence(draws=300))


def _worn(wear: float, n: int = 4) -> AgeingFit:
    """One ball losing ``wear`` logits in 10 games, all draws alike."""
    same = np.ones((n, 1))
    return AgeingFit(("aa",), 0 * same, 0 * same, 0 * same, wear * same, wear * same[:, 0], 0 * same[:, 0],
                     0 * same[:, 0], np.zeros((n, 0)), {})  # fmt: skip


def _due(wear: float, since: float, surface: float = 0.0, costs: Costs | None = None) -> float:
    games_left = games_until_due(
        _worn(wear), "aa", (since, since, since), np.full(4, surface), np.full(4, 110.0), costs or Costs()
    )
    assert (games_left == games_left[0]).all()
    return float(games_left[0])


def test_a_ball_is_due_at_the_age_of_least_average_cost() -> None:
    # Where pins are lost in proportion to age, r a game for each game, the average (K + r t^2 / 2) / t is least at
    # t = sqrt(2 K / r) (the square-root rule of economic lots, Harris 1913, from memory).
    costs = Costs(games_ahead=60, resurface=1.5)
    a_game = 110.0 * 0.25 * 0.06 / 10  # the logistic curve's slope is 1/4 at one half
    best = np.sqrt(2 * 1.5 * 60 / a_game)
    assert _due(-0.06, 0.0, costs=costs) == pytest.approx(best, abs=3)
    assert _due(-0.06, 20.0, costs=costs) == pytest.approx(best - 20, abs=3)
    assert _due(-0.06, 80.0, costs=costs) == 0
    assert _due(-0.06, 0.0, costs=Costs(games_ahead=60, resurface=3.0)) == pytest.approx(best * np.sqrt(2), abs=5)


def test_a_ball_that_does_not_wear_is_never_due_and_a_good_surface_later() -> None:
    assert np.isinf(_due(0.0, 50.0)) and np.isinf(_due(0.05, 50.0))
    assert _due(-0.1, 0.0) < _due(-0.1, 0.0, surface=0.2) <= HORIZON * Costs().games_ahead


def test_games_become_a_day_at_the_pace_of_the_log() -> None:
    pace = Pace(games=20.0, days=140, last=dt.date(2026, 5, 30))
    assert pace.day_after(10) == dt.date(2026, 8, 8)  # 70 days
    assert Pace(20.0, 20, pace.last).day_after(10) is None and Pace(0.0, 140, pace.last).day_after(10) is None


def _grits(effect: float, balls: int, seed: int, spread: float = 0.02, own: int = 3) -> GritLog:
    """Balls resurfaced in turn to 1000 and 4000 grit; the duller surface carries ``effect`` logits more."""
    rng = np.random.default_rng(seed)
    names = [f"b{k}" for k in range(balls)]
    rows = [(name, k, (1000, 4000)[k % 2], 60) for name in names for k in range(2 * own)]
    level = np.array([effect * (grit == 1000) + rng.normal(0, spread) for _, _, grit, _ in rows])
    draws = level + 0.05 * rng.standard_normal((400, 1)) + 0.05 * rng.standard_normal((400, len(rows)))
    zero = np.zeros((400, balls))
    where = {(name, k): at for at, (name, k, _, _) in enumerate(rows)}
    fit = AgeingFit(tuple(names), zero, zero, zero, zero, zero[:, 0], zero[:, 0], zero[:, 0], draws, where)
    table = pd.DataFrame(rows, columns=["ball", "surface_number", "grit", "shots"])
    return GritLog(table, fit, dict.fromkeys(names, "symmetric solid"), 20)


def test_the_grit_that_carries_better_is_named_with_its_pins() -> None:
    evidence = _grits(0.3, 4, 1).of("b0", np.full(400, 27.5))
    assert evidence.grit == 1000 and evidence.of == "this ball" and evidence.shots == 180
    assert evidence.now == 4000  # the last of its surfaces
    assert evidence.probability is not None and evidence.probability > 0.95
    assert evidence.over_others is not None and evidence.over_others.lo80 < 27.5 * 0.3 < evidence.over_others.hi80


def test_a_ball_of_one_grit_takes_the_evidence_of_its_class() -> None:
    log = _grits(0.3, 4, 2)
    log.rows.loc[log.rows["ball"] == "b0", "grit"] = 2000
    evidence = log.of("b0", np.full(400, 27.5))
    assert evidence.grit == 1000 and evidence.of == "its class" and evidence.shots == 540  # three balls, 180 shots each
    assert evidence.now == 2000
    log.rows["grit"] = log.rows["grit"].astype(float).where(log.rows["surface_number"] < 5)
    assert log.of("b0", np.full(400, 27.5)).now is None  # the present surface was not logged


def test_without_two_grits_on_a_ball_there_is_no_evidence() -> None:
    log = _grits(0.3, 2, 3)
    # Each ball has one grit: what they differ by may be the balls.
    log.rows["grit"] = np.where(log.rows["ball"] == "b0", 1000, 4000)
    evidence = log.of("b0", np.full(400, 27.5))
    assert evidence.grit is None and evidence.of == "no evidence" and "No evidence" in evidence.sentence


def test_grits_that_carry_alike_are_named_as_seldom_as_their_probability_allows() -> None:
    likely = []
    for seed in range(60):
        evidence = _grits(0.0, 1, seed, own=1).of("b0", np.full(400, 27.5))
        likely.append(evidence.probability or 0.0)
    # The draws' own spread covers what there is: nearly no grit is said to be better with 95 %.
    assert np.mean(np.array(likely) > 0.95) < 0.1


def test_the_stand_in_is_the_best_other_ball_where_the_ball_was_thrown() -> None:
    made = drawn(cells=3, choices=3, shots=200, sd=6.0, seed=4)
    options = made.fits.cache[candidates.name()]
    best = stand_in(options, "ann", "ball0")
    pins = options.following.pins
    gains = [np.mean([pins[:, 3 * c + k] - pins[:, 3 * c] for c in range(3)]) for k in (1, 2)]
    assert best is not None and best.ball == f"ball{1 + int(np.argmax(gains))}"
    assert best.gain.mean == pytest.approx(max(gains))
    assert stand_in(options, "nobody", "ball0") is None


def test_the_work_list_says_what_the_verdicts_say() -> None:
    plan = MadeSeason(
        [MadeBall("aa", wear=0.5, benchmark=True), MadeBall("bb"), MadeBall("sp", cover="polyester", spare_ball=True)],
        blocks=40,
        games=4,
        level=0.6,
        resurfaced=[(20, "aa")],
    )
    season = make(plan, FEW)
    fits = fit_all(season, FEW)
    tasks = work_list(Fitted(season, fits))
    verdicts = {item.ball: item for item in arsenal(Fitted(season, fits))}
    assert {task.ball for task in tasks} == set(verdicts) == {"aa", "bb"}
    assert [task.pins_a_season for task in tasks] == sorted((t.pins_a_season for t in tasks), reverse=True)
    for task in tasks:
        verdict = verdicts[task.ball]
        assert (task.do, task.probability, task.shots) == (verdict.verdict, verdict.probability, verdict.shots)
        keep, *acts = task.options
        assert keep.act == "keep" and keep.gain.lo95 == keep.gain.mean == keep.gain.hi95 == 0 and keep.p_gain is None
        assert [option.act for option in acts] == ["clean", "resurface", "retire"]
        for option in acts:
            apart = verdict.utilities[option.act].mean - verdict.utilities["keep"].mean
            assert option.gain.mean == pytest.approx(apart)
        best = next(option for option in task.options if option.act == task.looks_best)
        assert task.pins_a_season == pytest.approx(best.gain.mean * task.games_a_season)
        assert bool(task.settles) == (task.do in ("watch", "not enough shots"))
        assert task.settles[1:] in task.sentence
        assert task.ball_name in task.sentence and task.stand_in is not None
    worn = next(task for task in tasks if task.ball == "aa")
    assert worn.do in ("resurface", "retire") and worn.due.games is not None
    # 40 blocks of 4 games, half of them with this ball; the grit of a surface was never logged.
    assert worn.games_a_season == pytest.approx(80, abs=1) and worn.grit.of == "no evidence"


def test_a_surface_changed_within_a_stretch_has_no_one_grit() -> None:
    plan = MadeSeason([MadeBall("aa"), MadeBall("bb")], blocks=6, resurfaced=[(2, "aa"), (4, "aa")])
    season = make(plan, FEW)
    season.connection.execute("UPDATE maintenance SET grit = 1000 WHERE date = (SELECT min(date) FROM maintenance)")
    season.connection.execute("UPDATE maintenance SET grit = 4000 WHERE date = (SELECT max(date) FROM maintenance)")
    season.connection.execute("UPDATE balls SET surface_grit = 2000")
    rows = season.frame("cells/ball_surfaces").set_index(["ball", "surface_number"])
    assert rows.loc["aa", "grit"].tolist() == [2000, 1000, 4000]
    states = season.frame("cells/ball_states", usual=60.0).set_index("ball")
    assert rows["shots"].groupby("ball").sum().to_dict() == states["shots"].to_dict()
    season.held.clear()
    season.connection.execute(
        "INSERT INTO maintenance BY NAME SELECT date + 1 AS date, ball, 'surface' AS action, 500 AS grit, '' AS note, "
        "source_file, 99 AS line FROM maintenance WHERE grit = 1000"
    )
    changed = season.frame("cells/ball_surfaces").set_index(["ball", "surface_number"])
    assert changed.loc["aa", "grit"].isna().tolist() == [False, True, False]
