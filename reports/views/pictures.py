"""Pictures before tables: the lane by phase, and which choice leads at each game."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from pipeline.decisions.records import BlockPlan, LanePath, PlanStep, TransitionCurve
from pipeline.decisions.wording.block_plan import games_of
from reports.context import ReportContext, pattern_order
from reports.html import lane, leads
from reports.html.components import Cell, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, tags

_FAINT = 4  # of the lines thrown, those thrown most
_SHOWN = 4  # choices in the picture of who leads
_FEWEST = 0.1  # a choice that is never this likely to lead is not drawn


@dataclass(frozen=True)
class Picture:
    """A drawing with its finding, words for those who cannot see it, and its values as a table."""

    key: str
    finding: str
    note: str
    svg: Markup
    alt: str
    table: Table
    tags: Tags
    kind: str


def lanes(context: ReportContext) -> dict[str, dict[str, Picture]]:
    """Bowler -> pattern class -> the lane by phase: what is advised strong, what was thrown faint."""
    paths = grouped(context.decisions.paths, lambda item: item.bowler)
    advised: dict[tuple[str, str, str], tuple[str, str]] = {
        (item.bowler, item.pattern_class, item.phase): (item.best.ball, item.best.line)
        for item in context.decisions.playbook
        if item.best is not None and item.verdict != "not enough shots"
    }
    found: dict[str, dict[str, Picture]] = {}
    for bowler in [known for known in context.bowlers if known in paths]:
        by_pattern = grouped(paths[bowler], lambda item: item.pattern_class)
        for pattern in sorted(by_pattern, key=pattern_order):
            by_phase = grouped(by_pattern[pattern], lambda item: item.phase)
            phases = [phase for phase in context.phases if phase in by_phase]
            best = {phase: advised.get((bowler, pattern, phase)) for phase in phases}
            if not any(best.values()):
                continue
            shown = {phase: _by_strength(by_phase[phase], best[phase]) for phase in phases}
            found.setdefault(bowler, {})[pattern] = _lane_picture(
                context, f"lane-{bowler}-{pattern}", bowler, pattern, shown
            )
    return found


Shown = dict[str, list[tuple[LanePath, bool]]]


def _by_strength(paths: list[LanePath], best: tuple[str, str] | None) -> list[tuple[LanePath, bool]]:
    order = sorted(paths, key=lambda item: -item.shots)
    strong = [(item, True) for item in order if (item.ball, item.line) == best]
    return strong + [(item, False) for item in order if (item.ball, item.line) != best][:_FAINT]


def _lane_picture(context: ReportContext, key: str, bowler: str, pattern: str, shown: Shown) -> Picture:
    drawn = [
        lane.Lane(_title(phase, mine), tuple(_path(item, strong) for item, strong in mine))
        for phase, mine in shown.items()
    ]
    rows = [_row(phase, item, strong) for phase, mine in shown.items() for item, strong in mine]
    columns = [
        "phase",
        "ball and line",
        "drawn",
        "foul line",
        "arrows",
        "breakpoint",
        "breakpoint, ft",
        "pins",
        "shots",
    ]
    finding = _lane_finding(pattern, shown)
    return Picture(
        key,
        finding,
        f"Strong: advised. Faint: thrown. Dashed: not logged. Width {lane.STRETCH:.0f} times as large as length.",
        lane.draw(drawn, context.hands.get(bowler) == "left"),
        f"Lane from above for {context.name(bowler)}, {pattern} pattern. {finding}. All boards are in the table below.",
        Table(f"{key}-data", f"{context.name(bowler)}, {pattern}: boards", columns, rows),
        tags(bowler, pattern),
        "lane",
    )


def _title(phase: str, mine: list[tuple[LanePath, bool]]) -> str:
    strong = [item for item, strong in mine if strong]
    return f"{phase}: {wording.shorten(strong[0].ball_name, 24)}, {strong[0].line}" if strong else phase


def _lane_finding(pattern: str, shown: Shown) -> str:
    """How far the advised line moves at the arrows from the first phase that has one to the last."""
    best = [item for mine in shown.values() for item, strong in mine if strong]
    head = wording.sentence_case(pattern)
    if not best:
        return f"{head}: no line is advised yet"
    moved = best[-1].arrow - best[0].arrow
    where = f"{head}: start over board {best[0].arrow:.0f} at the arrows"
    if len(best) < 2 or abs(moved) < 1:
        return f"{where} and stay"
    return f"{where}, end {abs(moved):.0f} boards {'inside' if moved > 0 else 'outside'}"


def _path(item: LanePath, strong: bool) -> lane.Path:
    boards = [
        ("foul line", item.laydown),
        ("arrows", item.arrow),
        ("breakpoint", item.breakpoint),
        ("pins", item.entry),
    ]
    told = ", ".join(f"{name} {board:.1f}" for name, board in boards if board is not None)
    tip = f"{item.ball_name}, {item.line}: {told}; {wording.shots(item.shots)}"
    return lane.Path(item.laydown, item.arrow, item.breakpoint, item.breakpoint_ft, item.entry, strong, tip)


def _row(phase: str, item: LanePath, strong: bool) -> Row:
    values = (item.laydown, item.arrow, item.breakpoint, item.breakpoint_ft, item.entry)
    boards = [common.number(v, f"{v:.1f}") if v is not None else Cell("not logged") for v in values]
    names = [common.text(phase), common.text(f"{item.ball_name}, {item.line}")]
    return Row([*names, common.text("strong" if strong else "faint"), *boards, common.shots_cell(item.shots)])


def plan_lane(context: ReportContext, plan: BlockPlan, place: int) -> Picture | None:
    """The lane of a plan: one drawing for each step, its line strong; None if no step's line was ever drawn there."""
    paths = [item for item in context.decisions.paths if item.bowler == plan.bowler]
    shown: Shown = {}
    for step in plan.steps:
        own = _path_of(step, plan.pattern_class, paths)
        if own is not None:
            shown[games_of(step)] = [(own, True)]
    return _lane_picture(context, f"lane-plan-{place}", plan.bowler, plan.pattern_class, shown) if shown else None


