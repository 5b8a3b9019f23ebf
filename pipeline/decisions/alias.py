"""Ids and names replaced by invented labels, so that decisions about minors can be shared.

Bowlers, coaches, balls, blocks, patterns and files get labels. Labels depend on a random salt that only the season's
database holds: the same database gives the same labels each time, and a person with the roster but not the database
cannot reconstruct them. The key stays with the caller.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd
from pydantic import BaseModel

from pipeline.decisions.alias_order import PEOPLE, shuffled
from pipeline.decisions.records import Decisions
from pipeline.decisions.wording.names import Names, named, referred
from pipeline.everyone import EVERYONE

_PEOPLE = (*PEOPLE, "coach")
_BALL_IDS = ("ball", "ball_a", "ball_b", "from_ball", "to_ball", "ball_up", "ball_down", "over_ball", "instead_of_ball")
_WRITTEN = ("title", "problem")  # what people wrote, in which any word may be a name


def alias(decisions: Decisions, names: Names, salt: str) -> tuple[Decisions, pd.DataFrame]:
    """Decisions without a real name, in an order that does not follow the real ids, and the key.

    Ids are replaced in their fields, and references to names in sentences. Text that people wrote, such as the title
    and what a refused file holds, is searched for ids, names and the words of people's names.

    Args:
        decisions: what was decided, before names are put in (``wording/names``).
        names: the real ones.
        salt: random text kept with the season; another salt gives other labels.

    Returns:
        The aliased decisions and a frame with columns kind, real, alias. The frame is the only way back.
    """
    labels = _labels(decisions, names, salt.encode())
    hider = _Redactor(labels.by_field(), _written_replacer(labels, names))
    hidden = Decisions.model_validate(hider.record(decisions))
    hidden = shuffled(named(hidden, Names(labels.balls, labels.people, labels.patterns)))
    return hidden, pd.DataFrame(labels.key(names), columns=["kind", "real", "alias"])


@dataclass(frozen=True)
class _Labels:
    """Id -> label, by kind."""

    people: dict[str, str]
    balls: dict[str, str]
    patterns: dict[str, str]
    blocks: dict[str, str]
    files: dict[str, str]

    def by_field(self) -> dict[str, dict[str, str]]:
        """Field of a record -> labels of the ids it holds."""
        fields = dict.fromkeys(_PEOPLE, self.people) | dict.fromkeys(_BALL_IDS, self.balls)
        return fields | {"block": self.blocks, "file": self.files}

    def key(self, names: Names) -> list[tuple[str, str, str]]:
        """Kind, real and alias of every id and name."""
        tables = {
            "person": self.people,
            "name": _by_name(names.bowlers, self.people),
            "ball": self.balls,
            "ball name": _by_name(names.balls, self.balls),
            "block": self.blocks,
            "file": self.files,
            "pattern": _by_name(names.patterns, self.patterns),
        }
        return [(kind, real, label) for kind, table in tables.items() for real, label in table.items()]


def _by_name(names: dict[str, str], labels: dict[str, str]) -> dict[str, str]:
    """Real name -> label; of two who share a name, the first one's."""
    return {names[id_]: labels[id_] for id_ in reversed(labels) if id_ in names}


def _labels(decisions: Decisions, names: Names, salt: bytes) -> _Labels:
    ids = {field: set[str]() for field in (*_PEOPLE, *_BALL_IDS, "block")}
    for record in _records(decisions):
        for field in ids.keys() & type(record).model_fields.keys():
            value = getattr(record, field)
            if isinstance(value, str):
                ids[field].add(value)
    bowlers = {card.bowler for card in decisions.summary.bowlers}
    people = set().union(*(ids[field] for field in _PEOPLE)) - ({EVERYONE} - bowlers)
    taken = people | {names.bowlers.get(bowler, bowler) for bowler in bowlers}
    balls = set().union(*(ids[field] for field in _BALL_IDS))
    posted = {names.patterns.get(id_, id_): id_ for id_ in _patterns(decisions)}
    pattern_labels = _numbered(set(posted), "Pattern", salt)
    return _Labels(
        _numbered(people & bowlers, "Bowler", salt, taken) | _numbered(people - bowlers, "Person", salt, taken),
        _numbered(balls, "Ball", salt, {names.balls.get(ball, ball) for ball in balls}),
        {id_: pattern_labels[names.patterns.get(id_, id_)] for id_ in _patterns(decisions)},
        _numbered(ids["block"], "block", salt),
        _numbered({file.file for file in decisions.summary.refused_files}, "file", salt),
    )


def _patterns(decisions: Decisions) -> list[str]:
    """Ids of the patterns that a plan refers to."""
    return sorted({id_ for plan in decisions.plans if plan.pattern and (id_ := referred(plan.pattern))})


def _numbered(reals: set[str], word: str, salt: bytes, taken: set[str] | None = None) -> dict[str, str]:
    """Numbered labels in an order that only the salt and the real names give."""
    taken = reals | (taken or set())
    order = sorted(reals, key=lambda real: hmac.digest(salt, f"{word} {real}".encode(), hashlib.sha256))
    while any(f"{word} {i + 1}" in taken for i in range(len(order))):
        word += " no."
    return {real: f"{word} {i + 1}" for i, real in enumerate(order)}


def _written_replacer(labels: _Labels, names: Names) -> Callable[[str], str]:
    """A function that replaces ids, names and the words of people's names in a text, the longest first, in one pass.

    Ids of digits are left, since they could be numbers.
    """
    words = {real: label for _, real, label in labels.key(names) if real and not real.isdigit()}
    for bowler, label in labels.people.items():
        for part in re.split(r"[\s\-'’.]+", names.bowlers.get(bowler, "")):
            if len(part) > 1 and not part.isdigit():
                words.setdefault(part, label)
    if not words:
        return lambda text: text
    pattern = re.compile("|".join(_as_whole(word) for word in sorted(words, key=len, reverse=True)))
    return lambda text: pattern.sub(lambda match: words[match.group()], text)


def _as_whole(word: str) -> str:
    """A pattern for the word that does not match inside a longer word."""
    before = r"(?<!\w)" if re.match(r"\w", word) else ""
    after = r"(?!\w)" if re.search(r"\w$", word) else ""
    return before + re.escape(word) + after


@dataclass(frozen=True)
class _Redactor:
    """Replaces ids by field, and names in text that people wrote."""

    fields: dict[str, dict[str, str]]
    written: Callable[[str], str]

    def record(self, record: BaseModel) -> dict[str, Any]:
        """The values of a record without a real id."""
        return {name: self._value(name, getattr(record, name)) for name in type(record).model_fields}

    def _value(self, field: str, value: Any) -> Any:
        """A value of a field without a real id; a dictionary holds none."""
        if isinstance(value, BaseModel):
            return self.record(value)
        if isinstance(value, list):
            return [self._value(field, item) for item in value]
        if not isinstance(value, str):
            return value
        if field in self.fields:
            return self.fields[field].get(value, value)
        return self.written(value) if field in _WRITTEN else value


def _records(value: Any) -> Iterator[BaseModel]:
    if isinstance(value, BaseModel):
        yield value
        for name in type(value).model_fields:
            yield from _records(getattr(value, name))
    elif isinstance(value, list):
        for item in value:
            yield from _records(item)
