"""A lane from above, to scale along each axis: the foul line on the left, the pins on the right, own side below.

Length is true; width is drawn ``STRETCH`` times as large, or a board would be thinner than a line. Distances: foul line
to head pin 60 ft, 39 boards, pins 12 in apart (common to the rules of the sport); the arrows about 15 ft out (common
practice). What was not logged is dashed.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup, escape

BOARDS = 39
HEAD_PIN_FT = 60.0
ARROWS_FT = 15.0
_FOOT = 10.0
_BOARD = 3.6
_INCH_OF_WIDTH = BOARDS * _BOARD / 41.5
STRETCH = _INCH_OF_WIDTH / (_FOOT / 12)
_GAP = 26.0
WIDTH = (HEAD_PIN_FT + 3.4) * _FOOT
_LANE = BOARDS * _BOARD
_ROW_OF_ARROWS = 30.0
_STRIP = _GAP + _ROW_OF_ARROWS + 24.0
_TURN_FT = 42.0  # feet; the dashed part bends here if no breakpoint was logged
_DECK = (((0.0, 0.0),), ((-6.0, 0.866), (6.0, 0.866)), ((-12.0, 1.732), (0.0, 1.732), (12.0, 1.732)),
         ((-18.0, 2.598), (-6.0, 2.598), (6.0, 2.598), (18.0, 2.598)))  # fmt: skip


@dataclass(frozen=True)
class Path:
    """One ball's way: boards from the own side, feet from the foul line; ``strong`` for the advised one."""

    laydown: float | None
    arrow: float
    breakpoint: float | None
    breakpoint_ft: float | None
    entry: float | None
    strong: bool
    tip: str


@dataclass(frozen=True)
class Lane:
    """One drawing of the lane with its heading."""

    title: str
    paths: tuple[Path, ...]


def draw(lanes: list[Lane], left_handed: bool) -> Markup:
    """Lanes one above the other; a left-hander's own side is above, as seen walking toward the pins.

    If only boards at the arrows were logged, each lane is the row of arrows alone, as seen from the foul line.
    """
    if arrows_alone(lanes):
        return _rows_of_arrows(lanes, left_handed)
    height = len(lanes) * (_LANE + _GAP)
    return _framed(height, [_one(lane, at * (_LANE + _GAP), left_handed) for at, lane in enumerate(lanes)])


def arrows_alone(lanes: list[Lane]) -> bool:
    """Whether nothing but the arrow board was logged of any path."""
    return all(
        path.laydown is None and path.breakpoint is None and path.entry is None for lane in lanes for path in lane.paths
    )


def board_x(board: float, left_handed: bool) -> float:
    """Distance of a board's middle from the left edge of a row of arrows; board 1 is at the bowler's own edge."""
    along = (board - 0.5) / BOARDS * (WIDTH - 2)
    return along if left_handed else WIDTH - 2 - along


def _rows_of_arrows(lanes: list[Lane], left_handed: bool) -> Markup:
    return _framed(
        len(lanes) * _STRIP, [_row_of_arrows(lane, at * _STRIP, left_handed) for at, lane in enumerate(lanes)]
    )


def _framed(height: float, parts: list[str]) -> Markup:
    box = f'viewBox="0 0 {WIDTH:g} {height:g}"'
    return Markup(f'<svg class="lane" {box} aria-hidden="true" focusable="false">{"".join(parts)}</svg>')


def _named(lane: Lane, top: float, marks: list[str]) -> str:
    """The marks of one lane under its title, in the strip that begins at ``top``."""
    title = f'<text class="lane-name" x="0" y="-5">{escape(lane.title)}</text>'
    return f'<g transform="translate(1,{top + _GAP - 4:g})">{title}{"".join(marks)}</g>'


