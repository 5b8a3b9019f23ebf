"""What few nights leave unsure of a kept line: by hand, and in a season whose nights differ and one whose do not."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.models.lines.lane_state import Variances
from pipeline.models.strikes.few_nights import nights_thrown, of_few_nights
from pipeline.models.strikes.strike_worth import WorthFit, fit_worth_cells
from tests.models.made_cells import balance, listed, made_cells

NONE = "line not logged"
N = 4000


def _rows(*choices: tuple[str, str]) -> pd.DataFrame:
    return pd.DataFrame(choices, columns=["ball", "line"]).assign(bowler="ann", pattern_class="short")


def test_nights_of_a_choice_are_blocks() -> None:
    cells = _rows(("a", "first"), ("a", "first"), ("a", "first"), ("b", "first")).assign(block=["x", "x", "y", "y"])
    assert nights_thrown(cells) == {"ann|short|a|first": 2, "ann|short|b|first": 1}


def test_the_part_is_one_choices_own_and_falls_with_the_root_of_its_nights() -> None:
    frame = _rows(("a", "first"), ("a", "second"), ("a", "first"), ("b", "first"))
    nights = {"ann|short|a|first": 4, "ann|short|a|second": 1}
    errors = of_few_nights(frame, nights, N, 7, NONE)
    assert np.array_equal(errors[:, 0], errors[:, 2])
    assert np.array_equal(errors[:, [0]], of_few_nights(frame.head(1), nights, N, 7, NONE))
    assert np.abs(np.corrcoef(errors[:, [0, 1, 3]].T) - np.eye(3)).max() < 5 / np.sqrt(N)
    assert errors.std(axis=0) == pytest.approx([0.5, 1.0, 0.5, 1.0], rel=0.06)


def test_what_is_no_choice_has_none() -> None:
    assert not of_few_nights(_rows(("a", NONE), (AVERAGE, "first")), {}, 10, 7, NONE).any()
    assert not of_few_nights(_rows(("a", "first")).assign(bowler=AVERAGE), {}, 10, 7, NONE).any()


@pytest.fixture(scope="module")
def made() -> WorthFit:
    cells = made_cells(np.random.default_rng(1), bowlers=2, blocks=9, balls=2)
    return fit_worth_cells(cells, balance(2), listed(cells))


def _kept(made: WorthFit, night: float, nights: int, line: str = "kept") -> np.ndarray:
    """Draws of three lines where nights differ by this variance and each was thrown on so many."""
    usual = replace(made.usual_line, night=Variances(night, 0.0, 0.1), others=None, patterns={})
    grid = _rows(*(("b0-0", name) for name in ("first arrow", "second arrow", "third arrow")))
    grid = grid.assign(bowler="b0", game=2)
    shown = {f"b0|short|b0-0|{name}": nights for name in grid["line"]}
    fit = replace(made, usual_line=usual, nights=shown)
    return fit.strike_draws(grid, N, np.random.default_rng(2), "kept" if line == "kept" else "followed")


def test_where_nights_differ_few_of_them_leave_a_kept_line_unsure(made: WorthFit) -> None:
    few, many = _kept(made, 0.3, 1), _kept(made, 0.3, 10**8)
    assert few.mean(axis=0) == pytest.approx(many.mean(axis=0), abs=0.01)
    assert ((few[:, 0] - few[:, 2]).std()) > 1.1 * (many[:, 0] - many[:, 2]).std()
    alike = _kept(made, 1e-9, 1), _kept(made, 1e-9, 10**8)
    assert alike[0] == pytest.approx(alike[1], abs=1e-3)
    assert np.array_equal(_kept(made, 0.3, 1, "followed"), _kept(made, 0.3, 10**8, "followed"))
