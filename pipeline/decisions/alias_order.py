"""The order of aliased rows: by label, because rows in the order of the real ids would tell who is who."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from pipeline.decisions.records import Decisions
from pipeline.everyone import EVERYONE

_BY_VALUE = {"sensitivity"}  # its order says which contrasts matter most
_WITHIN = {"skills": ("skill",), "comparisons": ("skill",), "maxims": ("maxim",)}
_BALLS_WITHIN = {"arsenal": (), "arsenal_tasks": (), "combos": ("pattern_class", "phase")}
_BALL = "ball"
PEOPLE = ("bowler", "better", "other")
"""Fields of decision records that hold a bowler's id."""


def shuffled(decisions: Decisions) -> Decisions:
    """Aliased decisions with people, and balls unless their place is a rank, in the order of their labels."""
    changed: dict[str, Any] = {
        name: _in_order(name, value)
        for name in Decisions.model_fields
        if name not in _BY_VALUE and isinstance(value := getattr(decisions, name), list)
    }
    cards = sorted(decisions.summary.bowlers, key=lambda card: _rank(card.bowler))
    files = sorted(decisions.summary.refused_files, key=lambda file: _rank(file.file))
    summary = decisions.summary.model_copy(update={"bowlers": cards, "refused_files": files})
    return decisions.model_copy(update={**changed, "summary": summary})


def _in_order(name: str, records: list[BaseModel]) -> list[BaseModel]:
    people = [field for field in PEOPLE if records and field in type(records[0]).model_fields]
    if not people:
        return records
    within = _as_met(records, _WITHIN.get(name, ()))
    inside = _as_met(records, _BALLS_WITHIN.get(name, ()))

    def key(record: BaseModel) -> tuple[object, ...]:
        ball = (inside(record), _rank(getattr(record, _BALL))) if name in _BALLS_WITHIN else ()
        return (within(record), *(_rank(getattr(record, field)) for field in people), *ball)

    return sorted(records, key=key)  # ties keep their order


def _as_met(records: list[BaseModel], fields: tuple[str, ...]) -> Callable[[BaseModel], int]:
    """The place at which the values of ``fields`` first stand among the records."""

    def values(record: BaseModel) -> tuple[object, ...]:
        return tuple(getattr(record, field) for field in fields)

    places: dict[tuple[object, ...], int] = {}
    for record in records:
        places.setdefault(values(record), len(places))
    return lambda record: places[values(record)]


def _rank(label: object) -> tuple[bool, int, str]:
    """Everyone first, then by the number at the end of the label."""
    text = str(label)
    number = text.rpartition(" ")[2]
    return text != EVERYONE, int(number) if number.isdecimal() else 0, text
