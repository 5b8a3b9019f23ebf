"""The set of reports: the file of each, its title and the question it answers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Report:
    """One file of the set."""

    slug: str
    title: str
    question: str

    @property
    def file(self) -> str:
        """The file's name."""
        return f"{self.slug}.html"


INDEX = Report("index", "Start here", "What should change first?")
REPORTS: tuple[Report, ...] = (
    Report("season", "Season review", "Which ball, from which line, on which pattern?"),
    Report("transition", "Transition", "What takes over as the pattern breaks down?"),
    Report("arsenal", "Arsenal", "Which ball to keep, clean, resurface or retire?"),
    Report("students", "Students", "Who is better at what, and what to practise?"),
    Report("person", "One sheet", "What do I take to practice, on one sheet of paper?"),
    Report("plan", "Block plan", "What to start with, and what to log next?"),
)
METHOD = Report("method", "Method", "How was this computed, and what can it not see?")
ALL: tuple[Report, ...] = (INDEX, *REPORTS, METHOD)
