"""What is seen of shots in the simulated worlds: means over what a log would hold, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.recovery.worlds.mechanism import Shot
from tests.recovery.worlds.seen import Seen


def _add(seen: Seen, arrow: float, entry: float, chance: float, shots: int = 200) -> None:
    one = np.zeros(shots, dtype=int)
    where = np.full((1, shots), entry)
    none = 1 - chance
    sums = np.array([1.0, chance, 0.8 * none, 8.5 * none, 0.3 * none])[:, None, None] * np.ones((5, 1, shots))
    seen.add(Shot(one, one, one, np.zeros(shots), np.full(shots, arrow)), 2, where, sums)


def test_a_line_has_the_mean_of_the_shots_seen_over_it() -> None:
    seen = Seen(balls=2, patterns=2)
    _add(seen, 10.0, 17.5, 0.6, shots=2_000)
    _add(seen, 15.0, 17.5, 0.2, shots=2_000)
    assert seen.rates(0, 0, 2, "second arrow") == pytest.approx([0.6, 0.8, 8.5, 0.3], abs=0.01)
    assert seen.rates(0, 0, 2, "third arrow")[0] == pytest.approx(0.2, abs=0.01)
    # what was never seen, or without a line, goes as the ball does on the lines it was seen on
    for game, line in ((2, "line not logged"), (2, "first arrow"), (4, "second arrow")):
        assert seen.rates(0, 0, game, line)[0] == pytest.approx(0.4, abs=0.01)


def test_a_line_seen_a_few_times_keeps_its_own_chance() -> None:
    seen = Seen(balls=1, patterns=1)
    _add(seen, 10.0, 17.5, 0.6, shots=1_980)
    _add(seen, 15.0, 17.5, 0.2, shots=20)
    # two shots more that go as all 2,000 did, 0.596 of them strikes
    assert seen.rates(0, 0, 2, "third arrow")[0] == pytest.approx((20 * 0.2 + 2 * 0.596) / 22, abs=1e-3)


def test_a_shot_between_two_lines_is_sometimes_seen_on_the_other() -> None:
    seen = Seen(balls=1, patterns=1)
    _add(seen, 12.0, 17.5, 0.5)  # half a board of error in reading it: one in six as 13, the third arrow's
    assert seen._by_line[0, 0, 0, 1, 2] == pytest.approx(200 * 5 / 6)
    assert seen._by_line[0, 0, 0, 1, 3] == pytest.approx(200 / 6)


def test_a_board_that_was_written_down_may_be_another() -> None:
    seen = Seen(balls=1, patterns=1)
    _add(seen, 10.0, 17.5, 0.9)
    _add(seen, 10.0, 19.5, 0.1)
    at = np.array([16.5, 17.5, 18.5, 19.5, 20.5])
    chances = seen.strike(0, 0, 2, "second arrow", at)
    assert chances[1] == pytest.approx(0.9, abs=0.01) and chances[3] == pytest.approx(0.1, abs=0.01)
    assert chances[2] == pytest.approx(0.5, abs=0.01)  # as far from both


def test_boards_of_a_line_come_to_the_chance_of_the_line() -> None:
    seen = Seen(balls=1, patterns=1)
    for arrow, entry, chance in ((10.0, 17.5, 0.9), (10.0, 19.5, 0.3), (20.0, 17.5, 0.5)):
        _add(seen, arrow, entry, chance, shots=2_000)
    at = np.array([17.5, 19.5])
    second, fourth = (seen.strike(0, 0, 2, line, at) for line in ("second arrow", "fourth arrow"))
    assert second.mean() == pytest.approx(seen.rates(0, 0, 2, "second arrow")[0], abs=0.01)
    assert fourth[0] == pytest.approx(0.5, abs=0.01)  # the same board, over another line
