"""What a posted oil pattern may measure; a log and a plan take the same range (common practice, widely drawn)."""

from __future__ import annotations

LENGTH_FT = (15.0, 60.0)
VOLUME_ML = (1.0, 60.0)
RATIO = (0.5, 50.0)
"""Inside to outside."""
