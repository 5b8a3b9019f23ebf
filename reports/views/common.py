"""What every report shares: names, the filter's choices, the scales, and the cells of tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from pipeline.decisions.records import PHASES, Decisions, Estimate
from reports.charts import figures
from reports.charts.queue import Pen
from reports.html import strips, wording
from reports.html.components import EVERYONE, Cell, Tags

T = TypeVar("T")
_PATTERN_ORDER = ("short", "medium", "long", "unposted")


@dataclass(frozen=True)
class Season:
    """Decisions with the look-ups that views need, and the pen that draws their charts."""

    decisions: Decisions
    pen: Pen

    @cached_property
    def names(self) -> dict[str, str]:
        """Bowler id -> name to show."""
        return {card.bowler: card.name for card in self.decisions.summary.bowlers}

    @cached_property
    def ball_names(self) -> dict[str, str]:
        """Ball id -> name to show."""
        sources: list[Iterable[tuple[str, str]]] = [
            ((item.ball, item.ball_name) for item in self.decisions.combos),
            ((item.ball, item.ball_name) for item in self.decisions.arsenal),
            ((item.ball, item.ball_name) for item in self.decisions.ladder),
        ]
        return {ball: name for source in sources for ball, name in source}

    @cached_property
    def bowlers(self) -> list[str]:
        """Bowler ids in the order of their names."""
        return sorted(self.names, key=lambda bowler: self.names[bowler].casefold())

    @cached_property
    def patterns(self) -> list[str]:
        """Pattern classes that occur, short to long."""
        found = {item.pattern_class for item in self.decisions.combos}
        found |= {item.pattern_class for item in self.decisions.playbook}
        found |= {item.pattern_class for item in self.decisions.curves}
        return sorted(found, key=pattern_order)

    @property
    def phases(self) -> tuple[str, ...]:
        """The phases of a block, in order."""
        return PHASES

    @cached_property
    def worth_scale(self) -> figures.WorthScale:
        """The scale of worth shared by every chart of every report."""
        return figures.shared_worth_scale([point for curve in self.decisions.curves for point in curve.points])

    @cached_property
    def worth_strip(self) -> strips.Scale:
        """The same scale for strips in tables."""
        return strips.Scale(self.worth_scale.low, self.worth_scale.high)

    def name(self, bowler: str) -> str:
        """The name to show for an id; ids the summary does not know are shown as they are."""
        return "Everyone" if bowler == EVERYONE else self.names.get(bowler, bowler)

    def ball(self, ball: str) -> str:
        """The name to show for a ball id."""
        return self.ball_names.get(ball, ball)


def pattern_order(pattern: str) -> tuple[int, str]:
    """Sorting key: short, medium, long, unposted, then anything else by name."""
    return (_PATTERN_ORDER.index(pattern) if pattern in _PATTERN_ORDER else len(_PATTERN_ORDER), pattern)


def tags(bowler: str = "", pattern: str = "", phase: str = "", shots: int | None = None) -> Tags:
    """Tags for the filter; what is about everyone is always shown."""
    return Tags("" if bowler == EVERYONE else bowler, pattern, phase, shots)


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


def day(date: dt.date) -> str:
    """A date that no narrow column breaks in two."""
    return date.isoformat().replace("-", "\N{NON-BREAKING HYPHEN}")


def number(value: float, shown: str) -> Cell:
    """A cell whose value is a number."""
    return Cell(shown, value, kind="num")


def shots_cell(shots: int) -> Cell:
    """A cell of a number of shots."""
    return Cell(wording.count(shots), shots, kind="num")


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
    return Cell(wording.signed(estimate.mean), estimate.mean, note=wording.interval(estimate), kind="num")


def bare_share(estimate: Estimate) -> Cell:
    """A probability with its 80 % interval, without a strip."""
    return Cell(wording.percent(estimate.mean), estimate.mean, note=wording.percent_interval(estimate), kind="num")


def chance(probability: float | None) -> Cell:
    """A probability as ticks and a count in a hundred; that nothing else was compared where it is None."""
    if probability is None:
        return text("only one")
    return Cell(wording.in_hundred(probability), probability, strips.ticks(probability), kind="chance")


def ends(estimate: Estimate) -> list[Cell]:
    """The ends of the 80 and 95 % intervals, as plain numbers for data tables."""
    values: Sequence[float] = (estimate.lo80, estimate.hi80, estimate.lo95, estimate.hi95)
    return [Cell(wording.plain(value, 3 if abs(value) < 1 else 1), value, kind="num") for value in values]


END_COLUMNS = ("80 % from", "80 % to", "95 % from", "95 % to")
