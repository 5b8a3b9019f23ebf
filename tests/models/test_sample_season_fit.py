"""The models fit the sample season: predictions of unseen blocks are neither too bold nor too timid."""

from pathlib import Path

import numpy as np
import pytest

from pipeline.intake import load_folder
from pipeline.models.strike_by_entry import fit_entry
from pipeline.models.strike_worth import fit_worth, worth_cells
from pipeline.settings import Settings
from pipeline.store.season import open_season
from pipeline.validation import held_out

SAMPLE = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    database = tmp_path_factory.mktemp("sample") / "season.duckdb"
    load_folder(SAMPLE, database, Settings())
    with open_season(database, Settings()) as season:
        yield season


@pytest.mark.slow
def test_predictions_of_new_blocks_are_calibrated(sample):
    worth = fit_worth(sample)
    found = held_out.compare(worth_cells(sample), held_out.refitted(worth))
    model = found.scores["model"]
    assert abs(model.slope - 1) < 2.5 * model.slope_se
    assert model.log_loss < found.scores["rate"].log_loss


def test_strikes_by_entry_board_are_met(sample):
    cells, draws = fit_entry(sample).cell_draws(300, np.random.default_rng(5))
    cells = cells.assign(expected=draws.mean(axis=0) * cells["shots"]).dropna(subset=["entry_half"])
    boards = cells.groupby(cells["entry_half"].round().clip(12, 24))[["shots", "strikes", "expected"]].sum()
    boards = boards[boards["expected"] > 10]
    variance = boards["expected"] * (1 - boards["expected"] / boards["shots"])
    distances = (boards["strikes"] - boards["expected"]) / np.sqrt(variance)
    assert len(distances) >= 7
    assert distances.abs().max() < 3
