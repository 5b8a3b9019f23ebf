"""Names of balls, bowlers and patterns: answers refer to ids, and one step at the end puts the names in.

While questions are answered a ball goes by a reference to its id, in ``ball_name`` and in every sentence. ``named``
puts real names or aliases in their place. No finished sentence has to be searched.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import quote, unquote

from pydantic import BaseModel

if TYPE_CHECKING:
    from pipeline.store.season import Season

R = TypeVar("R", bound=BaseModel)
_BEGIN, _END = "\ue000", "\ue001"  # of Unicode's private use area: no text of ours holds them
_REFERENCE = re.compile(f"{_BEGIN}(balls|bowlers|patterns):([^{_END}]*){_END}")


@dataclass(frozen=True)
class Names:
    """Id -> name; an id without a name is its own name."""

    balls: dict[str, str] = field(default_factory=dict)
    bowlers: dict[str, str] = field(default_factory=dict)
    patterns: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, season: Season) -> Names:
        """As ``balls.csv``, ``bowlers.csv`` and ``patterns.csv`` of the season have them."""
        ids = {"balls": "ball", "bowlers": "bowler", "patterns": "pattern"}
        listed = {table: season.table(table)[[id_, "name"]].astype(str) for table, id_ in ids.items()}
        return cls(**{table: dict(rows.itertuples(index=False)) for table, rows in listed.items()})


def ball_named(ball: object) -> str:
    """A reference to a ball's name."""
    return _reference("balls", ball)


def bowler_named(bowler: object) -> str:
    """A reference to a bowler's name."""
    return _reference("bowlers", bowler)


def pattern_named(pattern: object) -> str:
    """A reference to a pattern's name."""
    return _reference("patterns", pattern)


def _reference(table: str, id_: object) -> str:
    return f"{_BEGIN}{table}:{quote(str(id_), safe='')}{_END}"


def referred(text: str) -> str | None:
    """The id that a reference refers to; None for any other text."""
    match = _REFERENCE.fullmatch(text)
    return None if match is None else unquote(match[2])


def named(record: R, names: Names) -> R:
    """The record with every reference replaced by a name; one that begins a sentence gets a capital."""
    with_names: R = _named(record, names)
    return with_names


def _named(value: Any, names: Names) -> Any:
    if isinstance(value, str):
        return _text(value, names) if _BEGIN in value else value
    if isinstance(value, list):
        return [_named(item, names) for item in value]
    if isinstance(value, BaseModel):
        renamed = {name: _named(old, names) for name, old in value if isinstance(old, str | list | BaseModel)}
        changed = {name: new for name, new in renamed.items() if new is not getattr(value, name)}
        return value.model_copy(update=changed) if changed else value
    return value


def _text(text: str, names: Names) -> str:
    def name(match: re.Match[str]) -> str:
        table, id_ = match[1], unquote(match[2])
        known: dict[str, str] = getattr(names, table)
        return known.get(id_, id_)

    filled = _REFERENCE.sub(name, text)
    return filled if referred(text) is not None or not text.startswith(_BEGIN) else filled[:1].upper() + filled[1:]
