"""Messages if bowlers asked for are unknown or too many."""

from __future__ import annotations

from collections.abc import Sequence


def not_known(asked: str, option: str, period: str | None, near: Sequence[str], all_named: bool) -> str:
    """The message that nobody called ``asked`` has a delivery in the period.

    ``near``: bowlers named instead; ``all_named``: whether these are all.
    """
    there = "is loaded" if period is None else f"is logged in {period}"
    rest = "." if all_named else " and others."
    return f"{option} {asked}: no first delivery by that bowler {there}; known are {', '.join(near)}{rest}"


def too_many(count: int, option: str, most: int, unasked: int) -> str:
    """That ``option`` asked for more bowlers than the ``most`` of one report, and what takes them; without it a report
    is about ``unasked``."""
    return (
        f"{option}: that is {count:,} bowlers, and one report can be about {most:,} at most. Name the bowlers you want "
        f"with {option} ID, repeated for each. Without {option}, a report is about the {unasked} with the most first "
        "deliveries. The ledger alone takes any number: decide --ledger FILE."
    )