def _row_of_arrows(lane: Lane, top: float, left_handed: bool) -> str:
    marks = [
        f'<rect class="lane-wood" x="0" y="0" width="{WIDTH - 2:g}" height="{_ROW_OF_ARROWS:g}"/>',
    ]
    for board in range(5, BOARDS, 5):
        x, number_at = board_x(board, left_handed), _ROW_OF_ARROWS + 16
        marks.append(f'<path class="lane-arrow" d="M{x - 4:.1f},14l4,-9l4,9z"/>')
        marks.append(f'<text class="lane-board" x="{x:.1f}" y="{number_at:g}">{board}</text>')
    for path in sorted(lane.paths, key=lambda each: each.strong):
        kind = "lane-best" if path.strong else "lane-thrown"
        x = board_x(path.arrow, left_handed)
        marks.append(f'<circle class="{kind}-dot" cx="{x:.1f}" cy="22" r="5" data-tip="{escape(path.tip)}"/>')
    return _named(lane, top, marks)


def board_y(board: float, left_handed: bool) -> float:
    """Distance of a board's middle from the top of the drawing; board 1 is at the bowler's own edge."""
    down = (board - 0.5) * _BOARD
    return down if left_handed else _LANE - down


def _one(lane: Lane, top: float, left_handed: bool) -> str:
    marks = [
        f'<rect class="lane-wood" x="0" y="0" width="{(HEAD_PIN_FT + 3) * _FOOT:g}" height="{_LANE:g}"/>',
        f'<line class="lane-foul" x1="0" x2="0" y1="0" y2="{_LANE:g}"/>',
    ]
    for board in range(5, BOARDS, 5):
        y = board_y(board, left_handed)
        ahead = ARROWS_FT * _FOOT - 4
        marks.append(f'<path class="lane-arrow" d="M{ahead:g},{y - 3:.1f}l8,3l-8,3z"/>')
    middle = _LANE / 2
    for row in _DECK:
        for across, back in row:
            x, y = (HEAD_PIN_FT + back) * _FOOT, middle + across * _INCH_OF_WIDTH
            marks.append(f'<circle class="lane-pin" cx="{x:.1f}" cy="{y:.1f}" r="3"/>')
    faint = [path for path in lane.paths if not path.strong]
    marks += [_way(path, left_handed) for path in (*faint, *(p for p in lane.paths if p.strong))]
    return _named(lane, top, marks)


def _way(path: Path, left_handed: bool) -> str:
    kind = "lane-best" if path.strong else "lane-thrown"
    arrow = (ARROWS_FT * _FOOT, board_y(path.arrow, left_handed))
    start = (0.0, board_y(path.laydown, left_handed)) if path.laydown is not None else None
    parts = []
    dots = [arrow]
    if start is not None:
        dots.append(start)
        parts.append(f'<path class="{kind}" d="M{_at(start)}L{_at(arrow)}"/>')
    parts.append(_beyond(path, start, arrow, kind, left_handed))
    if path.breakpoint is not None and path.breakpoint_ft is not None:
        dots.append((path.breakpoint_ft * _FOOT, board_y(path.breakpoint, left_handed)))
    if path.entry is not None:
        dots.append((HEAD_PIN_FT * _FOOT, board_y(path.entry, left_handed)))
    tip = f' data-tip="{escape(path.tip)}"'
    parts += [f'<circle class="{kind}-dot" cx="{x:.1f}" cy="{y:.1f}" r="4"{tip}/>' for x, y in dots]
    return "".join(parts)


def _beyond(
    path: Path, start: tuple[float, float] | None, arrow: tuple[float, float], kind: str, left_handed: bool
) -> str:
    """From the arrows on: through the breakpoint if it was logged, else dashed along the launch and in to the entry."""
    if path.entry is None:
        return ""
    end = (HEAD_PIN_FT * _FOOT, board_y(path.entry, left_handed))
    if path.breakpoint is not None and path.breakpoint_ft is not None:
        turn = (path.breakpoint_ft * _FOOT, board_y(path.breakpoint, left_handed))
        return f'<path class="{kind}" d="M{_at(arrow)}L{_at(turn)}L{_at(end)}"/>'
    slope = (arrow[1] - start[1]) / arrow[0] if start is not None else 0.0
    y = min(max(arrow[1] + slope * (_TURN_FT - ARROWS_FT) * _FOOT, 2.0), _LANE - 2)
    return f'<path class="{kind} unlogged" d="M{_at(arrow)}Q{_TURN_FT * _FOOT:g},{y:.1f} {_at(end)}"/>'


def _at(point: tuple[float, float]) -> str:
    return f"{point[0]:.1f},{point[1]:.1f}"
