"""The shape of each pattern class in the chart of a season."""

from __future__ import annotations

PATTERN_LOOKS = ("short", "medium", "long", "unposted")
"""Pattern classes in the order of the shapes: circle, square, triangle, diamond."""
