"""Which balls to take: against trying every bag by hand, and on the sample season by its commands."""

from __future__ import annotations

import shutil
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from pipeline.cli import cli
from pipeline.decisions.advice.change_cost import best_sequence
from pipeline.decisions.plan.bag import pack, worth
from pipeline.decisions.plan.choices import Options, PlanError

BALLS = "abcde"


def _round(rng: np.random.Generator) -> Options:
    """Five balls on one line each over four games; their worth known but for a little."""
    mean = 190 + rng.normal(0, 8, (4, len(BALLS)))
    score = mean + rng.normal(0, 0.1, (50, 4, len(BALLS)))
    rows = [{"ball": ball, "ball_name": ball.upper()} for ball in BALLS]
    tried = np.ones((4, len(BALLS)), dtype=bool)
    return Options(rows, tried, ["fresh"] * 4, score[..., 0], score - 190, score, np.full_like(score, 0.5), score)


def _short_of_the_best(count: int) -> list[float]:
    """How far the bag packed falls short of the best of all bags, over twenty events."""
    short = []
    for seed in range(20):
        rounds = [_round(np.random.default_rng([seed, k])) for k in range(2)]
        bag = pack(rounds, count)
        taken = [item.ball for item in bag.take]
        assert len(taken) == count and len(bag.leave) == len(BALLS) - count
        best = max(float(worth(rounds, list(some)).mean()) for some in combinations(BALLS, count))
        short.append(best - float(worth(rounds, taken).mean()))
    return short


@pytest.mark.parametrize("count", [1, 2, 4])
def test_no_other_bag_of_that_size_is_worth_more(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    assert _short_of_the_best(count) == pytest.approx([0.0] * 20)
    monkeypatch.setattr("pipeline.decisions.plan.bag._BAGS", 0)  # one ball left at a time is not a search of all
    assert 0 <= np.mean(_short_of_the_best(count)) < 1.0


def test_each_number_is_a_difference_of_bags() -> None:
    rounds = [_round(np.random.default_rng([7, k])) for k in range(3)]
    bag = pack(rounds, 3, ["Plain"])
    taken = [item.ball for item in bag.take]
    with_bag = worth(rounds, taken)
    for item in bag.take:
        without = worth(rounds, [ball for ball in taken if ball != item.ball])
        assert item.adds.mean == pytest.approx((with_bag - without).mean())
    for item in bag.leave:
        assert item.games == 0 and item.adds.mean == pytest.approx(
            (worth(rounds, [*taken, item.ball]) - with_bag).mean()
        )
    assert sum(item.games for item in bag.take) == 12
    assert bag.lost.mean == pytest.approx((worth(rounds, list(BALLS)) - with_bag).mean()) and bag.spare_balls == [
        "Plain"
    ]
    with pytest.raises(PlanError, match="at least one"):
        pack(rounds, 0)


def test_a_round_is_worth_halfway_between_its_plan_and_hindsight() -> None:
    options = _round(np.random.default_rng(9))
    planned = np.mean([options.score[:, game, k].mean() for game, k in enumerate(best_sequence(options))])
    hindsight = options.score.max(axis=2).mean()
    by_hand = (planned + hindsight) / 2
    assert worth([options], list(BALLS)).mean() == pytest.approx(by_hand)


@pytest.mark.slow
def test_the_command_plans_rounds_by_name_and_packs(decided_sample: Path, tmp_path: Path) -> None:
    database = shutil.copy(decided_sample / "s.duckdb", tmp_path / "season.duckdb")
    ask = ["plan", "--db", str(database), "--games", "3", "--settings", str(decided_sample / "few.toml")]
    bowler = ["--bowler", "tevin"]
    done = CliRunner().invoke(cli, [*ask, *bowler, "--pattern", "longmere", "--pattern", "Fen House", "--balls", "2"])
    assert done.exit_code == 0, done.output
    assert "on Longmere, 44 ft" in done.output and "on Fen House, 40 ft" in done.output
    assert "Take 2 balls:" in done.output and "Against taking every ball:" in done.output
    wrong = CliRunner().invoke(cli, [*ask, *bowler, "--pattern", "nowhere"])
    assert wrong.exit_code != 0 and "longmere" in str(wrong.exception or wrong.output) + wrong.output
    both = CliRunner().invoke(cli, [*ask, *bowler, "--pattern", "longmere", "--length", "40"])
    assert both.exit_code == 2 and "not both" in both.output
    neither = CliRunner().invoke(cli, [*ask, *bowler])
    assert neither.exit_code == 2 and "--pattern" in neither.output
