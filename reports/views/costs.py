"""Season review, what costs most: one list in one currency, pins per season to win back."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.records import Estimate
from pipeline.decisions.wording.focus import skill_name
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Bit, Row, Table
from reports.style import wording
from reports.views import common
from reports.views.advice import SURE_ENOUGH, candidates
from reports.views.common import tags

MOST = 5
_NAMED = 2  # before anything is opened
LEAST = 0.1
"""Pins per game over all of a bowler's games below which a cost is not worth a row."""
_COLUMNS = ["to change", "to win back, pins per season (80 %)", "chance it gains", "shots"]


@dataclass(frozen=True)
class Cost:
    """One thing to change, with the pins per season it would win back."""

    bowler: str
    what: str
    pins: Estimate
    probability: float
    shots: int


@dataclass(frozen=True)
class PinCosts:
    """One bowler's list, the costliest first, and the first of it in words."""

    digest: list[Bit]
    table: Table


def people(context: ReportContext) -> dict[str, PinCosts]:
    """Bowler -> what costs most, who has most to win back first; everybody's strips are on one scale."""
    by_bowler = {
        bowler: sorted((item for item in _all(context) if item.bowler == bowler), key=lambda item: -item.pins.mean)
        for bowler in context.bowlers
    }
    scale = strips.scale_for([item.pins for items in by_bowler.values() for item in items[:MOST]])
    order = sorted(
        (bowler for bowler, items in by_bowler.items() if items), key=lambda who: -by_bowler[who][0].pins.mean
    )
    return {bowler: _costs(context, bowler, by_bowler[bowler][:MOST], scale) for bowler in order}


def _all(context: ReportContext) -> list[Cost]:
    """Skills below the class's best quarter, choices on the lanes and acts of care, each likely enough to gain."""
    games = {card.bowler: card.games for card in context.decisions.summary.bowlers}
    costs = [
        Cost(
            item.bowler,
            f"Practise {skill_name(item.skill)}",
            _times(item.pins_to_win_back, games[item.bowler]),
            item.p_win_back,
            item.shots,
        )
        for item in context.decisions.skills
        if item.pins_to_win_back is not None and item.p_win_back is not None and games.get(item.bowler)
    ]
    for item in candidates(context):
        if item.kind != "In practice" and item.gain.mean > 0 and games.get(item.tags.bowler):
            pins = _times(item.gain, item.pins / item.gain.mean)
            costs.append(Cost(item.tags.bowler, item.sentence, pins, item.probability, item.shots))
    return [item for item in costs if item.probability >= SURE_ENOUGH and item.pins.mean >= LEAST * games[item.bowler]]


def _tip(item: Cost) -> str:
    spread = wording.interval(item.pins, 0)
    return f"80 %: {spread} pins per season; {wording.in_hundred(item.probability)}; {wording.shots(item.shots)}"


def _times(gain: Estimate, games: float) -> Estimate:
    """Pins per game over so many games."""
    return Estimate(**{name: games * value for name, value in gain.model_dump().items()})


def _costs(context: ReportContext, bowler: str, items: list[Cost], scale: strips.Scale) -> PinCosts:
    rows = [
        Row(
            [
                common.text(item.what),
                common.signed(item.pins, scale, "pins per season", item.shots, digits=0),
                common.chance(item.probability),
                common.shots_cell(item.shots),
            ],
            tags(bowler, shots=item.shots),
        )
        for item in items
    ]
    digest = [Bit("", item.what, wording.signed(item.pins.mean, 0), _tip(item)) for item in items[:_NAMED]]
    caption = f"{context.name(bowler)}: what costs most"
    return PinCosts(digest, Table(f"costs-{bowler}", caption, _COLUMNS, rows, order=_COLUMNS[1]))