def _path_of(step: PlanStep, pattern: str, paths: list[LanePath]) -> LanePath | None:
    """The step's line as thrown most on the plan's own pattern class."""
    same = [p for p in paths if (p.ball, p.line, p.pattern_class) == (step.ball, step.line, pattern)]
    return max(same, key=lambda item: item.shots, default=None)


def lead_pictures(context: ReportContext) -> dict[str, list[Picture]]:
    """Bowler -> one picture for each pattern class: which choice leads at each game, and how surely."""
    along_games = [item for item in context.decisions.curves if item.axis == "games into the block" and item.points]
    by_bowler = grouped(along_games, lambda item: item.bowler)
    found: dict[str, list[Picture]] = {}
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        by_pattern = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        for pattern in sorted(by_pattern, key=pattern_order):
            curves = [item for item in by_pattern[pattern] if all(point.p_best is not None for point in item.points)]
            if len(curves) > 1:
                found.setdefault(bowler, []).append(_lead_picture(context, bowler, pattern, curves))
    return found


def _chances(curve: TransitionCurve) -> list[float]:
    return [point.p_best or 0.0 for point in curve.points]


def _lead_picture(context: ReportContext, bowler: str, pattern: str, curves: list[TransitionCurve]) -> Picture:
    order = sorted(curves, key=lambda item: -max(_chances(item)))
    drawn = [item for item in order[:_SHOWN] if max(_chances(item)) >= _FEWEST] or order[:1]
    names = [f"{wording.shorten(item.ball_name, 24)}, {item.line}" for item in drawn]
    counts = [sum(point.shots for point in item.points) for item in drawn]
    games = [point.x for point in drawn[0].points]
    chances = [_chances(item) for item in drawn]
    rows = [
        Row([common.text(name), *(common.number(p, wording.in_hundred(p)) for p in mine), common.shots_cell(shots)])
        for name, mine, shots in zip(names, chances, counts, strict=True)
    ]
    key = f"leads-{bowler}-{pattern}"
    finding = lead_finding(pattern, names, games, chances)
    return Picture(
        key,
        finding,
        "Area: chance of being best at that game, of the lines thrown most. Number: the leader's, in 100.",
        leads.draw(
            [f"{name} ({wording.shots(shots)})" for name, shots in zip(names, counts, strict=True)], games, chances
        ),
        f"Which ball and line leads at each game for {context.name(bowler)}, {pattern} pattern. {finding}."
        " All values are in the table below.",
        Table(
            f"{key}-data",
            f"{context.name(bowler)}, {pattern}: chance of being best",
            ["ball and line", *(f"game {game:g}" for game in games), "shots"],
            rows,
        ),
        tags(bowler, pattern),
        "leads",
    )


def lead_finding(pattern: str, names: list[str], games: list[float], chances: list[list[float]]) -> str:
    """Who leads first and last, and how surely."""
    top = leads.leaders(chances)
    first, last = top[0], top[-1]
    head = f"{wording.sentence_case(pattern)}: {names[first]} leads game {games[0]:g}"
    head += f" ({100 * chances[first][0]:.0f} in 100)"
    if first == last:
        return f"{head} and game {games[-1]:g} ({100 * chances[last][-1]:.0f})"
    since = next(game for place, game in enumerate(games) if all(row == last for row in top[place:]))
    return f"{head}, {names[last]} from game {since:g} ({100 * chances[last][-1]:.0f} at the end)"
