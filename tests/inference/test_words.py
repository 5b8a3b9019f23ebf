"""Inference knows no bowling: no name or text of it speaks of the sport."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOM = Path(__file__).parents[2] / "pipeline" / "inference"
WORDS = "bowler|bowlers|bowled|ball|balls|lane|lanes|pin|pins|strike|strikes|spare|spares|shot|shots|oil|arrow|arrows"
SPORT = re.compile(rf"(?<![a-z])({WORDS})(?![a-z])", re.IGNORECASE)
FILES = sorted(path for path in ROOM.rglob("*.py") if path.name != "sample_size.py")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(ROOM).as_posix())
def test_no_word_of_the_sport(path: Path) -> None:
    assert not SPORT.findall(path.read_text(encoding="utf-8"))


def test_the_pattern_knows_the_words() -> None:
    assert SPORT.findall("fit the bowler_rows of two Balls, arrowhead, spines") == ["bowler", "Balls"]
