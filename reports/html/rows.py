"""Rows of tables as HTML without a template: a season has tens of thousands of cells, and a macro would be slow."""

from __future__ import annotations

from functools import lru_cache

from markupsafe import Markup, escape

from reports.html.components import Cell, Row, Table
from reports.style import wording


def table_row(row: Row, table: Table, stack: bool) -> Markup:
    """One row of a table, every value escaped; the first cell is its heading.

    Args:
        row: cells in the order of the table's columns.
        table: the table the row stands in.
        stack: whether a narrow screen shows the row as short pairs of heading and value.
    """
    heading, *others = zip(row.cells, table.columns, strict=False)
    cells = [f'<th scope="row"{_look(heading[0], False)}{_value(heading[0])}>{_inside(heading[0], stack)}</th>']
    for cell, column in others:
        label = _label(column) if stack else ""
        look = _look(cell, column in table.extra)
        cells.append(f"<td{look}{label}{_value(cell)}>{_inside(cell, stack)}</td>")
    group = f' data-group="{escape(row.group)}"' if row.group else ""
    return Markup(f"<tr{row.tags.attributes()}{group}>{''.join(cells)}</tr>")


def short_label(column: str) -> str:
    """A heading without its unit and interval, for a phone: the value beside it carries both."""
    return column.split(",")[0].split(" (")[0]


@lru_cache
def _label(column: str) -> str:
    """The attribute that names a column; like the classes of a cell, the same in thousands of rows."""
    return f' data-label="{escape(short_label(column))}"'


def _look(cell: Cell, extra: bool) -> str:
    return _classes(cell.kind, wording.has_long_word(cell.text), extra)


@lru_cache
def _classes(kind: str, wrap: bool, extra: bool) -> str:
    look = f"{kind}{' wrap' if wrap else ''}{' extra' if extra else ''}".strip()
    return f' class="{escape(look)}"' if look else ""


def _value(cell: Cell) -> str:
    value = cell.value
    if value is None or value == cell.text:
        return ""
    return f' data-v="{escape(value) if isinstance(value, str) else value}"'


def _inside(cell: Cell, stack: bool) -> str:
    text = str(escape(cell.text))
    if cell.kind.startswith("verdict"):
        text = f'<b class="chip">{text}</b>'
    elif stack and text and cell.kind != "num":
        text = f'<span class="val"><bdi>{text}</bdi></span>'
    note = f" <small>{escape(wording.tidy(cell.note))}</small>" if cell.note else ""
    return f"{cell.drawing.__html__()}{text}{note}{_on_request(cell.full)}"


def _on_request(sentence: str) -> str:
    if not sentence:
        return ""
    return f'<details class="full"><summary>In words</summary><p>{escape(wording.tidy(sentence))}</p></details>'
