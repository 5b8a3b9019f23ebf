"""What every page of one report shares: the decisions, names to show, the filter's choices and the scales."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from pipeline.decisions.records import PHASES, Decisions
from pipeline.everyone import EVERYONE
from reports.charts import figures
from reports.charts.queue import Pen
from reports.html import strips
from reports.style import wording

_SHORT = 18  # characters of a short name
_PATTERN_ORDER = ("short", "medium", "long", "unposted")


@dataclass(frozen=True)
class ReportContext:
    """Decisions with the look-ups that views need, and the pen that draws their charts."""

    decisions: Decisions
    pen: Pen

    @cached_property
    def names(self) -> dict[str, str]:
        """Bowler id -> name to show."""
        return {card.bowler: card.name for card in self.decisions.summary.bowlers}

    @cached_property
    def hands(self) -> dict[str, str]:
        """Bowler id -> right or left."""
        return {card.bowler: card.hand for card in self.decisions.summary.bowlers}

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
        classes = {item.pattern_class for item in self.decisions.combos}
        classes |= {item.pattern_class for item in self.decisions.playbook}
        classes |= {item.pattern_class for item in self.decisions.curves}
        return sorted(classes, key=pattern_order)

    @property
    def lengths(self) -> list[str]:
        """The pattern classes that have a length."""
        return [pattern for pattern in self.patterns if pattern != "unposted"]

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

    @cached_property
    def _first_words(self) -> dict[str, str]:
        words = {bowler: (name.split() or [name])[0] for bowler, name in self.names.items()}
        counts = Counter(words.values())
        return {bowler: word for bowler, word in words.items() if counts[word] == 1 and len(word) <= _SHORT}

    def short_name(self, bowler: str) -> str:
        """The first word of a name if nobody else's begins with it, else the name cut short."""
        return self._first_words.get(bowler) or wording.shorten(self.name(bowler), _SHORT)

    def ball(self, ball: str) -> str:
        """The name to show for a ball id."""
        return self.ball_names.get(ball, ball)


def pattern_order(pattern: str) -> tuple[int, str]:
    """Sorting key: short, medium, long, unposted, then anything else by name."""
    return (_PATTERN_ORDER.index(pattern) if pattern in _PATTERN_ORDER else len(_PATTERN_ORDER), pattern)
