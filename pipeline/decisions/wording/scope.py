"""What a report is about, in words: its notes on bowlers and nights, and a bowler asked for who is not known."""

from __future__ import annotations

from collections.abc import Sequence

ABOUT_EVERYBODY = "Statements here about all first deliveries are about everybody loaded."


def most_logged_note(known: int, reported: int, everyone: str) -> str:
    """That of ``known`` bowlers those with most first deliveries are reported; ``everyone`` asks for all."""
    return (
        f"{known:,} bowlers are logged; this report covers the {reported} with the most first "
        f"deliveries. Name others with --about ID, once for each, or everybody with --about {everyone}."
    )


def compared_note(some: int, known: int) -> str:
    """That of ``known`` bowlers ``some`` are compared with."""
    return (
        f"How balls age and what a class can do was learned from {some:,} of the {known:,} bowlers, those reported "
        "here and others picked at random; versatility is compared, and rules of thumb are tried, among those "
        "reported alone."
    )


def period_note(period: str) -> str:
    """That a report is about some nights; ``period`` names them."""
    return f"This report is about {period}; the models learn from every night loaded."


def not_known(asked: str, option: str, period: str | None, near: Sequence[str], all_named: bool) -> str:
    """That nobody asked for by ``option`` has a delivery in the period.

    ``near``: bowlers named instead; ``all_named``: whether these are all.
    """
    there = "is loaded" if period is None else f"is logged in {period}"
    rest = "." if all_named else " and others."
    return f"{option} {asked}: no first delivery by that bowler {there}; known are {', '.join(near)}{rest}"
