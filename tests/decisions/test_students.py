"""Skills against simulated bowlers whose skill is known, in rates and in boards."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit

from pipeline.decisions.estimates import quantiles
from pipeline.decisions.records import Decisions
from pipeline.decisions.students.comparison import students
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.models.skills.accuracy import accuracy, trimmed_spread
from pipeline.models.skills.skill import SkillDraws, all_spares, pocket_rate, spare_rate
from pipeline.settings import Settings
from pipeline.store.season import Season
from tests.decisions.made_season import MadeBall, MadeSeason, make


def pockets(seed: int, blocks: int = 12, thirds: np.ndarray | None = None) -> tuple[pd.DataFrame, np.ndarray]:
    """Cells of shots of six bowlers, and each one's true logit on medium patterns; the better meet the harder ones.

    ``thirds`` (6, 3) is added to the logit in each third of the season.
    """
    bowlers, thirds = 6, np.zeros((6, 3)) if thirds is None else thirds
    rng = np.random.default_rng(seed)
    skill = 0.4 * rng.standard_normal(bowlers)
    rows = []
    for b in range(bowlers):
        for block in range(blocks):
            hard = rng.random() < (0.7 if skill[b] > 0 else 0.3)
            luck = 0.15 * rng.standard_normal()
            third = 1 + 3 * block // blocks
            made = rng.binomial(60, expit(skill[b] + thirds[b, third - 1] + luck - (1.0 if hard else 0.0)))
            name = "long" if hard else "medium"
            rows.append((f"b{b}", f"k{b}-{block}", third, name, "fresh", "urethane", 60, made))
    columns = ["bowler", "block", "third", "pattern_class", "phase", "ball_class", "shots", "pockets"]
    return pd.DataFrame(rows, columns=columns), skill


@pytest.fixture(scope="module")
def studies() -> list[tuple[np.ndarray, np.ndarray]]:
    """Over 14 simulated classes: draws of the rate (n, 6) and the true rate at the class's own mix of patterns."""
    result = []
    for seed in range(14):
        cells, skill = pockets(seed)
        rates = pocket_rate(cells, 400, np.random.default_rng(seed))
        assert rates is not None
        hard = (cells["pattern_class"] == "long").mean()
        result.append((rates.value, hard * expit(skill - 1) + (1 - hard) * expit(skill)))
    return result


def test_intervals_hold_the_true_skill_as_often_as_they_say(studies: list[tuple[np.ndarray, np.ndarray]]) -> None:
    inside = []
    for value, truth in studies:
        low, high = np.quantile(value, [0.1, 0.9], axis=0)
        inside += list((truth >= low) & (truth <= high))
    # bowlers of one class share its pattern effect, so their trials are not quite independent: 3.5 sd
    assert abs(np.mean(inside) - 0.8) < 3.5 * np.sqrt(0.16 / len(inside))


def right_as_often_as_said(classes: list[tuple[np.ndarray, np.ndarray]], higher: bool = True) -> bool:
    """Whether the better of two bowlers was told as often as said, over all pairs of each class of draws and truths."""
    said, right, free = [], [], 0
    for value, truth in classes:
        bowlers = len(truth)
        free += bowlers - 1  # pairs of a class share its bowlers, so they count as one fewer than these
        for a in range(bowlers):
            for b in range(a):
                p = float((value[:, a] > value[:, b]).mean() if higher else (value[:, a] < value[:, b]).mean())
                said.append(max(p, 1 - p))
                right.append(((truth[a] > truth[b]) == higher) == (p > 0.5))
    p, y = np.array(said), np.array(right)
    return bool(abs(y.mean() - p.mean()) < 3.5 * np.sqrt((p * (1 - p)).mean() / free))


def test_who_is_better_is_right_as_often_as_it_says(studies: list[tuple[np.ndarray, np.ndarray]]) -> None:
    assert right_as_often_as_said(studies)


def test_hard_patterns_do_not_hide_skill(studies: list[tuple[np.ndarray, np.ndarray]]) -> None:
    adjusted, raw = [], []
    for seed, (value, truth) in enumerate(studies):
        cells, _ = pockets(seed)
        sums = cells.groupby("bowler")[["pockets", "shots"]].sum()
        adjusted.append(np.corrcoef(value.mean(axis=0), truth)[0, 1])
        raw.append(np.corrcoef(sums["pockets"] / sums["shots"], truth)[0, 1])
    assert np.mean(adjusted) > np.mean(raw) + 0.02


def test_progress_is_the_last_third_less_the_first() -> None:
    cells, _ = pockets(3)
    better = np.where((cells["third"] == 3) & (cells["bowler"] == "b0"), 55, cells["pockets"])
    rates = pocket_rate(cells.assign(pockets=better), 400, np.random.default_rng(1))
    assert rates is not None
    assert rates.progress["b0"].mean() > 0.1 > abs(rates.progress["b1"].mean())
    assert (rates.progress["b0"] > 0).mean() > 0.95


