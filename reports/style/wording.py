"""How values are written in reports: numbers, intervals and probabilities in words."""

from __future__ import annotations

import re

from pipeline.decisions.records import Estimate

THIN = "\u202f"
MINUS = "\u2212"
LEAST_GAIN = 0.05
"""Pins per game from which a gain is written as one; what rounds to less is called none."""


def signed(value: float, digits: int = 1) -> str:
    """A number with its sign, ``+6.1`` or ``−3.0``; zero has none."""
    text = f"{abs(value):.{digits}f}"
    if float(text) == 0:
        return text
    return f"{'+' if value > 0 else MINUS}{text}"


def plain(value: float, digits: int = 1) -> str:
    """A number with a true minus where negative."""
    text = f"{abs(value):.{digits}f}"
    return f"{MINUS}{text}" if value < 0 and float(text) != 0 else text


def percent(value: float, digits: int = 0) -> str:
    """A share of 1 as per cent."""
    return f"{100 * value:.{digits}f}{THIN}%"


def count(value: float) -> str:
    """A whole number with thousands set apart."""
    return f"{value:,.0f}"


def ordinal(rank: int) -> str:
    """A place in an order: ``1st``, ``2nd``, ``11th``."""
    ending = "th" if 10 <= rank % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    return f"{rank}{ending}"


def games(value: float) -> str:
    """A number of games."""
    return f"{value:.0f} game{'' if round(value) == 1 else 's'}"


def span(first: int, last: int | None) -> str:
    """``game 1``, ``games 3 to 4``, or ``game 5 on``."""
    if last is None:
        return f"game {first} on"
    return f"game {first}" if first == last else f"games {first} to {last}"


def shots(value: int) -> str:
    """A number of shots."""
    return f"{value:,} shot{'' if value == 1 else 's'}"


def interval(estimate: Estimate, digits: int = 1, times: float = 1.0) -> str:
    """The 80 % interval of a signed quantity, times ``times`` (100 for points of a share)."""
    return f"{signed(times * estimate.lo80, digits)} to {signed(times * estimate.hi80, digits)}"


def plain_interval(estimate: Estimate, digits: int = 1) -> str:
    """The 80 % interval of an unsigned quantity."""
    return f"{plain(estimate.lo80, digits)} to {plain(estimate.hi80, digits)}"


def percent_interval(estimate: Estimate) -> str:
    """The 80 % interval of a probability."""
    return f"{100 * estimate.lo80:.0f} to {percent(estimate.hi80)}"


def in_hundred(probability: float) -> str:
    """A probability as a count out of a hundred, never claiming certainty."""
    if probability >= 0.995:
        return "over 99 in 100"
    if probability <= 0.005:
        return "under 1 in 100"
    return f"{100 * probability:.0f} in 100"


def shorten(text: str, limit: int = 60) -> str:
    """Text cut at ``limit`` characters with an ellipsis, for places that cannot grow."""
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def sentence_case(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def tidy(text: str) -> str:
    """A sentence with true minus signs before numbers and per cent signs kept to their number."""
    return re.sub(r"(\d) %", rf"\1{THIN}%", re.sub(r"(?<![\w-])-(?=\d)", MINUS, text))


def has_long_word(text: str, limit: int = 18) -> bool:
    """True if a word may have to be broken to fit its place."""
    return len(text) > limit and any(len(word) > limit for word in text.split())
