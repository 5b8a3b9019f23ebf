"""Sentences of the sample season's decisions are short and speak plain English."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

MOST_WORDS = 25
"""Words of a sentence; numbers in brackets after it, which are its evidence, do not count."""
OUR_OWN = re.compile(
    r"\b(nought|likeliest|told of|said of|be it that|as a rule|worked out|in all|put to numbers"
    r"|(?:pins|shots|strikes|boards|games) an? (?:game|season|night|bowler|shot))\b"
)
"""Habits that readers stumbled over; a standard term stands for each."""
_WORD = re.compile(r"[^\s]*[A-Za-z0-9][^\s]*")


def sentences(value: object) -> Iterator[str]:
    """Every sentence that ends in a full stop, whatever holds it."""
    if isinstance(value, dict):
        for inner in value.values():
            yield from sentences(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from sentences(inner)
    elif isinstance(value, str) and value.endswith("."):
        yield from re.split(r"(?<=[.])\s+(?=[A-Z0-9])", value)


def words(sentence: str) -> int:
    """Words outside brackets."""
    return len(_WORD.findall(re.sub(r"\([^()]*\)", "", sentence)))


@pytest.fixture(scope="module")
def said(decided_sample: Path) -> set[str]:
    return set(sentences(json.loads((decided_sample / "decisions.json").read_text(encoding="utf-8"))))


def test_sentences_are_short(said: set[str]) -> None:
    assert len(said) > 500
    assert not sorted(text for text in said if words(text) > MOST_WORDS)


def test_sentences_use_standard_terms(said: set[str]) -> None:
    assert not sorted(text for text in said if OUR_OWN.search(text))


def test_a_sentence_begins_with_a_capital_and_holds_no_gap(said: set[str]) -> None:
    assert not [text for text in said if not re.match(r"[A-Z0-9+\"']", text) or "  " in text or " ." in text]


def test_words_in_brackets_are_not_counted() -> None:
    assert words("Play it here (80 % interval +1 to +9, 40 shots).") == 3
    assert list(sentences({"a": ["One two. Three.", "no stop"]})) == ["One two.", "Three."]
    assert OUR_OWN.search("worth 3 pins a game") and not OUR_OWN.search("worth 3 pins per game")