@pytest.mark.parametrize("sd", [0.1, 0.3])
def test_progress_lies_in_its_interval_as_often_as_it_says(sd: float) -> None:
    inside = []
    for seed in range(30):
        rng = np.random.default_rng(500 + seed)
        thirds = sd * rng.standard_normal((6, 3)) + 0.1 * rng.standard_normal(3)  # the class gets better or worse too
        cells, skill = pockets(seed, thirds=thirds)
        rates = pocket_rate(cells, 300, rng)
        assert rates is not None
        hard = (cells["pattern_class"] == "long").mean()
        rate = hard * expit(skill[:, None] + thirds - 1) + (1 - hard) * expit(skill[:, None] + thirds)
        for b, draws in rates.progress.items():
            low, high = quantiles(draws[:, None], np.array([0.1, 0.9]))[0]
            inside.append(low <= rate[int(b[1:]), 2] - rate[int(b[1:]), 0] <= high)
    # the six of a class share its trend, so their trials count as half as many: 3.5 sd
    assert abs(np.mean(inside) - 0.8) < 3.5 * np.sqrt(0.16 / (len(inside) / 2)), np.mean(inside)


def test_a_rare_leave_borrows_from_its_type() -> None:
    rows = [("a", f"a{k}", 1, "10", "corner pin", 50, 45) for k in range(4)]
    rows += [("b", f"b{k}", 1, "10", "corner pin", 50, 30) for k in range(4)]
    rows += [("a", "a0", 1, "7-10", "split, two pins", 2, 1), ("b", "b0", 1, "4-6", "split, two pins", 40, 4)]
    cells = pd.DataFrame(rows, columns=["bowler", "block", "third", "leave", "leave_type", "attempts", "made"])
    rates = spare_rate(cells, 400, np.random.default_rng(1))
    assert rates is not None and rates.bowlers == ["a", "b"]
    assert (rates.value[:, 0] > rates.value[:, 1]).mean() > 0.9
    assert rates.shots == {"a": 202, "b": 240}


