"""The pin's distance from the positive axis point, read from how a bowler wrote a layout down."""

from __future__ import annotations

import re

MOST_FLARE_IN = 3.375
"""Inches from pin to axis at which a ball flares most: half of the way to where it flares least (common practice)."""
_FURTHEST_IN = 6.75  # a quarter of the way round a ball (rulebook circumference 26.704 to 27.002 inches)
_NUMBER = r"(\d+(?:\.\d+)?)(?:[ -](\d)/(\d{1,2}))?"
_NAMED = re.compile(rf"\bpin(?:[ -]to[ -](?:pap|axis))?\D{{0,12}}?{_NUMBER}", re.IGNORECASE)
_BETWEEN = re.compile(rf"{_NUMBER}\s*°?\s*[x×*]\s*{_NUMBER}\s*\"?\s*[x×*]\s*{_NUMBER}", re.IGNORECASE)


def pin_to_axis(layout: str | None) -> float | None:
    """Inches from pin to axis, or None if the text does not say.

    Read are "pin 4 1/2 in from the axis" and its like, and three numbers with x between them: an angle, the distance
    and an angle, or three distances, of which the first is the pin's (both are common practice).
    """
    text = layout or ""
    match = _NAMED.search(text)
    if match:
        return _plausible(_inches(*match.groups()))
    match = _BETWEEN.search(text)
    if match is None:
        return None
    first, middle = _inches(*match.groups()[:3]), _inches(*match.groups()[3:6])
    return _plausible(first if first <= _FURTHEST_IN else middle)


def _inches(whole: str, over: str | None, under: str | None) -> float:
    return float(whole) + (int(over) / int(under) if over and under and int(under) else 0.0)


def _plausible(inches: float) -> float | None:
    return inches if 0 <= inches <= _FURTHEST_IN else None
