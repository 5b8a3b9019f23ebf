"""A bowler asked for who is not known, in words."""

from __future__ import annotations

from collections.abc import Sequence


def not_known(asked: str, option: str, period: str | None, near: Sequence[str], all_named: bool) -> str:
    """That nobody asked for by ``option`` has a delivery in the period.

    ``near``: bowlers named instead; ``all_named``: whether these are all.
    """
    there = "is loaded" if period is None else f"is logged in {period}"
    rest = "." if all_named else " and others."
    return f"{option} {asked}: no first delivery by that bowler {there}; known are {', '.join(near)}{rest}"
