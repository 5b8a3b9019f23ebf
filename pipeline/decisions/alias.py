"""Names replaced everywhere, so that decisions about minors can be shared.

Bowlers, coaches, balls, blocks, patterns, files and whatever text mentions them get invented labels. Which label goes
to whom depends on a random salt that only the season's database holds: the same database gives the same labels each
time, and somebody who has the roster but not the database cannot work them out. The key stays with the caller.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd
from pydantic import BaseModel

from pipeline.decisions.alias_order import PEOPLE, shuffled
from pipeline.decisions.records import BowlerCard, Decisions, SeasonSummary
from pipeline.names import EVERYONE

_PEOPLE = (*PEOPLE, "coach")
_BALL_IDS = ("ball", "ball_a", "ball_b", "from_ball", "to_ball", "ball_up", "ball_down", "over_ball", "instead_of_ball")
_SAID = ("sentence", "settles", "leader", "challenger", "trigger", "question", "why_neither", "name")
_WRITTEN = ("title", "notes", "problem")  # what people may have written, in which any word may be a name
_NAMES = ("name", "ball name")
_NAMESAKE = "a bowler"


def alias(decisions: Decisions, salt: str) -> tuple[Decisions, pd.DataFrame]:
    """Decisions without a real name, in an order that does not follow the real ids, and the key.

    Ids, names, coaches, balls, blocks, patterns and files are replaced wherever they stand as a field; names of people
    and balls in every sentence; in the title and the notes also ids, and the words of people's names. Ids of digits
    only are left in texts, where they could be numbers: no sentence names an id. A ball's or person's name that is one
    word in small letters, such as "model", is replaced only in what is said of that ball or person.

    Args:
        decisions: what was decided.
        salt: random text kept with the season; another salt gives other labels.

    Returns:
        The aliased decisions and a frame with columns kind, real, alias. The frame is the only way back.
    """
    tables = _Labels(decisions, salt).tables()
    people, balls = tables["person"], tables["ball"]
    fields = dict.fromkeys(_PEOPLE, people) | dict.fromkeys(_BALL_IDS, balls)
    fields |= {"ball_name": tables["ball name"], "block": tables["block"], "file": tables["file"]}
    fields |= {"pattern": tables["pattern"]}
    everywhere = {kind: {n: label for n, label in tables[kind].items() if not _a_word(n)} for kind in _NAMES}
    said, written = _text_replacer(everywhere, parts=False), _text_replacer(tables, parts=True)
    hider = _Hider(fields, people, said, written, _words_of(decisions, tables))
    hidden = shuffled(Decisions.model_validate(hider.record(decisions)))
    rows = [(kind, real, label) for kind, table in tables.items() for real, label in table.items()]
    return hidden, pd.DataFrame(rows, columns=["kind", "real", "alias"])


def _a_word(name: str) -> bool:
    """Whether a name could be any word of a sentence of ours."""
    return name.isalpha() and name.islower()


def _words_of(decisions: Decisions, tables: dict[str, dict[str, str]]) -> dict[str, dict[str, str]]:
    """Id of a ball or person -> its name, where that is a word, and the label."""
    names = [(card.bowler, card.name, tables["name"]) for card in decisions.summary.bowlers]
    for record in _records(decisions):
        ball, name = getattr(record, "ball", None), getattr(record, "ball_name", None)
        if isinstance(ball, str) and isinstance(name, str):
            names.append((ball, name, tables["ball name"]))
    words: dict[str, dict[str, str]] = {}
    for id_, name, labels in names:
        if _a_word(name):
            words.setdefault(id_, {})[name] = labels[name]
    return words


class _Labels:
    """Which label each real name gets."""

    def __init__(self, decisions: Decisions, salt: str) -> None:
        self._decisions = decisions
        self._salt = salt.encode()

    def tables(self) -> dict[str, dict[str, str]]:
        """Real name -> label, by kind."""
        people, names = self._people()
        balls, ball_names = self._balls()
        blocks = {record.block for record in self._decisions.changes}
        blocks |= {record.block for record in self._decisions.ledger_blocks}
        files = self._numbered({file.file for file in self._decisions.summary.refused_files}, "file")
        tables = {"person": people, "name": names, "ball": balls, "ball name": ball_names}
        patterns = self._numbered({plan.pattern for plan in self._decisions.plans if plan.pattern}, "Pattern")
        return tables | {"block": self._numbered(blocks, "block"), "file": files, "pattern": patterns}

    def _people(self) -> tuple[dict[str, str], dict[str, str]]:
        """Labels of the ids of bowlers and coaches, and of bowlers' names: the same label for a bowler's id and name.

        A name that two bowlers share tells neither apart in a sentence.
        """
        decisions = self._decisions
        cards = decisions.summary.bowlers
        bowlers = {card.bowler for card in cards}
        found = {str(value) for key, value in _strings(decisions) if key in _PEOPLE} - ({EVERYONE} - bowlers)
        taken = found | {card.name for card in cards}
        ids = self._numbered(found & bowlers, "Bowler", taken) | self._numbered(found - bowlers, "Person", taken)
        shared = Counter(card.name for card in cards)
        return ids, {card.name: ids[card.bowler] if shared[card.name] == 1 else _NAMESAKE for card in cards}

    def _balls(self) -> tuple[dict[str, str], dict[str, str]]:
        ids: set[str] = set()
        owned: dict[str, str] = {}
        for record in _records(self._decisions):
            for field in _BALL_IDS:
                value = getattr(record, field, None)
                if isinstance(value, str):
                    ids.add(value)
            name = getattr(record, "ball_name", None)
            if isinstance(name, str) and name:
                owned.setdefault(name, str(getattr(record, "ball", name)))
        labels = self._numbered(ids, "Ball", set(owned))
        return labels, {name: labels[ball] for name, ball in owned.items()}

    def _numbered(self, reals: set[str], word: str, taken: set[str] | None = None) -> dict[str, str]:
        """Numbered labels in an order that only the salt and the real names give."""
        taken = reals | (taken or set())
        order = sorted(reals, key=lambda real: hmac.digest(self._salt, f"{word} {real}".encode(), hashlib.sha256))
        while any(f"{word} {i + 1}" in taken for i in range(len(order))):
            word += " no."
        return {real: f"{word} {i + 1}" for i, real in enumerate(order)}


def _text_replacer(tables: dict[str, dict[str, str]], parts: bool) -> Callable[[str], str]:
    """A function that replaces every real name in a text, the longest first, in one pass.

    ``parts``: also ids, and the words of people's names, which in a sentence of ours may be words like any other.
    """
    used = [table for kind, table in tables.items() if parts or kind in _NAMES]
    words = {real: label for table in used for real, label in table.items() if not real.isdigit() and real}
    for name, label in tables["name"].items() if parts else ():
        for part in re.split(r"[\s\-'’.]+", name):
            if len(part) > 1 and not part.isdigit():
                words.setdefault(part, label)
    return _replacer(words)


def _replacer(words: dict[str, str]) -> Callable[[str], str]:
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
    words: dict[str, dict[str, str]]

    def record(self, record: BaseModel) -> dict[str, Any]:
        """The values of a record without a real name."""
        if self.words and not isinstance(record, Decisions | SeasonSummary):
            return self._with_words_of(record).record(record)
        hidden = {name: self.value(name, getattr(record, name)) for name in type(record).model_fields}
        return hidden | {"name": self.people[record.bowler]} if isinstance(record, BowlerCard) else hidden

    def _with_words_of(self, record: BaseModel) -> _Hider:
        """As this, but what is said hides also the names that are words, of whom and what the record is about."""
        ids = {getattr(part, field, None) for part in _records(record) for field in (*_PEOPLE, *_BALL_IDS)}
        also = _replacer({name: label for id_ in ids for name, label in self.words.get(str(id_), {}).items()})
        return replace(self, said=lambda text: also(self.said(text)), words={})

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
