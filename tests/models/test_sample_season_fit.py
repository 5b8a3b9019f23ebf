"""The models fit the sample season: predictions of unseen blocks are well calibrated."""

import numpy as np
import pytest

from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.validation import held_out


@pytest.mark.slow
def test_predictions_of_new_blocks_are_calibrated(sample):
    season, fits = sample
    comparison = held_out.compare(worth_cells(season), held_out.refitted(held_out.Refits(fits.worth)))
    model = comparison.scores["model"]
    assert abs(model.slope - 1) < 2.5 * model.slope_se
    assert model.log_loss < comparison.scores["rate"].log_loss


def test_strikes_by_entry_board_are_met(sample):
    cells, draws = sample[1].entry.cell_draws(300, np.random.default_rng(5))
    cells = cells.assign(expected=draws.mean(axis=0) * cells["shots"]).dropna(subset=["entry_half"])
    boards = cells.groupby(cells["entry_half"].round().clip(12, 24))[["shots", "strikes", "expected"]].sum()
    boards = boards[boards["expected"] > 10]
    variance = boards["expected"] * (1 - boards["expected"] / boards["shots"])
    distances = (boards["strikes"] - boards["expected"]) / np.sqrt(variance)
    assert len(distances) >= 7
    assert distances.abs().max() < 3
