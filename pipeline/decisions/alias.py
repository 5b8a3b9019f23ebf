"""Names replaced everywhere, so that decisions about minors can be shared.

Bowlers, coaches, balls, blocks and whatever text mentions them get invented labels. The key stays with the caller.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd
from pydantic import BaseModel

from pipeline.decisions.records import BowlerCard, Decisions

_PEOPLE = ("bowler", "coach", "better", "other")
_BALL_IDS = ("ball", "ball_a", "ball_b", "from_ball", "to_ball", "ball_up", "ball_down", "over_ball", "instead_of_ball")
_SAID = ("sentence", "leader", "challenger", "trigger", "question", "why_neither", "name")
_WRITTEN = ("title", "notes")  # what people may have written, in which any word may be a name
_NOT_A_BOWLER = "everyone"
_NAMESAKE = "a bowler"


def alias(decisions: Decisions) -> tuple[Decisions, pd.DataFrame]:
    """Decisions without a real name, and the key.

    Ids, names, coaches, balls and blocks are replaced wherever they stand as a field; names of people and balls in
    every sentence; in the title and the notes also ids, and the words of people's names. Ids of digits only are left in
    texts, where they could be numbers: no sentence names an id.

    Returns:
        The aliased decisions and a frame with columns kind, real, alias. The frame is the only way back.
    """
    people, names = _people(decisions)
    balls, ball_names = _balls(decisions)
    blocks = _labels({record.block for record in decisions.changes}, "block")
    tables = {"person": people, "name": names, "ball": balls, "ball name": ball_names, "block": blocks}
    fields = dict.fromkeys(_PEOPLE, people) | dict.fromkeys(_BALL_IDS, balls)
    fields |= {"ball_name": ball_names, "block": blocks}
    said, written = (_text_replacer(tables, parts) for parts in (False, True))
    hidden = Decisions.model_validate(_Hider(fields, people, said, written).record(decisions))
    rows = [(kind, real, label) for kind, table in tables.items() for real, label in table.items()]
    return hidden, pd.DataFrame(rows, columns=["kind", "real", "alias"])


def _people(decisions: Decisions) -> tuple[dict[str, str], dict[str, str]]:
    """Labels of the ids of bowlers and coaches, and of bowlers' names: the same label for a bowler's id and name.

    A name that two bowlers share tells neither apart in a sentence.
    """
    cards = decisions.summary.bowlers
    found = {str(value) for key, value in _strings(decisions) if key in _PEOPLE} - {_NOT_A_BOWLER}
    bowlers = {card.bowler for card in cards}
    taken = found | {card.name for card in cards}
    ids = _labels(found & bowlers, "Bowler", taken) | _labels(found - bowlers, "Person", taken)
    shared = Counter(card.name for card in cards)
    return ids, {card.name: ids[card.bowler] if shared[card.name] == 1 else _NAMESAKE for card in cards}


def _balls(decisions: Decisions) -> tuple[dict[str, str], dict[str, str]]:
    ids: set[str] = set()
    owned: dict[str, str] = {}
    for record in _records(decisions):
        for field in _BALL_IDS:
            value = getattr(record, field, None)
            if isinstance(value, str):
                ids.add(value)
        name = getattr(record, "ball_name", None)
        if isinstance(name, str) and name:
            owned.setdefault(name, str(getattr(record, "ball", name)))
    labels = _labels(ids, "Ball", set(owned))
    return labels, {name: labels[ball] for name, ball in owned.items()}


def _labels(reals: set[str], word: str, taken: set[str] | None = None) -> dict[str, str]:
    """Numbered labels in an order that does not follow the real names and is the same at every run."""
    taken = reals | (taken or set())
    order = sorted(reals, key=lambda real: hashlib.sha256(real.encode()).hexdigest())
    while any(f"{word} {i + 1}" in taken for i in range(len(order))):
        word += " no."
    return {real: f"{word} {i + 1}" for i, real in enumerate(order)}


def _text_replacer(tables: dict[str, dict[str, str]], parts: bool) -> Callable[[str], str]:
    """A function that replaces every real name in a text, the longest first, in one pass.

    ``parts``: also ids, and the words of people's names, which in a sentence of ours may be words like any other.
    """
    used = [table for kind, table in tables.items() if parts or kind in ("name", "ball name")]
    words = {real: label for table in used for real, label in table.items() if not real.isdigit() and real}
    for name, label in tables["name"].items() if parts else ():
        for part in re.split(r"[\s\-'’.]+", name):
            if len(part) > 1 and not part.isdigit():
                words.setdefault(part, label)
    if not words:
        return lambda text: text
    pattern = re.compile("|".join(_as_whole(word) for word in sorted(words, key=len, reverse=True)))
    return lambda text: pattern.sub(lambda found: words[found.group()], text)


def _as_whole(word: str) -> str:
    """A pattern for the word that does not match inside a longer word."""
    before = r"(?<!\w)" if re.match(r"\w", word) else ""
    after = r"(?!\w)" if re.search(r"\w$", word) else ""
    return before + re.escape(word) + after


@dataclass(frozen=True)
class _Hider:
    """What stands in place of each real name: labels by field, by bowler, and in texts."""

    fields: dict[str, dict[str, str]]
    people: dict[str, str]
    said: Callable[[str], str]
    written: Callable[[str], str]

    def record(self, record: BaseModel) -> dict[str, Any]:
        """The values of a record without a real name."""
        hidden = {name: self.value(name, getattr(record, name)) for name in type(record).model_fields}
        return hidden | {"name": self.people[record.bowler]} if isinstance(record, BowlerCard) else hidden

    def value(self, field: str, value: Any) -> Any:
        """A value of a field without a real name; a dictionary holds none."""
        if isinstance(value, BaseModel):
            return self.record(value)
        if isinstance(value, list):
            return [self.value(field, item) for item in value]
        if not isinstance(value, str):
            return value
        if field in self.fields:
            return self.fields[field].get(value, value)
        if field in _WRITTEN:
            return self.written(value)
        return self.said(value) if field in _SAID else value


def _records(value: Any) -> Iterator[BaseModel]:
    if isinstance(value, BaseModel):
        yield value
        for name in type(value).model_fields:
            yield from _records(getattr(value, name))
    elif isinstance(value, list):
        for item in value:
            yield from _records(item)


def _strings(decisions: Decisions) -> Iterator[tuple[str, str]]:
    for record in _records(decisions):
        for name in type(record).model_fields:
            value = getattr(record, name)
            if isinstance(value, str):
                yield name, value
