"""Which choice leads at each game, and how surely: a row for each choice, a column for each game.

A disc's area is the probability of being the best; the leader of a game is full, with its number.
"""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup, escape

_ROW, _COLUMN, _HEAD, _LEFT = 40.0, 46.0, 18.0, 12.0
_MOST = 18.0  # radius of certainty


def leaders(chances: Sequence[Sequence[float]]) -> list[int]:
    """The row with the highest chance in each column."""
    return [max(range(len(chances)), key=lambda row: chances[row][column]) for column in range(len(chances[0]))]


def draw(names: Sequence[str], games: Sequence[float], chances: Sequence[Sequence[float]]) -> Markup:
    """Rows of ``chances`` (choices, games), each 0 to 1, with its name above its discs."""
    width, height = _LEFT * 2 + _COLUMN * len(games), _HEAD + _ROW * len(names) + _HEAD
    top = leaders(chances)
    marks = []
    for row, name in enumerate(names):
        y = _HEAD + _ROW * (row + 0.5) + 6
        marks.append(f'<line class="lead-rule" x1="{_LEFT:g}" x2="{width - _LEFT:g}" y1="{y:g}" y2="{y:g}"/>')
        for column, chance in enumerate(chances[row]):
            x, leads = _LEFT + _COLUMN * (column + 0.5), top[column] == row
            tip = escape(f"{name}, game {games[column]:g}: best {100 * chance:.0f} in 100")
            kind = "lead-on" if leads else "lead-off"
            radius = max(_MOST * chance**0.5, 1.2)
            marks.append(f'<circle class="{kind}" cx="{x:g}" cy="{y:g}" r="{radius:.2f}" data-tip="{tip}"/>')
            if leads:
                marks.append(f'<text class="lead-no" x="{x:g}" y="{y + 4:g}">{100 * chance:.0f}</text>')
        marks.append(f'<text class="lead-name" x="{_LEFT:g}" y="{y - 17:g}">{escape(name)}</text>')
    for column, game in enumerate(games):
        x = _LEFT + _COLUMN * (column + 0.5)
        marks.append(f'<text class="lead-game" x="{x:g}" y="{height - 4:g}">{game:g}</text>')
    box = f'viewBox="0 0 {width:g} {height:g}"'
    return Markup(f'<svg class="leads" {box} aria-hidden="true" focusable="false">{"".join(marks)}</svg>')