def steps(sd: float, seed: int, n: int = 4000) -> pd.DataFrame:
    """Steps of a board with that spread around a line that drifts and, every fifty shots, is moved by seven boards."""
    rng = np.random.default_rng(seed)
    at = np.arange(n)
    board = 12 + 0.01 * at + 7.0 * (at // 50 % 2) + sd * rng.standard_normal(n)
    move = np.diff(board)
    table = pd.DataFrame({"size": np.abs(move).round(1), "squares": move**2, "steps": 1})
    return table.groupby("size", as_index=False).sum()


@pytest.mark.parametrize("sd", [0.5, 0.9, 1.3])
def test_the_spread_is_found_though_the_line_moves(sd: float) -> None:
    table = steps(sd, seed=4)
    spread = trimmed_spread(*(table[c].to_numpy(dtype=float) for c in ("size", "steps", "squares")))
    # sd of the estimate is sd * sqrt(0.75 / n): half that of the variance, at the efficiency of von Neumann (1941)
    assert spread == pytest.approx(sd, abs=4 * sd * np.sqrt(0.75 / 4000) + 0.02 * sd)


@pytest.fixture(scope="module")
def spreads() -> list[tuple[np.ndarray, np.ndarray]]:
    """Over 25 simulated classes: draws of the spread at the arrows (n, 5) and the true spread, boards."""
    rng = np.random.default_rng(9)
    result = []
    for seed in range(25):
        truth = 0.9 * np.exp(0.2 * rng.standard_normal(5))
        parts = [
            steps(sd, seed * 100 + 10 * b + t, 70).assign(bowler=f"b{b}", third=t, pattern_class="long", board="arrow")
            for b, sd in enumerate(truth)
            for t in (1, 2, 3)
        ]
        estimated = accuracy(pd.concat(parts, ignore_index=True), "arrow", 300, rng)
        assert estimated is not None
        result.append((estimated.value, truth))
    return result


def test_accuracy_intervals_hold_the_true_spread(spreads: list[tuple[np.ndarray, np.ndarray]]) -> None:
    inside, widths = [], []
    for value, truth in spreads:
        low, high = np.quantile(value, [0.1, 0.9], axis=0)
        inside += list((truth >= low) & (truth <= high))
        widths += list(high - low)
    assert abs(np.mean(inside) - 0.8) < 3.5 * np.sqrt(0.16 / len(inside))
    assert np.mean(widths) < 0.4


def test_who_is_steadier_is_right_as_often_as_it_says(spreads: list[tuple[np.ndarray, np.ndarray]]) -> None:
    assert right_as_often_as_said(spreads, higher=False)


def test_without_boards_there_is_nothing_to_say() -> None:
    assert (
        accuracy(
            steps(1, 1).assign(bowler="b", third=1, pattern_class="long", board="arrow"),
            "entry",
            10,
            np.random.default_rng(1),
        )
        is None
    )
    assert pocket_rate(pockets(1)[0].iloc[:0], 10, np.random.default_rng(1)) is None


@pytest.fixture(scope="module")
def pair() -> tuple[Season, Fits]:
    balls = [MadeBall("heron", "ann", effect=0.5), MadeBall("crane", "bob", effect=-0.5)]
    season = make(MadeSeason(balls, blocks=16, games=3, patterns=(36.0, 40.0, 44.0), hands={"bob": "left"}, seed=4))
    return season, fit_all(season, Settings())


def test_students_of_a_season(pair: tuple[Season, Fits]) -> None:
    skills, comparisons, focus = students(Fitted(*pair))
    by_key = {(s.bowler, s.skill): s for s in skills}
    assert {s.skill for s in skills} >= {
        "pocket",
        "carry",
        "single-pin spares",
        "accuracy at the arrows",
        "versatility",
    }
    for skill in ("accuracy at the arrows", "accuracy at the pocket"):
        # boards are made with an sd of 1 at the arrows; at the pocket 1 and 0.4 of the arrow's: sqrt(1.16).
        # the fill balls of the tenth are made at the board before them, so about one step in eleven is nothing
        expected = np.sqrt(10 / 11) * (1.0 if skill == "accuracy at the arrows" else np.sqrt(1.16))
        result = by_key["ann", skill].value
        assert result.lo95 < expected < result.hi95 and not by_key["ann", skill].higher_is_better
    carry = by_key["ann", "carry"]
    assert carry.p_above_average > 0.9 and carry.unit == "%" and carry.progress is not None
    changes = [item.progress.mean for item in skills if item.skill == "carry" and item.progress is not None]
    assert carry.class_progress == pytest.approx(np.mean(changes))
    better = next(c for c in comparisons if c.skill == "carry")
    assert (better.better, better.other) == ("ann", "bob") and better.probability > 0.9 and better.difference.mean > 0
    assert all(0.5 <= c.probability <= 1 for c in comparisons)
    assert {f.bowler for f in focus} == {"ann", "bob"}
    assert next(f for f in focus if f.bowler == "bob").skill == "carry"
    assert all(f.pins_if_class_best.mean >= 0 and "per game" in f.sentence for f in focus)


def test_strikes_as_a_whole_count_every_first_ball_and_are_no_focus(pair: tuple[Season, Fits]) -> None:
    _, fits = pair
    records, comparisons, focus = students(Fitted(*pair))
    by_key = {(s.bowler, s.skill): s for s in records}
    for bowler in ("ann", "bob"):
        strikes = by_key[bowler, "strikes"]
        assert strikes.shots == fits.mix.shots[bowler]
        raw = 100 * fits.mix.strikes[bowler] / fits.mix.shots[bowler]
        assert strikes.value.lo95 < raw < strikes.value.hi95
    assert by_key["ann", "strikes"].p_above_average > 0.9  # the better ball, by a whole logit
    assert "strikes" in {item.skill for item in comparisons} and "strikes" not in {item.skill for item in focus}


def test_what_a_skill_would_win_back_is_what_the_focus_says(pair: tuple[Season, Fits]) -> None:
    records, _, focus = students(Fitted(*pair))
    by_key = {(s.bowler, s.skill): s for s in records}
    for item in focus:
        assert by_key[item.bowler, item.skill].pins_to_win_back == item.pins_if_class_best
        mine = [s.pins_to_win_back.mean for s in records if s.bowler == item.bowler and s.pins_to_win_back]
        assert max(mine) == item.pins_if_class_best.mean
    assert by_key["ann", "strikes"].pins_to_win_back is None and by_key["ann", "strikes"].p_win_back is None
    below, above = by_key["bob", "carry"], by_key["ann", "carry"]
    assert below.p_win_back is not None and above.p_win_back is not None
    assert below.p_win_back > 0.9 > 0.1 > above.p_win_back  # the quartile of two lies between them


def test_spares_as_a_whole_are_their_parts_at_the_mix_of_leaves() -> None:
    """0.6 of the attempts at one pin: 0.6 x 0.9 + 0.4 x 0.4, and the same of their changes over the season."""
    change = {"ann": np.full(5, 0.1)}
    one = SkillDraws(["ann"], np.full((5, 1), 0.9), change, {"ann": 20})
    other = SkillDraws(["bob", "ann"], np.tile([0.5, 0.4], (5, 1)), {"ann": np.full(5, -0.2)}, {"bob": 20, "ann": 5})
    rates = all_spares(one, other, 0.6)
    assert rates is not None and rates.bowlers == ["ann"] and rates.shots == {"ann": 25}
    assert rates.value == pytest.approx(0.7) and rates.progress["ann"] == pytest.approx(-0.02)
    assert all_spares(one, SkillDraws(["bob"], np.full((5, 1), 0.5), {}, {"bob": 20}), 0.6) is None


def test_the_sample_season_has_spares_between_their_parts(decided_sample: Path) -> None:
    skills = Decisions.model_validate_json((decided_sample / "decisions.json").read_text(encoding="utf-8")).skills
    by_key = {(s.bowler, s.skill): s for s in skills}
    bowlers = {s.bowler for s in skills}
    for bowler in bowlers:
        whole, single, multi = (by_key[bowler, f"{name}spares"] for name in ("", "single-pin ", "multi-pin "))
        assert multi.value.mean < whole.value.mean < single.value.mean
        assert whole.shots == single.shots + multi.shots and whole.pins_to_win_back is None
    assert len(bowlers) > 1
