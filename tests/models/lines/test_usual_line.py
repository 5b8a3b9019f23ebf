"""The usual line: recovered from made-up lines, and against scikit-learn's ridge regression."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import Ridge

from pipeline.models.lines.lane_state import Variances
from pipeline.models.lines.usual_line import learn_usual_line
from pipeline.sport.lane import LINES

_NUMBERS = ("game_1", "game_2", "load_z", "length_ft_z", "volume_ml_z", "ratio_z")


def _cells(rows: int = 400) -> pd.DataFrame:
    rng = np.random.default_rng(4)
    frame = pd.DataFrame({name: rng.normal(size=rows) for name in _NUMBERS})
    frame = frame.assign(
        pattern_class=rng.choice(["short", "long"], rows),
        ball_class=rng.choice(["urethane", "symmetric solid"], rows),
        bowler=rng.choice(["ann", "bo"], rows),
        shots=rng.integers(1, 9, rows),
        block=rng.integers(0, 12, rows).astype(str),
    )
    frame["ball"] = frame["bowler"] + "-" + frame["ball_class"].str[0]
    place = 3 + 0.5 * frame["game_1"] + (frame["pattern_class"] == "long") + rng.normal(0, 0.4, rows)
    frame["line"] = np.array(LINES)[np.clip(np.round(place), 0, 6).astype(int)]
    return frame


def test_it_is_the_ridge_regression_of_scikit_learn() -> None:
    cells = _cells()
    usual, _ = learn_usual_line(cells)
    sd = usual.design.precision() ** -0.5
    columns = usual.design.matrix(cells) * sd
    arrows = cells["line"].map({line: k for k, line in enumerate(LINES)})
    ridge = Ridge(alpha=1.0, fit_intercept=False, tol=1e-12).fit(columns, arrows, sample_weight=cells["shots"])
    assert usual.effects == pytest.approx(ridge.coef_ * sd, abs=1e-5)


def test_cells_of_a_block_are_at_their_distance_from_what_the_other_blocks_show() -> None:
    """With two blocks each is judged by the other alone; a single block has nothing but itself."""
    cells = _cells()
    cells["block"] = np.where(np.arange(len(cells)) % 2, "one", "other")
    usual, apart = learn_usual_line(cells)
    for own, other in (("one", "other"), ("other", "one")):
        mine = (cells["block"] == own).to_numpy()
        elsewhere, alone = learn_usual_line(cells[cells["block"] == other])
        expected = elsewhere.lost_as_thrown(cells[mine]) + elsewhere.mean_cost - usual.mean_cost
        assert apart[mine] == pytest.approx(expected, abs=1e-9)
        assert alone == pytest.approx(elsewhere.lost_as_thrown(cells[~mine]), abs=1e-9)


def test_lines_move_in_as_the_games_go_on_and_on_longer_oil() -> None:
    usual, _ = learn_usual_line(_cells())
    by_name = dict(zip(usual.design.labels(), usual.effects, strict=True))
    assert by_name["game_1"] == pytest.approx(0.5, abs=0.1)
    assert by_name["long"] - by_name["short"] == pytest.approx(1.0, abs=0.2)


def test_the_cost_grows_either_way_and_averages_zero() -> None:
    cells = _cells()
    usual, _ = learn_usual_line(cells)
    _, lost = learn_usual_line(cells)
    assert np.average(lost, weights=cells["shots"]) == pytest.approx(0.0, abs=1e-9)
    one = cells.head(1)
    every = [float(usual.lost(one.assign(line=line))[0]) for line in LINES]
    best = int(np.argmin(every))
    assert every[:best] == sorted(every[:best], reverse=True) and every[best:] == sorted(every[best:])


def _blocks_where_luck_keeps_bowlers_on_a_line(rng: np.random.Generator) -> pd.DataFrame:
    """No line is better than another, but each block most shots are thrown on the line that struck first."""
    games = np.repeat(np.linspace(-1.5, 1.5, 5), 2)
    blocks = []
    for block in range(40):
        frame = pd.DataFrame({"game_1": games, "line": [LINES[1], LINES[3]] * 5, "block": f"k{block}", "bowler": "ann"})
        frame = frame.assign(**dict.fromkeys(_NUMBERS[1:], 0.0), pattern_class=f"oil {block % 20}")
        tries = rng.binomial(10, 0.5, len(frame))
        more = rng.binomial(40, 0.5, len(frame)) * (tries > 5)
        frame = frame.assign(ball_class="urethane", ball="ann-u", shots=10 + 40 * (tries > 5), strikes=tries + more)
        blocks.append(frame)
    return pd.concat(blocks, ignore_index=True)


def test_luck_on_a_line_is_not_taken_for_the_worth_of_the_usual_line() -> None:
    """Slope of the strike rate along the distance: none, as simulated, where the block's own shots are left out."""
    own, others = [], []
    for seed in range(30):
        cells = _blocks_where_luck_keeps_bowlers_on_a_line(np.random.default_rng([5, seed]))
        usual, apart = learn_usual_line(cells)
        rate, weight = cells["strikes"] / cells["shots"], np.sqrt(cells["shots"].to_numpy(dtype=float))
        for value, lost in ((own, usual.lost_as_thrown(cells)), (others, apart)):
            value.append(np.polyfit(lost, rate, 1, w=weight)[0])
    assert np.mean(own) < -3 * np.std(own) / np.sqrt(30)
    assert abs(np.mean(others)) < 3 * np.std(others) / np.sqrt(30)


