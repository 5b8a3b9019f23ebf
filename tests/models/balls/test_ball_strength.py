"""How strong a ball is: by its numbers, by its entry boards, and in a world in which its class says nothing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import Ridge

from pipeline.models.balls import ball_strength as bs
from pipeline.models.balls.ball_strength import BallStrength, ball_strength, by_class
from pipeline.models.lines.entry_slope import PRIOR, entry_slope
from pipeline.models.strikes.strike_worth import fit_worth_cells
from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.settings import Settings
from pipeline.sport.layout import pin_to_axis
from tests.models.made_cells import balance, made_cells
from tests.recovery.in_memory import open_simulated
from tests.recovery.worlds import WORLDS


def _listed(count: int = 6) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "ball": [f"b{k}" for k in range(count)],
            "ball_class": ["symmetric hybrid"] * count,
            "spare_ball": [False] * count,
            "rg_in": np.linspace(2.47, 2.59, count),
            "diff_in": [0.04] * count,
            "int_diff_in": [0.0] * count,
            "layout": [""] * count,
            "grit_doublings": [10.0] * count,
        }
    )


def _cells(hook: np.ndarray, shots: int, blocks: int = 8) -> pd.DataFrame:
    """Every ball in every block, without noise; blocks lie a board apart."""
    rows = [
        ("x", f"k{block}", f"b{k}", game, 15.0, 17.0 + hook[k] + block, shots)
        for block in range(blocks)
        for game in (1, 2)
        for k in range(len(hook))
    ]
    names = ["bowler", "block", "ball", "game", "arrow_board", "entry_board", "entries"]
    return pd.DataFrame(rows, columns=names)


def test_entry_boards_say_how_strong_a_ball_is() -> None:
    """With many shots the differences are those logged, whatever the numbers say, and blocks do not matter."""
    hook = np.array([0.5, -1.0, 0.2, 0.9, -0.4, -0.2])
    estimated = ball_strength(_cells(hook, 400), _listed(), PRIOR)
    strength = np.array([estimated.of_ball[f"b{k}"] for k in range(6)])
    np.testing.assert_allclose(np.diff(strength), np.diff(hook), atol=0.06)


def test_without_entry_boards_the_numbers_say_it() -> None:
    """Low RG hooks more (common practice), by what is believed beforehand for one sd."""
    listed = _listed()
    strength = ball_strength(_cells(np.zeros(6), 10).iloc[:0], listed, PRIOR)
    z = (listed["rg_in"] - listed["rg_in"].mean()) / listed["rg_in"].std(ddof=0)
    expected = bs._WEIGHTS["rg_in"][0] * z
    np.testing.assert_allclose([strength.of_ball[ball] for ball in listed["ball"]], expected, atol=1e-9)
    assert strength.of_class["symmetric solid"] > strength.of_class["symmetric pearl"]


def test_the_weights_are_those_of_a_ridge_regression(monkeypatch: pytest.MonkeyPatch) -> None:
    """Source: scikit-learn's Ridge with the prior's precision over that of a shot, one number, no hook of its own."""
    monkeypatch.setattr(bs, "_BALL_SDS", np.array([1e-4]))
    monkeypatch.setattr(bs, "_WEIGHTS", {"rank": (0.0, 0.3), "rg_in": (0.0, 0.3)})
    monkeypatch.setattr(bs, "_LEAST_VARIANCE", 50.0)  # a known variance
    listed, cells, rng = _listed(), _cells(np.zeros(6), 3), np.random.default_rng(2)
    z = ((listed["rg_in"] - listed["rg_in"].mean()) / listed["rg_in"].std(ddof=0)).to_numpy()
    at = cells["ball"].str[1:].astype(int).to_numpy()
    cells["entry_board"] += -0.4 * z[at] + rng.normal(0, 0.5, len(cells))
    inside = cells["entry_board"] - cells.groupby("block")["entry_board"].transform("mean")
    ridge = Ridge(alpha=0.3**-2 / (3 / 50.0), fit_intercept=False).fit(z[at][:, None], inside)
    strength = ball_strength(cells, listed, PRIOR)
    assert strength.of_ball["b5"] / z[5] == pytest.approx(float(ridge.coef_[0]), rel=1e-3)


def test_strength_is_found_where_classes_say_nothing() -> None:
    """Truth: the strengths of the world ``ball_numbers``, in which cover and core do nothing."""
    simulated = WORLDS["ball_numbers"](2)
    balls = simulated.truth.club.balls
    strike = balls[~balls["spare_ball"].astype(bool)]
    true = simulated.truth.lane.strength(strike.index.to_numpy())
    with open_simulated(simulated, Settings()) as season:
        listed = season.frame("cells/ball_numbers")
        estimated = ball_strength(worth_cells(season), listed, entry_slope(season))
    classes = listed.set_index("ball").loc[strike["ball"], "ball_class"].tolist()
    ours, by_name = estimated(strike["ball"].tolist(), classes), by_class()(["?"] * len(strike), classes)
    assert np.corrcoef(ours, true)[0, 1] > 0.85
    assert np.corrcoef(by_name, true)[0, 1] < 0.5


@pytest.mark.parametrize(
    ("layout", "inches"),
    [
        ("drilled at 40 degrees; pin 3.5 in from the axis; second angle 40 degrees", 3.5),
        ("Pin to PAP 4 1/2", 4.5),
        ("pin-to-axis: 5-3/8 in", 5.375),
        ("50 x 4.5 x 30", 4.5),
        ('55° x 4 3/4" x 35°', 4.75),
        ("5 x 4 x 2", 5.0),
        ("over the fingers", None),
        ("pin 40", None),
        ("", None),
    ],
)
def test_layouts_are_read_as_bowlers_write_them(layout: str, inches: float | None) -> None:
    """Ways of writing are common practice."""
    assert pin_to_axis(layout) == inches


def test_strikes_follow_how_strong_a_ball_is() -> None:
    """Planted: of balls of one class the strong ones strike more on long oil, the weak ones on short oil."""
    rng = np.random.default_rng(5)
    hook = {f"b{b}-{k}": 0.4 * (k - 1) for b in range(4) for k in range(3)}
    planted = {
        (ball[:2], kind, ball): 1.2 * strength * far
        for ball, strength in hook.items()
        for kind, far in (("short", -1), ("long", 1))
    }
    cells = made_cells(rng, planted=planted).assign(ball_class="symmetric hybrid")
    strength = BallStrength(hook | {"strong": 0.4, "weak": -0.4}, {})  # the last two were never thrown
    fit = fit_worth_cells(cells, balance(), dict.fromkeys(cells["ball"], "symmetric hybrid"), strength=strength)
    grid = pd.DataFrame(
        [("b0", kind, 3, ball, "second arrow") for kind in ("short", "long") for ball in ("strong", "weak")],
        columns=["bowler", "pattern_class", "game", "ball", "line"],
    ).assign(ball_class="symmetric hybrid")
    draws = fit.strike_draws(grid, 400, np.random.default_rng(1), line="followed")
    short, long = (draws[:, k] - draws[:, k + 1] for k in (0, 2))
    assert (long > short).mean() > 0.9
    assert long.mean() - short.mean() > 0.1
