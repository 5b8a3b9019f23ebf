"""Which ball leads at each game, and how surely: a row per ball, a column per game.

A disc's area is the probability of being the best, with its number; the ball advised for a game is full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

_ROW, _COLUMN, _HEAD, _LEFT = 50.0, 46.0, 18.0, 12.0
_MOST = 18.0  # radius of certainty
_HOLDS = 9.0  # radius of a disc that holds its number


@dataclass(frozen=True)
class LeadMark:
    """One ball in one game: its chance of being best, 0 to 1, whether it is advised, and how it is played.

    The chance is None if no other ball is compared.
    """

    chance: float | None
    advised: bool
    how: str


@dataclass(frozen=True)
class LeadRow:
    """A ball's marks, one per game; None in a game in which it is not compared."""

    name: str
    marks: Sequence[LeadMark | None]


def draw(rows: Sequence[LeadRow], games: Sequence[int], columns: int) -> Markup:
    """The rows, each with its name above its discs; ``columns`` games wide, so that pictures side by side agree."""
    width, height = _LEFT * 2 + _COLUMN * max(columns, len(games)), _HEAD + _ROW * len(rows) + _HEAD
    parts = [
        part for place, row in enumerate(rows) for part in _row(row, games, _HEAD + _ROW * (place + 0.5) + 6, width)
    ]
    for column, game in enumerate(games):
        label = f"game {game:g}" if not column else f"{game:g}"
        parts.append(f'<text class="lead-game" x="{_middle(column):g}" y="{height - 4:g}">{label}</text>')
    box = f'viewBox="0 0 {width:g} {height:g}"'
    return Markup(f'<svg class="leads" {box} aria-hidden="true" focusable="false">{"".join(parts)}</svg>')


def _middle(column: int) -> float:
    return _LEFT + _COLUMN * (column + 0.5)


def _row(row: LeadRow, games: Sequence[int], y: float, width: float) -> list[str]:
    parts = [f'<line class="lead-rule" x1="{_LEFT:g}" x2="{width - _LEFT:g}" y1="{y:g}" y2="{y:g}"/>']
    for column, mark in enumerate(row.marks):
        if mark is None:
            continue
        x, number = _middle(column), "" if mark.chance is None else f"{100 * mark.chance:.0f}"
        sure = f"best {number} in 100" if number else "nothing else compared"
        tip = escape(f"{row.name}, {mark.how}, game {games[column]}: {sure}")
        kind = "lead-on" if mark.advised else "lead-off"
        radius = max(_MOST * (mark.chance or 0.0) ** 0.5, _HOLDS if mark.advised else 1.2)
        parts.append(f'<circle class="{kind}" cx="{x:g}" cy="{y:g}" r="{radius:.2f}" data-tip="{tip}"/>')
        if number and radius >= _HOLDS:
            face = "lead-no" if mark.advised else "lead-no pale"
            parts.append(f'<text class="{face}" x="{x:g}" y="{y + 4:g}">{number}</text>')
    parts.append(f'<text class="lead-name" x="{_LEFT:g}" y="{y - 21:g}">{escape(row.name)}</text>')
    return parts
