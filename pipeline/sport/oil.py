"""Accepted length, volume and ratio of a posted oil pattern, by logs and plans alike (common practice, with room)."""

from __future__ import annotations

OIL = ("length_ft", "volume_ml", "ratio")
"""Columns of a pattern's numbers."""
LENGTH_FT = (15.0, 60.0)
VOLUME_ML = (1.0, 60.0)
RATIO = (0.5, 50.0)
"""Inside to outside."""
