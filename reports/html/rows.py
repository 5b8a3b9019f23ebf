"""Rows of tables as HTML: a season has tens of thousands of cells, for which a template's macro is too slow."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup, escape

from reports.html.components import Cell, Row
from reports.style import wording


def table_row(row: Row, columns: Sequence[str], stack: bool) -> Markup:
    """One row of a table, every value escaped; the first cell is its heading.

    Args:
        row: cells in the order of ``columns``.
        columns: headings of the table.
        stack: whether a narrow screen shows the row as lines of heading and value.
    """
    heading, *others = zip(row.cells, columns, strict=False)
    cells = [f'<th scope="row"{_look(heading[0])}{_value(heading[0])}>{_inside(heading[0], stack)}</th>']
    for cell, column in others:
        label = f' data-label="{escape(column)}"' if stack else ""
        cells.append(f"<td{_look(cell)}{label}{_value(cell)}>{_inside(cell, stack)}</td>")
    return Markup(f"<tr{row.tags.attributes()}>{''.join(cells)}</tr>")


def _look(cell: Cell) -> str:
    look = f"{cell.kind}{' wrap' if wording.has_long_word(cell.text) else ''}".strip()
    return f' class="{escape(look)}"' if look else ""


def _value(cell: Cell) -> str:
    return f' data-v="{escape(cell.value)}"' if cell.value is not None and cell.value != cell.text else ""


def _inside(cell: Cell, stack: bool) -> str:
    text = str(escape(cell.text))
    if cell.kind.startswith("verdict"):
        text = f'<b class="chip">{text}</b>'
    elif stack and cell.kind != "num":
        text = f'<span class="val"><bdi>{text}</bdi></span>'
    note = f" <small>{escape(wording.tidy(cell.note))}</small>" if cell.note else ""
    return f"{escape(cell.drawing)}{text}{note}"
