"""Limits are common practice.

RG 2.46-2.51 low, 2.52-2.56 medium, 2.57-2.80 high; differential to 0.025 low, 0.026-0.046 medium, 0.047-0.060 high.
"""

from __future__ import annotations

import math

import pytest

from pipeline.settings import BallLimits
from pipeline.sport import classes


@pytest.mark.parametrize(
    ("rg", "name"),
    [
        (2.46, "low"),
        (2.51, "low"),
        (2.52, "medium"),
        (2.56, "medium"),
        (2.57, "high"),
        (2.80, "high"),
        (None, "unknown"),
    ],
)
def test_rg(rg: float | None, name: str) -> None:
    assert classes.rg_class(rg, BallLimits()) == name


@pytest.mark.parametrize(
    ("diff", "name"),
    [(0.01, "low"), (0.025, "low"), (0.026, "medium"), (0.046, "medium"), (0.047, "high"), (math.nan, "unknown")],
)
def test_differential(diff: float, name: str) -> None:
    assert classes.differential_class(diff, BallLimits()) == name


@pytest.mark.parametrize(
    ("length", "name"), [(36, "short"), (37, "short"), (38, "medium"), (42.5, "medium"), (43, "long"), (47, "long")]
)
def test_length(length: float, name: str) -> None:
    # short 37 ft or less, long 43 ft or more: common practice
    assert classes.length_class(length) == name


def test_ball_classes_cover_every_cover_and_core() -> None:
    made = {
        classes.ball_class(cover, core)
        for cover in ("polyester", "urethane", "pearl", "hybrid", "solid")
        for core in ("symmetric", "asymmetric")
    }
    assert made == set(classes.BALL_CLASSES)


def test_unknown_words_are_refused() -> None:
    with pytest.raises(ValueError, match="rubber"):
        classes.ball_class("rubber", "symmetric")
    with pytest.raises(ValueError, match="rubber"):
        classes.strength_rank("rubber")


def test_cover_strength_by_common_practice() -> None:
    # polyester, pearl, hybrid, solid from least to most grip; an asymmetric core adds to it
    for core in ("symmetric", "asymmetric"):
        ranks = [classes.strength_rank(f"{core} {cover}") for cover in ("pearl", "hybrid", "solid")]
        assert classes.strength_rank("polyester") < classes.strength_rank("urethane") < ranks[0] < ranks[1] < ranks[2]
    assert classes.strength_rank("asymmetric solid") == max(map(classes.strength_rank, classes.BALL_CLASSES))


def test_surface() -> None:
    ball = BallLimits()
    assert [classes.surface_class(grit, ball) for grit in (500, 1500, 2000, 4000, None)] == (
        ["dull", "dull", "satin", "polished", "unknown"]
    )
