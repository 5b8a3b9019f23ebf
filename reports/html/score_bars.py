"""How likely each ten of scores is in one game: a bar for each, those from 200 up in full colour."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup, escape

from reports.style import wording

_WIDTH, _TALL, _FOOT, _PAD = 300.0, 110.0, 30.0, 6.0
Ten = tuple[int, int, float]
"""First and last score of a ten, and its probability in one game."""


def draw(tens: Sequence[Ten], span: tuple[float, float], top: float) -> Markup:
    """The tens within ``span`` (first and last score), on a scale of probability that ends at ``top``."""
    unit = (_WIDTH - 2 * _PAD) / max(span[1] - span[0], 10)
    parts = []
    for low, high, chance in tens:
        if not span[0] <= low < span[1]:
            continue
        x, tall = _PAD + (low - span[0]) * unit, _TALL * min(chance / top, 1.0) if top else 0.0
        tip = escape(f"{low} to {high}: {wording.percent(chance, 1)}")
        kind = "score-good" if low >= 200 else "score-low"
        box = f'x="{x:.1f}" y="{_TALL - tall:.1f}" width="{10 * unit - 1:.1f}" height="{tall:.1f}"'
        parts.append(f'<rect class="{kind}" {box} data-tip="{tip}"/>')
        if low % 20 == 0:
            parts.append(f'<text class="lead-game" x="{x:.1f}" y="{_TALL + 13:g}">{low}</text>')
    parts.append(f'<line class="lead-rule" x1="0" x2="{_WIDTH:g}" y1="{_TALL:g}" y2="{_TALL:g}"/>')
    parts.append(f'<text class="lead-game" x="{_WIDTH / 2:g}" y="{_TALL + _FOOT - 3:g}">score of one game</text>')
    box = f'viewBox="0 0 {_WIDTH:g} {_TALL + _FOOT:g}"'
    return Markup(f'<svg class="score-bars" {box} aria-hidden="true" focusable="false">{"".join(parts)}</svg>')
