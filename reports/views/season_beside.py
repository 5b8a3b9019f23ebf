"""Season review, this season beside the last: each number in both, the likely change, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.records import ReportPeriod, SeasonBeside
from pipeline.decisions.wording.focus import skill_name
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Cell, Row, Table
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, tags
from reports.views.ledger_words import PART_LABELS
from reports.views.skills import digits, shown, span

_COLUMNS = ["what", "last to this", "likely change (80 %)", "sure of it"]
_SURE = 0.8
_MOST = 3
"""Numbers shown at once beside the average, the surest; the rest shows on request."""


@dataclass(frozen=True)
class SeasonsOfBowler:
    """One bowler's two seasons: the average and what most surely changed, and the rest."""

    bowler: str
    digest: str
    changed: Table
    rest: Table


@dataclass(frozen=True)
class Seasons:
    """The season before and this one as a sentence names them; ``days`` are the nights of the one before."""

    last: str
    this: str
    days: str


def seasons(context: ReportContext) -> Seasons | None:
    """The two seasons set beside each other; None if there is no season before."""
    summary = context.decisions.summary
    if summary.period is None or summary.beside is None:
        return None
    return Seasons(
        summary.beside.season or _days(summary.beside),
        summary.period.season or _days(summary.period),
        _days(summary.beside),
    )


def _days(period: ReportPeriod) -> str:
    return f"{common.day(period.first)} to {common.day(period.last)}"


def people(context: ReportContext) -> list[SeasonsOfBowler]:
    """One entry per bowler with both seasons, in the order of their names."""
    by_bowler = grouped(context.decisions.season_beside, lambda item: item.bowler)
    return [_person(context, bowler, by_bowler[bowler]) for bowler in context.bowlers if bowler in by_bowler]


def _person(context: ReportContext, bowler: str, changes: list[SeasonBeside]) -> SeasonsOfBowler:
    sure = sorted((item for item in changes if item.probability >= _SURE), key=lambda item: -item.probability)
    named = sure[:_MOST]
    clear = [item for item in changes if item.kind == "average" or item in named]
    rest = [item for item in changes if item not in clear]
    scales = {
        unit: strips.scale_for([item.change for item in changes if item.unit == unit])
        for unit in ("pins", "%", "boards")
    }
    name = context.name(bowler)
    return SeasonsOfBowler(
        bowler,
        _digest(changes),
        _table(f"beside-{bowler}", f"{name}: pins per game", bowler, clear, scales),
        _table(f"beside-rest-{bowler}", f"{name}: everything else", bowler, rest, scales),
    )


def _digest(changes: list[SeasonBeside]) -> str:
    average = next((item for item in changes if item.kind == "average"), None)
    if average is None:
        return "too few complete games to compare averages"
    change = average.change
    both = f"{average.last:.0f} → {average.this:.0f}"
    if average.probability < _SURE:
        return f"{both}: no clear change"
    return f"{both}: likely {wording.signed(change.mean)} ({wording.interval(change)})"


def _table(key: str, caption: str, bowler: str, changes: list[SeasonBeside], scales: dict[str, strips.Scale]) -> Table:
    rows = [
        Row(
            [
                Cell(_label(item), item.ball_name or item.what, note=_behind(item)),
                Cell(_both(item), _both(item), kind="num"),
                _change(item, scales[item.unit]),
                common.chance(item.probability),
            ],
            tags(bowler, shots=min(item.shots_last, item.shots_this)),
        )
        for item in changes
    ]
    return Table(key, caption, _COLUMNS, rows)


def _label(item: SeasonBeside) -> str:
    if item.ball_name:
        return f"strikes with {item.ball_name}, %"
    label = PART_LABELS[item.what] if item.kind == "ledger part" else skill_name(item.what)
    return label if item.unit == "pins" else f"{label}, {item.unit}"


def _both(item: SeasonBeside) -> str:
    return f"{shown(item.last, item.unit)} → {shown(item.this, item.unit)}"


def _change(item: SeasonBeside, scale: strips.Scale) -> Cell:
    tip = strips.tip(item.change, item.unit, min(item.shots_last, item.shots_this), digits(item.unit))
    return Cell(
        shown(item.change.mean, item.unit, sign=True),
        item.change.mean,
        strips.strip(item.change, scale, tip, item.higher_is_better),
        note=span(item.change, item.unit, sign=True),
        kind="est",
    )


def _behind(item: SeasonBeside) -> str:
    pair = (item.games_last, item.games_this) if item.games_this else (item.shots_last, item.shots_this)
    unit = "games" if item.games_this else "shots"
    return f"{wording.count(pair[0])}, {wording.count(pair[1])} {unit}"
