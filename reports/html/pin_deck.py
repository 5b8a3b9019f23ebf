"""Leaves drawn as the deck seen from the bowler: standing pins full, fallen pins as faint dots."""

from __future__ import annotations

from markupsafe import Markup

from pipeline.sport.leaves import PIN_ROWS

_STEP = 18.0
_ROW = 15.6
_MARGIN = 10.0


def pin_places() -> dict[int, tuple[float, float]]:
    """Pin number -> (x, y) in the drawing's units; rows are sqrt(3)/2 of the spacing apart, as on a lane."""
    places = {}
    for depth, row in enumerate(PIN_ROWS):
        left = _MARGIN + depth * _STEP / 2
        for order, pin in enumerate(row):
            places[pin] = (left + order * _STEP, _MARGIN + depth * _ROW)
    return places


def standing_pins(leave: str) -> set[int]:
    """Pins named in a leave such as ``3-10``; an empty set for a strike."""
    return {int(part) for part in leave.split("-") if part.isdigit() and 1 <= int(part) <= 10}


def draw(leave: str) -> Markup:
    """The deck as SVG; numbers are written on the standing pins. Hidden from readers: the text stands beside it."""
    standing = standing_pins(leave)
    marks = []
    for pin, (x, y) in sorted(pin_places().items()):
        if pin in standing:
            marks.append(
                f'<circle class="pin-up" cx="{x:g}" cy="{y:g}" r="7.4"/>'
                f'<text class="pin-no" x="{x:g}" y="{y + 3.1:g}">{pin}</text>'
            )
        else:
            marks.append(f'<circle class="pin-down" cx="{x:g}" cy="{y:g}" r="2"/>')
    width, height = 2 * _MARGIN + 3 * _STEP, 2 * _MARGIN + 3 * _ROW
    return Markup(
        f'<svg class="deck" viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}" '
        f'aria-hidden="true" focusable="false">{"".join(marks)}</svg>'
    )
