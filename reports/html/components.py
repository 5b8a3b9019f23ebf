"""The few shapes every report is made of: a table with real values behind its text, and a chart with its table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from markupsafe import Markup, escape

from pipeline.decisions.records import Estimate
from reports.charts.queue import Drawing

NOTHING = Markup("")


@dataclass(frozen=True)
class Tags:
    """The filter tags of a piece of the report; the filter ignores an empty tag."""

    bowler: str = ""
    pattern: str = ""
    phase: str = ""
    shots: int | None = None
    other: str = ""
    """A second bowler, where a row is about two."""
    general: bool = False
    """True for what is about everyone and gives way once somebody is chosen."""

    def attributes(self) -> Markup:
        """The tags as HTML data attributes, escaped."""
        pairs = [("bowler", self.bowler), ("pattern", self.pattern), ("phase", self.phase)]
        pairs.append(("other", self.other))
        parts = [f' data-{name}="{escape(value)}"' for name, value in pairs if value]
        if self.general:
            parts.append(' data-when=""')
        if self.shots is not None:
            parts.append(f' data-shots="{self.shots}"')
        return Markup("".join(parts))


@dataclass(frozen=True)
class Cell:
    """One cell: text to read, the value behind it for the CSV, and an optional drawing before the text."""

    text: str
    value: float | int | str | None = None
    drawing: Markup = NOTHING
    tone: str = ""
    note: str = ""
    kind: str = ""
    full: str = ""
    """The whole finding as a sentence, shown on request."""


@dataclass(frozen=True)
class Row:
    """One row of a table with its tags; a long table folds by ``group``, a finding in words."""

    cells: Sequence[Cell]
    tags: Tags = Tags()
    group: str = ""


@dataclass(frozen=True)
class Table:
    """A table: ``columns`` are headings with their units; the first column names the row.

    ``extra`` columns show on request. ``order`` is the column the rows are sorted by, largest first unless
    ``rising``; empty if the rows have another order, such as steps in time.
    """

    key: str
    caption: str
    columns: Sequence[str]
    rows: Sequence[Row]
    extra: frozenset[str] = frozenset()
    order: str = ""
    rising: bool = False
    opens: bool = False
    """Whether the first group of its rows lies open where a long table folds."""

    @property
    def boxes(self) -> bool:
        """True if a column draws intervals."""
        return any(cell.kind == "est" for row in self.rows[:1] for cell in row.cells)

    @property
    def narrow(self) -> bool:
        """True if it fits a phone as it is."""
        return len(self.columns) - len(self.extra) <= 3

    def look(self, column: str) -> str:
        """Classes of a column's heading: numbers stand right, what is on request is marked."""
        kind = self.rows[0].cells[self.columns.index(column)].kind if self.rows else ""
        parts = [kind] if kind in ("num", "who") else []
        return " ".join([*parts, "extra"] if column in self.extra else parts)


@dataclass(frozen=True)
class Legend:
    """One series of a chart in words, with the look of its line, or the name of its mark."""

    label: str
    look: int | str


@dataclass(frozen=True)
class Chart:
    """A drawing with the finding as its title, the unit, words for those who cannot see it, and its data."""

    key: str
    finding: str
    unit: str
    svg: Drawing | Markup
    alt: str
    table: Table
    tags: Tags = Tags()
    legend: Sequence[Legend] = field(default_factory=tuple)


@dataclass(frozen=True)
class Bit:
    """One answer in the line that stands for a bowler before anything is opened: about what, the answer, the rest."""

    label: str
    text: str
    note: str = ""
    tip: str = ""
    pattern: str = ""
    """The pattern class it is about, for the filter."""


@dataclass(frozen=True)
class Advice:
    """One thing to do in a short sentence: its gain in pins per game, how sure, on how many shots, pins per season."""

    sentence: str
    kind: str
    gain: Estimate
    probability: float
    shots: int
    pins: float
    link: str
    tags: Tags = Tags()
