"""Progress of a piece of work."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of the work done, 0 to 1."""


def part(progress: Progress | None, start: float, end: float) -> Progress:
    """Progress of one stage as the stretch from ``start`` to ``end`` (shares, 0 to 1) of a longer piece of work."""
    if progress is None:
        return lambda _text, _share: None
    return lambda text, share: progress(text, start + (end - start) * share)
