"""One sheet of paper for one person: a strength, the one thing to practise, the trend, what to throw, one picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from pipeline.decisions.records import ArsenalTask, BowlerCard, PhaseAdvice, SkillEstimate
from pipeline.decisions.wording.focus import skill_name
from reports.context import ReportContext, pattern_order
from reports.html.components import Bit, Tags
from reports.style import wording
from reports.views import pictures, skills, students
from reports.views.advice import care, given_up
from reports.views.common import grouped

_CLEARLY = 0.8  # probability of being above the class from which a skill is called a strength
_BALLS = 3  # to care for, those with most pins per season


@dataclass(frozen=True)
class Trend:
    """How the skill to practise changed over the season, with its interval."""

    skill: str
    shown: str
    interval: str


@dataclass(frozen=True)
class Sheet:
    """What one sheet says; None or empty if nothing is known."""

    card: BowlerCard
    strength: str
    strength_sure: float | None
    focus: students.FocusCard | None
    trend: Trend | None
    throws: list[tuple[str, list[PhaseAdvice | None]]]
    balls: list[tuple[str, ArsenalTask]]
    acts: int
    """Balls that ask for care, of which the first are listed."""
    picture: pictures.Picture | None

    @property
    def digest(self) -> list[Bit]:
        """The sheet before it is opened: the strength, what to practise and its drill, and the ball to care for."""
        name, _, rest = self.strength.removesuffix(".").partition(": ")
        bits = [Bit("strength", *((name, rest) if (self.strength_sure or 0.0) >= _CLEARLY else ("none clear yet",)))]
        if self.focus is not None:
            gain = wording.signed(self.focus.focus.pins_if_class_best.mean)
            drill = f": {self.focus.short}" if self.focus.short else ""
            bits.append(Bit("practise", self.focus.name, f"{gain}{drill}"))
        return [*bits, *(Bit("ball care", *said.split(": ", 1)) for said, _ in self.balls[:1])]


def view(context: ReportContext) -> dict[str, Any]:
    """A sheet for each bowler, in the order of their names."""
    cards = {card.bowler: card for card in context.decisions.summary.bowlers}
    skills = grouped(context.decisions.skills, lambda item: item.bowler)
    focus = {card.focus.bowler: card for card in students.focus_cards(context)}
    lanes = pictures.lanes(context)
    return {
        "sheets": {
            bowler: _sheet(context, cards[bowler], skills.get(bowler, []), focus.get(bowler), lanes.get(bowler, {}))
            for bowler in context.bowlers
        }
    }


def _sheet(
    context: ReportContext,
    card: BowlerCard,
    skills: list[SkillEstimate],
    focus: students.FocusCard | None,
    lanes: dict[str, pictures.Picture],
) -> Sheet:
    best = max(skills, key=lambda item: item.p_above_average, default=None)
    practised = next((item for item in skills if focus and item.skill == focus.focus.skill), None)
    advice = [item for item in context.decisions.playbook if item.bowler == card.bowler]
    tasks = [item for item in context.decisions.arsenal_tasks if item.bowler == card.bowler]
    acts = [item for item in tasks if item.do in ("clean", "resurface", "retire")]
    benched = given_up(context.decisions.playbook)
    return Sheet(
        card,
        _strength(best),
        best.p_above_average if best else None,
        focus,
        _trend(practised),
        _throws(context, advice),
        [(_said(item, benched), item) for item in sorted(acts, key=lambda item: -item.pins_a_season)[:_BALLS]],
        len(acts),
        usual_lane(context, card.bowler, lanes),
    )


def _said(item: ArsenalTask, benched: set[str]) -> str:
    """What to do with a ball; only if it is still thrown, if the advice throws others in its place."""
    return f"{care(item)}, if you still throw it" if item.ball in benched else care(item)


def _strength(best: SkillEstimate | None) -> str:
    """The skill most surely above the class; that none clearly is, if none is likely enough."""
    if best is None:
        return "Not enough shots to name a strength."
    own, usual = skills.shown(best.value.mean, best.unit), skills.shown(best.class_average, best.unit)
    if best.p_above_average < _CLEARLY:
        nearest = f"{skill_name(best.skill)} comes nearest: {own} {best.unit}, the class {usual}"
        return f"None stands clear of the class yet; {nearest}."
    return f"{wording.sentence_case(skill_name(best.skill))}: {own} {best.unit}, the class {usual}."


def _trend(item: SkillEstimate | None) -> Trend | None:
    if item is None or item.progress is None:
        return None
    return Trend(
        item.skill, students.changed(item.progress.mean, item), skills.span(item.progress, item.unit, sign=True)
    )


def _throws(context: ReportContext, advice: list[PhaseAdvice]) -> list[tuple[str, list[PhaseAdvice | None]]]:
    """Pattern class and its advice by phase; None if nothing is advised."""
    by_pattern = grouped(advice, lambda item: item.pattern_class)
    throws: list[tuple[str, list[PhaseAdvice | None]]] = []
    for pattern in sorted(by_pattern, key=pattern_order):
        named = [item for item in by_pattern[pattern] if item.policy is not None]
        by_phase: dict[str, PhaseAdvice] = {item.phase: item for item in named}
        if by_phase:
            throws.append((pattern, [by_phase.get(phase) for phase in context.phases]))
    return throws


def usual_lane(context: ReportContext, bowler: str, lanes: dict[str, pictures.Picture]) -> pictures.Picture | None:
    """The lane of the pattern class the bowler threw most on."""
    shots: dict[str, int] = {}
    for item in context.decisions.paths:
        if item.bowler == bowler and item.pattern_class in lanes:
            shots[item.pattern_class] = shots.get(item.pattern_class, 0) + item.shots
    if not shots:
        return None
    return replace(lanes[max(shots, key=lambda pattern: shots[pattern])], tags=Tags())  # it stays, whatever is filtered
