"""The cells and tags that tables of every report are made of."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar
from urllib.parse import quote

from pipeline.decisions.records import Estimate
from pipeline.everyone import EVERYONE
from reports.charts import figures
from reports.html import strips
from reports.html.components import Cell, Tags
from reports.style import wording

T = TypeVar("T")


def tags(bowler: str = "", pattern: str = "", phase: str = "", shots: int | None = None) -> Tags:
    """Tags for the filter; what is about everyone is always shown."""
    return Tags("" if bowler == EVERYONE else bowler, pattern, phase, shots)


def place(*parts: str) -> str:
    """The id of one piece of a page, for links to it."""
    return "-".join(re.sub(r"[^\w.]+", "_", part) for part in parts)


def only(bowler: str) -> str:
    """The part of an address that chooses one bowler."""
    return f"bowler={quote(bowler, safe='')}"


def span(values: Iterable[float]) -> figures.Span:
    """The ends of an axis that holds all values."""
    known = list(values)
    low, high = min(known, default=0.0), max(known, default=1.0)
    return (low, high) if low < high else (low - 0.5, high + 0.5)


def grouped(items: Iterable[T], key: Callable[[T], str]) -> dict[str, list[T]]:
    """Items by key, keys in order of first appearance."""
    groups: dict[str, list[T]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return groups


def text(value: str) -> Cell:
    """A cell of plain words."""
    return Cell(value, value)


def who(name: str) -> Cell:
    """The cell of a bowler's name; it gives way once one bowler is chosen."""
    return Cell(name, name, kind="who")


def day(date: dt.date) -> str:
    """A date that no narrow column breaks in two."""
    return date.isoformat().replace("-", "\N{NON-BREAKING HYPHEN}")


def number(value: float, shown: str, note: str = "") -> Cell:
    """A cell whose value is a number, with what belongs beside it, such as its interval."""
    return Cell(shown, value, note=note, kind="num")


def shots_cell(shots: int) -> Cell:
    """A cell of a number of shots."""
    return number(shots, wording.count(shots))


def pins(estimate: Estimate, scale: strips.Scale, shots: int | None = None) -> Cell:
    """Pins per game with its strip and 80 % interval."""
    drawing = strips.strip(estimate, scale, strips.tip(estimate, "pins per game", shots))
    return Cell(wording.signed(estimate.mean), estimate.mean, drawing, note=wording.interval(estimate), kind="est")


def signed(estimate: Estimate, scale: strips.Scale, unit: str, shots: int | None = None, digits: int = 1) -> Cell:
    """A signed quantity in another unit with its strip and 80 % interval."""
    drawing = strips.strip(estimate, scale, strips.tip(estimate, unit, shots, digits))
    note = wording.interval(estimate, digits)
    return Cell(wording.signed(estimate.mean, digits), estimate.mean, drawing, note=note, kind="est")


def bare_pins(estimate: Estimate) -> Cell:
    """Pins per game without a strip, for long tables."""
    return number(estimate.mean, wording.signed(estimate.mean), wording.interval(estimate))


def bare_share(estimate: Estimate) -> Cell:
    """A probability with its 80 % interval, without a strip."""
    return number(estimate.mean, wording.percent(estimate.mean), wording.percent_interval(estimate))


def chance(probability: float | None) -> Cell:
    """A probability as ticks and a count in a hundred; that nothing else was compared where it is None."""
    if probability is None:
        return text("only one")
    return Cell(wording.in_hundred(probability), probability, strips.ticks(probability), kind="chance")


def ends(estimate: Estimate) -> list[Cell]:
    """The ends of the 80 and 95 % intervals, as plain numbers for data tables."""
    values: Sequence[float] = (estimate.lo80, estimate.hi80, estimate.lo95, estimate.hi95)
    return [number(value, wording.plain(value, 3 if abs(value) < 1 else 1)) for value in values]


END_COLUMNS = ("80 % from", "80 % to", "95 % from", "95 % to")
