"""Decisions as they are before names are put in: every name stands as a reference to its id."""

from __future__ import annotations

import json

from pipeline.decisions.records import Decisions
from pipeline.decisions.wording.names import Names, ball_named, bowler_named, pattern_named


def referring(decisions: Decisions) -> tuple[Decisions, Names]:
    """Decisions that hold names turned back into references, and the names."""
    balls: dict[str, str] = {}
    for record in (*decisions.combos, *decisions.arsenal):
        balls.setdefault(record.ball, record.ball_name)
    bowlers = {card.bowler: card.name for card in decisions.summary.bowlers}
    posted = sorted({plan.pattern for plan in decisions.plans if plan.pattern})
    patterns = {f"pattern {n}": name for n, name in enumerate(posted)}
    text = decisions.model_dump_json()
    tables = ((bowlers, bowler_named), (balls, ball_named), (patterns, pattern_named))
    known = [(name, refer(id_)) for table, refer in tables for id_, name in table.items()]
    for name, reference in sorted(known, key=lambda item: -len(item[0])):
        text = text.replace(json.dumps(name, ensure_ascii=False)[1:-1], reference)
    return Decisions.model_validate_json(text), Names(balls, bowlers, patterns)
