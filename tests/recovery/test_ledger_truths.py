"""True frames of simulated seasons: bowled again they score as they should, and the study's page keeps its sections."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.pricing.ledger.block_level import expected_game
from tests.recovery.ledger_study import ledger_section, with_section
from tests.recovery.ledger_truths import _bowled_again
from tests.recovery.summary import recovery_table
from tests.scoring import Delivery, score_game


def test_games_bowled_again_score_their_expectation() -> None:
    rng = np.random.default_rng(3)
    games = 4
    strike, spare = rng.uniform(0.2, 0.8, (games, 10)), rng.uniform(0.3, 0.9, (games, 10))
    first, missed = rng.uniform(7, 9, (games, 10)), 0.4
    second = spare * (10 - first) + (1 - spare) * missed
    again = np.concatenate([_bowled_again(rng, strike, spare, first, second) for _ in range(20)])
    expected = expected_game(strike, spare, first, second).sum()
    assert again.mean() == pytest.approx(expected, abs=4 * again.std() / np.sqrt(len(again)))


def test_certain_games_score_by_the_rules() -> None:
    rng = np.random.default_rng(3)
    for strike, spare, balls in ((1.0, 0.5, [10] * 12), (0.0, 1.0 - 1e-12, [9, 1] * 10 + [9])):
        shape = (1, 10)
        chances = [np.full(shape, value) for value in (strike, spare, 9.0, spare)]
        again = _bowled_again(rng, *chances)
        assert np.allclose(again, score_game([Delivery(pins) for pins in balls]).total or 0, atol=1e-6)


def test_the_results_page_keeps_one_section_on_the_ledger() -> None:
    rows = pd.DataFrame({"mean": [1.0, 2.0], "truth": [1.1, 2.2], "raw": [0.0, 1.0], "seed": [1, 2]})
    rows = rows.assign(world="drawn", kind="level", lo80=0.0, hi80=3.0, lo95=-1.0, hi95=4.0)
    section = ledger_section(recovery_table(rows))
    page = "# Results\n\n## Another\n\ntext\n"
    once = with_section(page, section)
    assert once.startswith(page.rstrip("\n")) and once.count("## The ledger") == 1
    assert with_section(once, section) == once