def test_a_line_not_logged_costs_the_mean() -> None:
    cells = _cells()
    usual, _ = learn_usual_line(cells)
    assert usual.lost(cells.head(3).assign(line=[None, np.nan, "line not logged"])).tolist() == [0.0, 0.0, 0.0]
    nowhere, apart = learn_usual_line(cells.assign(line="line not logged"))
    assert not nowhere.lost(cells.assign(line=None)).any() and not apart.any()


def test_a_kept_line_costs_what_nights_make_of_it() -> None:
    """The mean over simulated nights of the cost off what each asks for, a board of tuning taken off."""
    cells = _cells().assign(pair_load=40.0, any_pattern=False)
    usual = replace(learn_usual_line(cells)[0], night=Variances(night=0.3, walk=0.005, bowler_line=0.1))
    usual = replace(usual, others=None, astray=0.0)
    one = cells.head(1)
    nights = np.random.default_rng(1).normal(0, np.sqrt(0.3 + 0.005 * 40), 200_000)
    for line in (LINES[2], LINES[5]):
        frame = one.assign(line=line)
        off = LINES.index(line) - float(usual.boards(frame)[0]) / 5
        apart = np.minimum(np.maximum(np.abs(off + nights) - 0.2, 0.0), 2.5)
        result = sum(share * lost[0, 0] for share, lost in usual.kept_lines(frame, 1, np.random.default_rng(2)).lost())
        assert result == pytest.approx((0.15 * apart**2).mean() - usual.mean_cost, rel=0.06)


def test_a_row_of_any_pattern_is_as_uncertain_as_the_patterns_differ() -> None:
    cells = _cells().assign(pair_load=0.0, any_pattern=False)
    usual = replace(learn_usual_line(cells)[0], night=None, others=None, astray=0.0)
    frame = cells.head(1).assign(line=LINES[3])
    alike = sum(s * lost[0, 0] for s, lost in usual.kept_lines(frame, 1, np.random.default_rng(2)).lost())
    assert alike == pytest.approx(float(usual.lost(frame)[0]))
    usual = replace(usual, patterns={"short": 1.0, "long": 1.0})
    any_of_them = frame.assign(any_pattern=True)
    differing = sum(s * lost[0, 0] for s, lost in usual.kept_lines(any_of_them, 1, np.random.default_rng(2)).lost())
    assert differing > alike + 0.05


def test_everybody_may_play_off_the_best_line_on_the_same_side() -> None:
    """Half an arrow of error, the same for every row of a draw, so that one line gains what its neighbour loses."""
    cells = _cells().assign(pair_load=0.0, any_pattern=False)
    learned = learn_usual_line(cells)[0]
    assert learned.astray == pytest.approx(0.12)  # 0.6 boards
    usual = replace(learned, night=None, others=None, astray=0.5)
    frame = cells.head(2).assign(line=[LINES[2], LINES[4]])
    off = usual.kept_lines(frame, 20_000, np.random.default_rng(2)).off
    assert off.std(axis=0) == pytest.approx(0.5, rel=0.02)
    assert off[:, 1] - off[:, 0] == pytest.approx(np.ptp(usual.boards(frame) / 5 - [2.0, 4.0]))
    assert off.mean(axis=0) == pytest.approx([2.0, 4.0] - usual.boards(frame) / 5, abs=0.02)


def test_nights_that_ask_the_same_of_every_ball_leave_nothing_apart() -> None:
    """Ten nights on two patterns, which differ by 1.5 boards for all: few enough for other blocks to mislead."""
    rng = np.random.default_rng(3)
    nights = 0.3 * rng.normal(size=10)
    rows = [(k, b, load) for k in range(10) for b in range(6) for load in (20.0, 60.0)]
    cells = pd.DataFrame(rows, columns=["night", "who", "pair_load"])
    cells = cells.assign(
        block="k" + cells["night"].astype(str),
        bowler="b" + cells["who"].astype(str),
        ball="b" + cells["who"].astype(str) + "-0",
        pattern_class=np.where(cells["night"] % 2, "short", "long"),
        pair="1-2",
        hand="right",
        ball_class="urethane",
        line=LINES[3],
        shots=20,
        entries=20,
        off_variance=0.1,
        **dict.fromkeys(_NUMBERS, 0.0),
    )
    noise = 0.07 * rng.normal(size=(2, len(cells)))
    cells["arrow_board"] = 15 + 5 * (nights[cells["night"]] + noise[0])
    cells["off_seen"] = noise[1]
    variances = learn_usual_line(cells)[0].night
    assert variances is not None and variances.night > 0.03
    assert variances.choice < 0.1 * variances.night
