"""Rules of thumb: contrasts worked out by hand, and verdicts that are right as often as they say."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.records import MaximTrial
from pipeline.decisions.rules_of_thumb.rules import MAXIMS, Maxim, column
from pipeline.decisions.rules_of_thumb.trials import contrast, maxims
from pipeline.decisions.wording.rules_of_thumb import RuleName, rule_text
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Settings
from tests.decisions.made_season import MadeBall, MadeSeason, make

RULE = Maxim("a beats b", column("oil", "wet"), column("ball", "a"), column("ball", "b"), ("line",))


def table(rows: list[tuple[str, str, str, str, int]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["oil", "ball", "line", "phase", "shots"])


def test_the_contrast_is_matched_within_strata_by_hand() -> None:
    rows = table(
        [
            ("wet", "a", "x", "fresh", 10),
            ("wet", "b", "x", "fresh", 30),
            ("wet", "a", "y", "fresh", 20),
            ("wet", "b", "y", "fresh", 20),
            ("wet", "a", "z", "fresh", 50),  # no b on this line: says nothing
            ("dry", "b", "x", "fresh", 99),  # not what the rule speaks of
        ]
    )
    pins = np.array([[8.0, 2.0, 5.0, 4.0, 100.0, 100.0]])
    difference = contrast(RULE, rows, pins)
    # strata weigh 10*30/40 = 7.5 and 20*20/40 = 10; differences are 6 and 1
    assert difference is not None
    assert difference.pins[0] == pytest.approx((7.5 * 6 + 10 * 1) / 17.5)
    assert (difference.shots, difference.thin) == (80, 30)


def test_a_rule_about_time_is_a_difference_of_differences_by_hand() -> None:
    rule = Maxim(
        "a gains late", column("oil", "wet"), column("ball", "a"), column("ball", "b"), ("line",), "", "late", "fresh"
    )
    rows = table([("wet", ball, "x", phase, 25) for phase in ("fresh", "late") for ball in ("a", "b")])
    difference = contrast(rule, rows, np.array([[1.0, 4.0, 9.0, 5.0]]))
    assert difference is not None and difference.pins[0] == pytest.approx((9 - 5) - (1 - 4))
    assert contrast(rule, rows.iloc[:3], np.zeros((1, 3))) is None


def test_without_a_stratum_that_holds_both_sides_nothing_is_said() -> None:
    assert (
        contrast(RULE, table([("wet", "a", "x", "fresh", 9), ("wet", "b", "y", "fresh", 9)]), np.zeros((1, 2))) is None
    )


def test_every_rule_reads_the_columns_it_is_given() -> None:
    assert len({rule_text(maxim.name) for maxim in MAXIMS}) == len(MAXIMS) == len(get_args(RuleName))
    assert {maxim.table for maxim in MAXIMS} == {"choices", "oil"}
    assert [maxim.name for maxim in MAXIMS if maxim.from_memory] == ["rule_of_31"]


@pytest.fixture(scope="module")
def trials() -> dict[tuple[str, str], MaximTrial]:
    """A season where urethane truly fades, the solid truly holds, and the benchmark is truly no better."""
    balls = [
        MadeBall("hone", cover="solid", benchmark=True),
        MadeBall("urn", cover="urethane"),
        MadeBall("slate", cover="solid"),
    ]
    plan = MadeSeason(balls, blocks=40, games=6, patterns=(40.0, 44.0), game_effect={"urn": -0.35}, seed=6)
    season = make(plan)
    return {(t.maxim, t.bowler): t for t in maxims(Fitted(season, fit_all(season, Settings())))}


def trial(trials: dict[tuple[str, str], MaximTrial], start: str, bowler: str = "ann") -> MaximTrial:
    return next(t for (maxim, who), t in trials.items() if maxim.startswith(start) and who == bowler)


def test_a_rule_that_is_true_holds(trials: dict[tuple[str, str], MaximTrial]) -> None:
    trial_of_rule = trial(trials, "Urethane loses carry as the pattern breaks down")
    assert trial_of_rule.verdict == "holds for you" and trial_of_rule.pins.mean > 5
    assert "Holds for you" in trial_of_rule.sentence


def test_everyone_is_the_one_bowler_there_is(trials: dict[tuple[str, str], MaximTrial]) -> None:
    one = trial(trials, "Urethane loses carry as the pattern breaks down")
    everyone = trial(trials, "Urethane loses carry as the pattern breaks down", "everyone")
    assert everyone.pins == one.pins and everyone.verdict == one.verdict


def test_what_was_never_bowled_is_not_tested(trials: dict[tuple[str, str], MaximTrial]) -> None:
    short = trial(trials, "On short patterns play nearer the gutter")
    assert short.verdict == "not tested" and short.pins is None and short.sentence.startswith("Not tested")


def test_every_rule_is_answered_for_everybody(trials: dict[tuple[str, str], MaximTrial]) -> None:
    assert len(trials) == 2 * len(MAXIMS)
    for value in trials.values():
        if value.verdict == "holds for you":
            assert value.probability >= 0.8
        elif value.verdict == "does not hold":
            assert value.probability <= 0.2


def test_verdicts_are_right_as_often_as_they_say() -> None:
    rng = np.random.default_rng(8)
    rows = table([("wet", "a", "x", "fresh", 50), ("wet", "b", "x", "fresh", 50)])
    said, right = [], []
    for _ in range(600):
        truth = 5 * rng.standard_normal(2)
        data = truth + 6 * rng.standard_normal(2)
        shrink = 25 / (25 + 36)
        pins = shrink * data + np.sqrt(shrink) * 6 * rng.standard_normal((400, 2))
        difference = contrast(RULE, rows, pins)
        assert difference is not None
        said.append(float((difference.pins > 0).mean()))
        right.append(truth[0] > truth[1])
    p, y = np.array(said), np.array(right)
    for chosen in (p >= 0.8, p <= 0.2, (p > 0.2) & (p < 0.8)):
        assert abs(y[chosen].sum() - p[chosen].sum()) < 3.5 * np.sqrt((p[chosen] * (1 - p[chosen])).sum())
