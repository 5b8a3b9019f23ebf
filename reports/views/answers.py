"""The start page's index of answers: four questions of a bowler, each answered in a line that leads to its evidence."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from pipeline.decisions.records import ArsenalTask, CareOption, SkillEstimate
from pipeline.decisions.wording.ball_care import grit_in_words
from reports.context import ReportContext
from reports.html import strips
from reports.style import wording
from reports.views import first_ball, person, pictures, skills, students
from reports.views.advice import given_up
from reports.views.common import only, place
from reports.views.pictures import Picture
from reports.views.work_list import due_in_words

SPARES = "spares"
_MORE_BALLS = 2  # named after the first to resurface; the rest are counted


@dataclass(frozen=True)
class BallDue:
    """A ball to resurface: its task, the gain of it, the grit and by when in words, and where the evidence is."""

    task: ArsenalTask
    done: CareOption
    grit: str
    when: str
    benched: bool
    link: str


@dataclass(frozen=True)
class Place:
    """One bowler's place in the class at spares, with the value as shown and all that is known of it.

    ``over`` says how surely the bowler is better than the next in the order; empty for the last.
    """

    rank: int
    bowler: str
    name: str
    skill: SkillEstimate
    shown: str
    tip: str
    over: str


@dataclass(frozen=True)
class Answers:
    """What the four questions come to for one bowler; None or empty if the shots do not tell."""

    throws: dict[str, first_ball.FirstBall]
    due: BallDue | None
    then: list[BallDue]
    more: int
    balls: bool
    """Whether any ball of the bowler was judged."""
    practise: students.FocusCard | None
    practise_link: str
    spares: Place | None


@dataclass(frozen=True)
class SpareOrder:
    """Who makes most spares: everybody in order, who leads, and where the evidence is."""

    places: list[Place]
    leading: str
    """The first, or either of two that are too close to call."""
    link: str


@dataclass(frozen=True)
class Ranks:
    """Bowlers by what matters at each question, most first; those without an answer last."""

    throws: dict[str, list[str]]
    due: list[str]
    practise: list[str]


@dataclass(frozen=True)
class Index:
    """The answers of everybody, the pattern classes longest first, and the order at spares."""

    patterns: list[str]
    people: dict[str, Answers]
    order: SpareOrder
    lanes: dict[str, Picture]
    """Bowler -> the lane of the pattern class thrown most."""
    ranks: Ranks


def index(context: ReportContext) -> Index:
    """The four answers for every bowler, in the order of their names."""
    first = first_ball.at_a_glance(context)
    focus = {card.focus.bowler: card for card in students.focus_cards(context)}
    order = spare_order(context)
    benched = given_up(context.decisions.playbook)
    people = {}
    for bowler in context.bowlers:
        dues = _dues(context, bowler, benched)
        people[bowler] = Answers(
            {item.advice.pattern_class: item for item in first.get(bowler, [])},
            dues[0] if dues else None,
            dues[1 : 1 + _MORE_BALLS],
            max(0, len(dues) - 1 - _MORE_BALLS),
            any(item.bowler == bowler for item in context.decisions.arsenal_tasks),
            focus.get(bowler),
            f"students.html#{place('focus', bowler)}&{only(bowler)}",
            next((item for item in order.places if item.bowler == bowler), None),
        )
    drawn = pictures.lanes(context)
    lanes = {bowler: person.usual_lane(context, bowler, drawn.get(bowler, {})) for bowler in people}
    shown = {bowler: lane for bowler, lane in lanes.items() if lane is not None}
    patterns = list(reversed(context.lengths))
    return Index(patterns, people, order, shown, ranks(patterns, people))


def ranks(patterns: Sequence[str], people: Mapping[str, Answers]) -> Ranks:
    """Bowlers by gain over what is thrown now, by pins per season of the ball due, and by gain of the practice."""

    def most_first(gain: Callable[[Answers], float | None]) -> list[str]:
        known = {bowler: gain(mine) for bowler, mine in people.items()}
        return sorted(people, key=lambda bowler: math.inf if (pins := known[bowler]) is None else -pins)

    def over_now(pattern: str) -> Callable[[Answers], float | None]:
        return lambda mine: _gain_of(mine.throws.get(pattern))

    return Ranks(
        {pattern: most_first(over_now(pattern)) for pattern in patterns},
        most_first(lambda mine: mine.due.task.pins_a_season if mine.due else None),
        most_first(lambda mine: mine.practise.focus.pins_if_class_best.mean if mine.practise else None),
    )


def _gain_of(item: first_ball.FirstBall | None) -> float | None:
    """Pins per game over what is thrown now; zero for a choice with nothing to compare."""
    if item is None:
        return None
    now = item.advice.gain_over_now
    return 0.0 if now is None else now.gain.mean


def _dues(context: ReportContext, bowler: str, benched: set[str]) -> list[BallDue]:
    """The balls to resurface, most pins per season first; those that the advice no longer throws after the others."""
    tasks = [item for item in context.decisions.arsenal_tasks if item.bowler == bowler and item.do == "resurface"]
    return [
        BallDue(
            item,
            next(option for option in item.options if option.act == item.do),
            grit_in_words(item.grit),
            due_in_words(item.due),
            item.ball in benched,
            f"arsenal.html#{place('ball', bowler, item.ball)}&{only(bowler)}",
        )
        for item in sorted(tasks, key=lambda item: (item.ball in benched, -item.pins_a_season))
    ]


def spare_order(context: ReportContext) -> SpareOrder:
    """Everybody whose spares are known, the best first."""
    spares = [item for item in context.decisions.skills if item.skill == SPARES]
    ordered = skills.ordered(spares) if spares else []
    places = [_place(context, rank, ordered[rank - 1 :]) for rank in range(1, len(ordered) + 1)]
    names = [item.bowler for item in ordered]
    leading = skills.leading(context, names, skills.ahead(context, SPARES, ordered))
    return SpareOrder(places, leading, f"students.html#{place('skill', SPARES)}")


def _place(context: ReportContext, rank: int, behind: list[SkillEstimate]) -> Place:
    """``behind``: the bowler's own estimate, then those of everybody further down."""
    item = behind[0]
    return Place(
        rank,
        item.bowler,
        context.short_name(item.bowler),
        item,
        f"{skills.shown(item.value.mean, item.unit)}{wording.THIN}{item.unit}",
        strips.tip(item.value, item.unit, item.shots),
        skills.over(context.short_name(behind[1].bowler), skills.ahead(context, SPARES, behind))
        if len(behind) > 1
        else "",
    )


def spread(item: SkillEstimate) -> str:
    """The 80 % interval of a skill in its unit."""
    return skills.span(item.value, item.unit)
